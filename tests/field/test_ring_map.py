"""The map of the rings: Maxwell's laws in the gap, mirrors, images and superposition."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import FieldMap, Name, amplitudes_at, component_at, radial_weights
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_map import AirGap, _combined, _shares, _slopes, air_gap
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_system import RingSystem, ring_system
from fieldrun.field.rings import solve_linear
from fieldrun.field.slices import OPEN_REACH
from tests.rings import ring_map

GAP = 0.009
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, 0.066))
ARCS = replace(DISCS, outline=Arc(0.056, 0.076, 0.7), count=10)
HALBACH = replace(DISCS, outline=Block(0.022, 0.010, 0.066), pattern="halbach", segments_per_pole=2)
SHAPES = {"discs": DISCS, "blocks": BLOCKS, "arcs": ARCS, "halbach": HALBACH}
ALONG_Z = {name: SHAPES[name] for name in ("discs", "blocks", "arcs")}
IDEAL = Plate(None)
OPEN = Rotor(1, None, None, None, 0.05, 0.085)
FACING = replace(OPEN, faces=2, gap_m=GAP)
BACKED = replace(FACING, backing=IDEAL)
PLATE = replace(OPEN, gap_m=GAP, return_plate=IDEAL)
RADII = np.array([0.051, 0.0535, 0.0588, 0.0625, 0.066, 0.0702, 0.0737, 0.0787, 0.0815])
"""Over the magnets and their fringes, more than 2 mm off their ends."""


def spread(field_map: FieldMap, radii: ArrayLike, heights: ArrayLike, orders: int = 8) -> Complexes:
    """(3, n, r, z) amplitudes at every pair of radius and height."""
    r, z = np.meshgrid(radii, heights, indexing="ij")
    found = amplitudes_at(field_map, r.ravel(), z.ravel())[:, :orders]
    return found.reshape(3, -1, *r.shape)


def first(field_map: FieldMap) -> float:
    """Largest B_z of the fundamental 4.5 mm above the magnets [T]."""
    return float(np.abs(spread(field_map, RADII, [0.0045])[2, 0]).max())


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("rotor", [FACING, BACKED], ids=["facing", "backed"])
def test_between_two_faces_the_middle_is_a_mirror(rotor: Rotor, shape: str) -> None:
    found = ring_map(replace(SHAPES[shape], recoil_permeability=1.05), rotor)
    middle = len(found.heights_m) // 2
    assert found.heights_m[middle] == pytest.approx(GAP / 2)
    np.testing.assert_allclose(found.b_z_t[:, :, ::-1], found.b_z_t, atol=1e-12)
    for along in (found.b_r_t, found.b_theta_t):
        np.testing.assert_allclose(along[:, :, ::-1], -along, atol=1e-12)
        assert np.abs(along[:, :, middle]).max() < 1e-12
        assert np.abs(along).max() > 0.05


@pytest.mark.parametrize("backing", [None, IDEAL])
@pytest.mark.parametrize("shape", SHAPES)
def test_flux_enters_an_ideal_plate_at_right_angles(shape: str, backing: Plate | None) -> None:
    found = ring_map(SHAPES[shape], replace(PLATE, backing=backing))
    assert np.abs(found.b_z_t[0, :, -1]).max() > 0.1
    for along in (found.b_r_t, found.b_theta_t):
        assert np.abs(along[:, :, -1]).max() < 1e-12


@pytest.mark.parametrize("shape", SHAPES)
def test_a_plate_in_the_middle_of_two_faces_changes_nothing(shape: str) -> None:
    """A plate at g is the middle of two faces 2 g apart, to the last digit; their maps hold other heights."""
    magnets = replace(SHAPES[shape], recoil_permeability=1.1)
    orders, heights = np.array([1, 3, 5]), np.array([0.0, 0.0002, 0.001, 0.004, GAP])
    found = []
    for rotor in (PLATE, replace(FACING, gap_m=2 * GAP)):
        system = ring_system(magnets, ring_mesh(magnets, rotor, RingDensity()), orders)
        found.append(at_heights(system, air_gap(system, solve_linear(system)), heights))
    for plated, facing in zip(*found, strict=True):
        np.testing.assert_allclose(plated, facing, atol=1e-10 * np.abs(facing).max())
    plated_map, facing_map = ring_map(magnets, PLATE), ring_map(magnets, replace(FACING, gap_m=2 * GAP))
    inside = np.array([0.003, 0.0045, 0.008])
    difference = spread(plated_map, RADII, inside) - spread(facing_map, RADII, inside)
    assert np.abs(difference).max() < 2e-4 * first(facing_map)


@pytest.mark.parametrize("shape", ALONG_Z)
def test_two_faces_are_two_single_ones(shape: str) -> None:
    """Recoil permeability 1: the far face's field comes from above, its B_z the same, its B_r and B_theta turned."""
    magnets = SHAPES[shape]
    single, both = ring_map(magnets, OPEN), ring_map(magnets, FACING)
    heights = np.array([0.0015, 0.003, 0.0045, 0.0075])
    turned = np.array([-1, -1, 1])[:, None, None, None]
    summed = spread(single, RADII, heights) + turned * spread(single, RADII, GAP - heights)
    difference = np.abs(spread(both, RADII, heights) - summed)
    assert difference.max() < 1e-3 * first(both)


