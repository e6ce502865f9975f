"""The exact kernel against magpylib's whole magnets, the laws of Maxwell and of scale, and its flat limits."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.reference.closed_forms import block_face, one_face_in_air, one_face_on_iron
from fieldrun.reference.end_effects import spread_map
from fieldrun.reference.ring_kernel import ring_kernel_map
from fieldrun.reference.shares import covered_share

IDEAL = Plate(None)
GAP = 0.009
DISC = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
BLOCK = replace(DISC, outline=Block(0.024, 0.014, 0.066))
ARC = replace(DISC, outline=Arc(0.054, 0.078, 0.7), count=10)
SHAPES = {"disc": DISC, "block": BLOCK, "arc": ARC}
FACE = Rotor(1, None, None, None, 0.0, 0.1)
ROTORS = {
    "face": FACE,
    "face on steel": replace(FACE, backing=IDEAL),
    "face on steel, plate": replace(FACE, gap_m=GAP, backing=IDEAL, return_plate=IDEAL),
    "face, plate": replace(FACE, gap_m=GAP, return_plate=IDEAL),
    "two faces": replace(FACE, faces=2, gap_m=GAP),
    "two faces on steel": replace(FACE, faces=2, gap_m=GAP, backing=IDEAL),
}
ORDERS = range(1, 32, 2)
RADII = np.linspace(0.045, 0.09, 10)
HEIGHTS = np.array([0.001, 0.003, 0.006])


def stacked(found: FieldMap) -> np.ndarray:
    return np.stack([found.b_r_t, found.b_theta_t, found.b_z_t])


def cylindrical(field: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """(k, 3) Cartesian to (3, k) B_r, B_theta, B_z."""
    (x, y, z), cosine, sine = field.T, np.cos(theta), np.sin(theta)
    return np.stack([cosine * x + sine * y, cosine * y - sine * x, z])


def placed(r: np.ndarray, theta: np.ndarray, z: np.ndarray) -> np.ndarray:
    return np.stack([r * np.cos(theta), r * np.sin(theta), z], axis=1)


@pytest.mark.parametrize("machine", ROTORS)
@pytest.mark.parametrize("shape", SHAPES)
def test_points_in_the_gap(machine: str, shape: str, whole_magnets: Callable[..., np.ndarray]) -> None:
    magnets, rotor = SHAPES[shape], ROTORS[machine]
    count = 4 if shape == "arc" else 12
    rng = np.random.default_rng(7)
    radii, theta = np.sort(rng.uniform(0.050, 0.084, count)), rng.uniform(0, 2 * math.pi, count)
    height = 0.0045
    exact = cylindrical(whole_magnets(magnets, rotor, placed(radii, theta, np.full(count, height))), theta)
    found = field_at(ring_kernel_map(magnets, rotor, radii, [height, height + 1e-3], ORDERS), radii, theta, height)
    np.testing.assert_allclose(found, exact, atol=1e-5 * 0.3)


@pytest.mark.parametrize("shape", ["disc", "block"])
@pytest.mark.parametrize("radius", [0.0559, 0.0561, 0.066, 0.0759, 0.0761])
def test_close_to_a_face(shape: str, radius: float, whole_magnets: Callable[..., np.ndarray]) -> None:
    """0.02 thicknesses above it, over the magnets' edges and their middle: harmonics of 512 points over a pole."""
    magnets, height = SHAPES[shape], 0.02 * 0.006
    theta = math.pi / 8 * (np.arange(512) + 0.5) / 512
    points = placed(np.full(512, radius), theta, np.full(512, height))
    radial, around, axial = cylindrical(whole_magnets(magnets, FACE, points), theta)
    found = ring_kernel_map(magnets, FACE, [radius], [height], [1, 3, 7, 15])
    for i, n in enumerate(found.orders):
        cosine, sine = 2 * np.cos(8 * n * theta) / 512, 2 * np.sin(8 * n * theta) / 512
        expected = np.array([radial @ cosine, -1j * (around @ sine), axial @ cosine])
        np.testing.assert_allclose(stacked(found)[:, i, 0, 0], expected, atol=1e-7)


@pytest.mark.parametrize("machine", ROTORS)
def test_no_flux_begins_or_ends_in_the_gap(machine: str) -> None:
    """Div B = 0 and curl B = 0 of every harmonic, by differences over 20 um."""
    step, n = 2e-5, np.array([1, 3, 5])
    for r in (0.0565, 0.066, 0.077):
        found = ring_kernel_map(BLOCK, ROTORS[machine], r + step * np.arange(-1, 2), 0.003 + step * np.arange(-1, 2), n)
        b_r, b_theta, b_z = stacked(found)
        around = 1j * 8 * n / r
        mid = [component[:, 1, 1] for component in (b_r, b_theta, b_z)]
        slopes = np.array([b_r[:, 2, 1] - b_r[:, 0, 1], b_z[:, 1, 2] - b_z[:, 1, 0]]) / (2 * step)
        np.testing.assert_allclose(mid[0] / r + slopes[0] + around * mid[1] + slopes[1], 0, atol=5e-3)
        np.testing.assert_allclose(around * mid[2], (b_theta[:, 1, 2] - b_theta[:, 1, 0]) / (2 * step), atol=5e-3)
        turned = (b_r[:, 1, 2] - b_r[:, 1, 0] - b_z[:, 2, 1] + b_z[:, 0, 1]) / (2 * step)
        np.testing.assert_allclose(turned, 0, atol=5e-3)


@pytest.mark.parametrize("shape", SHAPES)
def test_field_depends_on_proportions_only(shape: str) -> None:
    magnets, rotor = SHAPES[shape], ROTORS["two faces on steel"]
    small = ring_kernel_map(magnets, rotor, RADII, HEIGHTS, [1, 5])
    outline = replace(magnets.outline, **{k: 3 * v for k, v in vars(magnets.outline).items() if k != "share"})
    large_magnets = replace(magnets, outline=outline, thickness_m=3 * magnets.thickness_m)
    large = ring_kernel_map(large_magnets, replace(rotor, gap_m=3 * GAP), 3 * RADII, 3 * HEIGHTS, [1, 5])
    np.testing.assert_allclose(stacked(large), stacked(small), atol=1e-9)


def test_field_is_proportional_to_remanence() -> None:
    one = ring_kernel_map(DISC, FACE, RADII, HEIGHTS, [1, 3])
    other = ring_kernel_map(replace(DISC, remanence_t=0.39), FACE, RADII, HEIGHTS, [1, 3])
    np.testing.assert_allclose(stacked(other), 0.3 * stacked(one), rtol=1e-13)


@pytest.mark.parametrize("machine", ["two faces", "two faces on steel"])
@pytest.mark.parametrize("shape", SHAPES)
def test_between_two_faces_the_middle_is_a_mirror(machine: str, shape: str) -> None:
    heights = GAP / 2 + 0.002 * np.array([-1, 0, 1])
    b_r, b_theta, b_z = stacked(ring_kernel_map(SHAPES[shape], ROTORS[machine], RADII, heights, [1, 3, 5]))
    np.testing.assert_allclose(b_z[:, :, 2], b_z[:, :, 0], atol=1e-9)
    for along in (b_r, b_theta):
        np.testing.assert_allclose(along[:, :, 1], 0, atol=1e-9)
        np.testing.assert_allclose(along[:, :, 2], -along[:, :, 0], atol=1e-9)


@pytest.mark.parametrize("machine", ["face, plate", "face on steel, plate"])
def test_flux_enters_a_plate_at_right_angles(machine: str) -> None:
    b_r, b_theta, b_z = stacked(ring_kernel_map(DISC, ROTORS[machine], RADII, [GAP - 1e-9], [1, 3]))
    assert np.abs(b_z).max() > 0.05
    np.testing.assert_allclose(np.stack([b_r, b_theta]), 0, atol=1e-6)


def test_a_plate_in_the_middle_of_two_faces_changes_nothing() -> None:
    plated = ring_kernel_map(DISC, replace(ROTORS["face, plate"], gap_m=GAP / 2), RADII, [0.002], [1, 3])
    facing = ring_kernel_map(DISC, ROTORS["two faces"], RADII, [0.002], [1, 3])
    np.testing.assert_allclose(stacked(plated), stacked(facing), atol=1e-12)


def test_a_backing_is_a_magnet_of_twice_the_thickness() -> None:
    backed = ring_kernel_map(DISC, ROTORS["face on steel"], RADII, HEIGHTS, [1, 3])
    thick = ring_kernel_map(replace(DISC, thickness_m=0.012), FACE, RADII, HEIGHTS, [1, 3])
    np.testing.assert_allclose(stacked(backed), stacked(thick), atol=1e-9)