@pytest.mark.parametrize("shape", ALONG_Z)
def test_an_ideal_backing_is_a_magnet_of_twice_the_thickness(shape: str) -> None:
    """Its mirror image below it, recoil permeability 1."""
    backed = ring_map(SHAPES[shape], replace(OPEN, backing=IDEAL))
    thick = ring_map(replace(SHAPES[shape], thickness_m=0.012), OPEN)
    heights = np.array([0.0015, 0.004, 0.008, 0.015])
    difference = np.abs(spread(backed, RADII, heights) - spread(thick, RADII, heights))
    assert difference.max() < 1e-3 * first(thick)


def test_mirrored_halbach_bodies_on_iron() -> None:
    """Along the motion an image's remanence is turned round: on iron under its weak side the array lets the field down.

    The mirror leaves twice the part along z and takes the part along the motion away for long waves; so the strong
    side loses against a free array.
    """
    free, backed = (first(ring_map(HALBACH, rotor)) for rotor in (OPEN, replace(OPEN, backing=IDEAL)))
    assert backed < 1.05 * free
    assert first(ring_map(DISCS, replace(OPEN, backing=IDEAL))) > 1.3 * first(ring_map(DISCS, OPEN))


@pytest.mark.parametrize("rotor", [OPEN, FACING, BACKED, PLATE], ids=["open", "facing", "backed", "plate"])
@pytest.mark.parametrize("shape", SHAPES)
def test_no_flux_begins_or_ends_in_the_gap(shape: str, rotor: Rotor) -> None:
    """Div B = 0 and curl B = 0 of harmonics 1, 3 and 5, by differences over 0.2 mm, to 1 % of the fundamental's slope.

    The middle of the gap, where a winding lies, off the magnets' ends.
    """
    magnets = replace(SHAPES[shape], recoil_permeability=1.05)
    field_map, step = ring_map(magnets, rotor), 1e-4
    p, orders = magnets.pole_pairs, np.array([1, 3, 5])
    for radius in (0.0535, 0.0620, 0.0660, 0.0702, 0.0787):
        radii, heights = radius + step * np.arange(-1, 2), 0.0045 + step * np.arange(-1, 2)
        b_r, b_theta, b_z = spread(field_map, radii, heights, 3)
        around = 1j * p * orders / radius
        slope_r = [(b[:, 2, 1] - b[:, 0, 1]) / (2 * step) for b in (b_r, b_theta, b_z)]
        slope_z = [(b[:, 1, 2] - b[:, 1, 0]) / (2 * step) for b in (b_r, b_theta, b_z)]
        here = [b[:, 1, 1] for b in (b_r, b_theta, b_z)]
        largest = p / 0.066 * first(field_map)
        divergence = slope_r[0] + here[0] / radius + around * here[1] + slope_z[2]
        curls = (
            around * here[2] - slope_z[1],
            slope_z[0] - slope_r[2],
            slope_r[1] + here[1] / radius - around * here[0],
        )
        for value in (divergence, *curls):
            assert np.abs(value).max() < 0.01 * largest