def test_plates_far_away_leave_the_field_in_peace() -> None:
    """Exp(-2 k g) of a plate at 10 pole pitches."""
    far = replace(ROTORS["face, plate"], gap_m=0.26)
    np.testing.assert_allclose(
        stacked(ring_kernel_map(DISC, far, RADII, HEIGHTS, [1])),
        stacked(ring_kernel_map(DISC, FACE, RADII, HEIGHTS, [1])),
        atol=1e-7,
    )


@pytest.mark.parametrize(("machine", "formula"), [("face", one_face_in_air), ("face on steel", one_face_on_iron)])
def test_many_long_arcs_are_a_flat_array(machine: str, formula: Callable[..., np.ndarray]) -> None:
    """2000 poles, 20 pitches long: in their middle only the curvature, of the order 1 / p^2, is left."""
    pitch = 0.005
    middle = 2000 * pitch / (2 * math.pi)
    long = Magnets(Arc(middle - 0.05, middle + 0.05, 0.7), 2000, 0.002, 1.3, 1.0, 7500.0)
    found = ring_kernel_map(long, ROTORS[machine], [middle], [0.001], [1, 3, 5])
    expected = formula(block_face([1, 3, 5], pitch, 1.3, 0.7, (0.002, 1.0)), 0.001)
    np.testing.assert_allclose(found.b_z_t[:, 0, 0].real, expected, rtol=1e-5)


def flat_slices(magnets: Magnets, radii: np.ndarray, heights: np.ndarray) -> FieldMap:
    """Slices without a mesh: at every radius the flat array of magnets of that radius' width, in air."""
    pitches = math.pi * radii / magnets.pole_pairs
    faces = [
        block_face([1], tau, 1.3, covered_share(magnets, r), (0.006, 1.0))
        for r, tau in zip(radii, pitches, strict=True)
    ]
    b_z = np.array([[[one_face_in_air(face, z)[0] for z in heights] for face in faces]])
    return FieldMap(magnets.pole_pairs, np.array([1]), radii, heights, 0 * b_z, 0 * b_z, b_z)


def test_for_many_poles_the_flat_kernel_is_exact() -> None:
    """The K1 kernel's slab is flat: against it the exact one shows the curvature, which fades like 1 / p."""
    misses, heights = [], np.linspace(0.002, 0.006, 5)
    for poles in (16, 64, 256):
        middle = 0.066 * poles / 16
        magnets = replace(ARC, outline=Arc(middle - 0.012, middle + 0.012, 0.7), count=poles)
        slices = flat_slices(magnets, np.linspace(middle - 0.012, middle + 0.012, 33), heights)
        radii = middle + np.linspace(-0.018, 0.018, 13)
        spread = spread_map(slices, magnets, FACE, radii, heights).b_z_t.real
        exact = ring_kernel_map(magnets, FACE, radii, heights, [1]).b_z_t.real
        misses.append(np.abs(spread - exact).max() / exact.max())
    assert misses[0] < 0.01
    assert misses[2] < misses[0] / 12


REFUSED = {
    "halbach": (replace(BLOCK, pattern="halbach", segments_per_pole=2), FACE, "magnets along z only"),
    "recoil": (replace(DISC, recoil_permeability=1.05), FACE, "recoil permeability 1 only; received 1.05"),
    "backing": (DISC, replace(FACE, backing=Plate(SteelCurve("s", (0.0, 1.0), (0.0, 99.0)), 0.005)), "real steel"),
    "plate": (
        DISC,
        replace(FACE, gap_m=GAP, return_plate=Plate(SteelCurve("s", (0.0, 1.0), (0.0, 99.0)), 0.005)),
        "real steel",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_would_come_out_wrong_is_refused(case: str) -> None:
    magnets, rotor, text = REFUSED[case]
    with pytest.raises(ValueError, match=text):
        ring_kernel_map(magnets, rotor, RADII, HEIGHTS, [1])


@pytest.mark.parametrize("height", [-0.001, 0.0, GAP, 0.02])
def test_heights_on_a_face_or_in_a_magnet_are_refused(height: float) -> None:
    with pytest.raises(ValueError, match=r"between the faces, 0\.\.0\.009 m, and not on them"):
        ring_kernel_map(DISC, ROTORS["two faces"], RADII, [height], [1])