@pytest.mark.parametrize("shape", SHAPES)
def test_above_an_open_face_the_field_dies_out(shape: str) -> None:
    """Every doubling of the height takes more away than the one before; above the map as in it, and no jump between."""
    field_map = ring_map(SHAPES[shape], OPEN)
    assert field_map.open_above
    top = float(field_map.heights_m[-1])
    sizes = np.abs(spread(field_map, np.array([0.066]), top * np.array([0.1, 0.2, 0.4, 0.8, 1.0, 1.6, 3.2]))[2, 0, 0])
    assert np.all(np.diff(sizes) < 0)
    assert sizes[-1] < 1e-4 * sizes[0]
    edge = spread(field_map, RADII, top * np.array([1 - 1e-6, 1 + 1e-6]))
    np.testing.assert_allclose(edge[..., 0], edge[..., 1], atol=1e-5 * sizes[0])


@pytest.mark.parametrize("shape", SHAPES)
def test_far_from_the_ring_there_is_nothing(shape: str) -> None:
    field_map = ring_map(SHAPES[shape], FACING)
    size = first(field_map)
    for i in (0, -1):
        assert np.abs(field_map.b_z_t[:, i]).max() < 1e-3 * size
    assert field_map.radii_m[0] < 0.04
    assert field_map.radii_m[-1] > 0.1


def at_heights(system: RingSystem, gap: AirGap, heights_m: Floats) -> tuple[Floats, Floats]:
    """Potential [A] and its slope over height [A/m] as the map takes them, each (n, r, heights)."""
    value, slope = _shares(gap.lines_m.tobytes(), heights_m.tobytes())
    return _combined(system.air, gap, value), _combined(system.air, gap, slope)


def line_slopes(system: RingSystem, gap: AirGap) -> Floats:
    """Slopes over height on the mesh lines, (n, r, lines) [A/m]."""
    return _slopes(system.air, gap, np.eye(len(gap.lines_m)))


def coarse_system(rotor: Rotor = FACING) -> RingSystem:
    return ring_system(BLOCKS, ring_mesh(BLOCKS, rotor, RingDensity().coarser(2)), np.array([1, 3]))


@pytest.mark.parametrize("rotor", [OPEN, FACING, PLATE], ids=["open", "facing", "plate"])
def test_an_even_slope_over_the_height_is_read_exactly(rotor: Rotor) -> None:
    """Phi = R(r) (3 + 40 z), zero at both ends of the radii; without waves and radial slopes it has no sources."""
    system = coarse_system(rotor)
    air = replace(system.air, turns=0 * system.air.turns, slopes=0 * system.air.slopes)
    z, r = system.mesh.axial.nodes_m, system.mesh.radial.nodes_m
    hill = (r - r[0]) * (r[-1] - r)
    straight = 3 + 40 * z
    gap = system.mesh.gap
    lines = system.mesh.axial.vertices_m[gap.first : gap.end + 1]
    asked = np.linspace(lines[0], min(lines[-1], 0.02), 33)
    still = replace(system, air=air)
    phi = np.broadcast_to(np.outer(hill, straight), system.sources.shape).copy()
    np.testing.assert_allclose(
        line_slopes(still, air_gap(still, phi)), 40 * np.broadcast_to(hill[:, None], (2, len(r), len(lines)))
    )
    value, slope = at_heights(still, air_gap(still, phi), asked)
    np.testing.assert_allclose(value, np.broadcast_to(np.outer(hill, 3 + 40 * asked), value.shape), rtol=1e-9)
    np.testing.assert_allclose(slope, np.broadcast_to(np.outer(hill, 40 + 0 * asked), value.shape), rtol=1e-7)


def test_on_the_lines_the_potential_is_the_mesh_s_own() -> None:
    system = coarse_system()
    rng = np.random.default_rng(4)
    phi = rng.normal(size=system.sources.shape)
    gap = system.mesh.gap
    value, slope = at_heights(system, air_gap(system, phi), system.mesh.axial.vertices_m[gap.first : gap.end + 1])
    np.testing.assert_allclose(value, phi[:, :, gap.nodes][:, :, ::2], atol=1e-12)
    np.testing.assert_allclose(
        slope, line_slopes(system, air_gap(system, phi)), rtol=1e-9, atol=1e-9 * np.abs(slope).max()
    )
    middles = system.mesh.axial.nodes_m[gap.nodes][1::2]
    np.testing.assert_allclose(
        at_heights(system, air_gap(system, phi), middles)[0], phi[:, :, gap.nodes][:, :, 1::2], atol=1e-9
    )


def test_what_the_map_holds() -> None:
    for rotor in (OPEN, FACING):
        found = ring_map(ARCS, rotor)
        assert found.pole_pairs == 5
        assert found.orders.tolist() == list(range(1, 2 * len(found.orders), 2))
        assert found.heights_m[0] == 0
        top = rotor.gap_m or OPEN_REACH * math.pi * mean_radius_m(ARCS) / ARCS.pole_pairs
        assert found.heights_m[-1] == pytest.approx(top, rel=1e-12)
        steps = np.diff(found.heights_m)
        assert steps.min() > 0
        assert steps[0] == pytest.approx(steps.min())  # closest together where the field is steepest
        assert np.all(np.diff(found.radii_m) > 0)
        assert found.open_above == (rotor is OPEN)
        for amplitude in (found.b_r_t, found.b_theta_t, found.b_z_t):
            assert amplitude.shape == (len(found.orders), len(found.radii_m), len(found.heights_m))
            with pytest.raises(ValueError, match="read-only"):
                amplitude[0] = 0
        # cosines along r and z, sines along theta
        assert not np.any(found.b_r_t.imag)
        assert not np.any(found.b_z_t.imag)
        assert not np.any(found.b_theta_t.real)


def test_field_under_a_north_pole_points_up_and_drives_flux_to_the_next() -> None:
    """B_z > 0 at theta = 0 over magnet 0, and towards the south pole on either side of it above the face."""
    found = spread(ring_map(DISCS, OPEN), np.array([0.066]), np.array([0.003]))[:, 0, 0, 0]
    assert found[2].real > 0.1
    assert (found[1] * 1j).real > 0.1  # Re(-j b exp(j p theta)) = b sin(p theta) along the motion
    assert found[1].imag < 0
    assert 0 < abs(found[0]) < 0.1 * abs(found[2])


@pytest.mark.parametrize("name", ["b_r_t", "b_theta_t", "b_z_t"])
@pytest.mark.parametrize("rotor", [OPEN, FACING, PLATE], ids=["open", "facing", "plate"])
def test_a_few_heights_are_what_the_whole_map_says_there(rotor: Rotor, name: Name) -> None:
    """Before and after the whole is made; over all radii or summed over them, above an open map's end too."""
    lazy, made = (ring_map(BLOCKS, rotor, RingDensity().coarser(3)) for _ in range(2))
    whole = getattr(made, name)
    arrays = replace(made)  # a map of plain arrays
    assert isinstance(vars(arrays)[name], np.ndarray)
    top = lazy.heights_m[-1]
    heights = np.array([0.0, 0.0013, 0.6 * top, top, *([1.1 * top] if lazy.open_above else [])])
    weights = radial_weights(lazy.radii_m, np.array([0.058, 0.071]))
    for orders in (None, 3):
        for radii in (None, weights, np.eye(len(lazy.radii_m))):
            found = component_at(lazy, name, heights, orders, radii)
            plain = component_at(arrays, name, heights, orders, radii)
            np.testing.assert_allclose(found, plain, atol=1e-11 * np.abs(whole).max())
    np.testing.assert_array_equal(component_at(lazy, name, heights), component_at(made, name, heights))
    assert not getattr(lazy, name).flags.writeable


def test_a_height_outside_is_refused_before_anything_is_made() -> None:
    found = ring_map(BLOCKS, FACING, RingDensity().coarser(3))
    with pytest.raises(ValueError, match="outside the mapped"):
        component_at(found, "b_z_t", np.array([GAP + 1e-4]))
