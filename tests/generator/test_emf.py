"""EMF of windings: symmetries, scaling, terminals, and the record that others read."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import CROSSED_SHAPES, NAMED_SHAPES
from fieldrun.field.field_map import FieldMap, uniform_map
from fieldrun.generator.emf import (
    ANGLES,
    emf_harmonics,
    emf_of,
    emf_per_speed,
    fundamental_only,
    waveform,
    working_share,
)
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import write_paths
from fieldrun.winding.pieces import LINE, Pieces, lengths, points_along
from fieldrun.winding.sampling import slopes_along

P = 8
TAU = math.pi / P
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("zigzag", 0.065, 0.105, 3, None, 1, 0.005)
TOP = 0.010


def hilly_map(orders: int = 6, skew: float = 0.3) -> FieldMap:
    """A map with everything in it: hills over the radius, a jump at 80 mm, growth towards the faces, radial field."""
    radii = np.concatenate([np.linspace(0.05, 0.08, 16), np.linspace(0.08, 0.12, 21)])
    heights = np.linspace(0, TOP, 7)
    n = 2 * np.arange(orders) + 1
    wave = n[:, None, None] * P / radii[None, :, None]
    hill = np.exp(-(((radii - 0.085) / 0.02) ** 2))[None, :, None] / n[:, None, None]
    axial = (
        0.6
        * hill
        * np.cosh(wave * (heights - TOP / 2))
        / np.cosh(wave * TOP / 2)
        * np.exp(1j * skew * (n - 1))[:, None, None]
    )
    axial[:, 16:] *= 1.2
    radial = 0.3 * axial * (heights - TOP / 2) / TOP
    return FieldMap(P, n, radii, heights, radial, 0 * axial, axial)


MAP = hilly_map()


def changed(pieces: Pieces, *, turn: float = 0.0, scale: float = 1.0, lift: float = 0.0) -> Pieces:
    factor, shift = np.array([scale, 1, scale]), np.array([0, turn, lift])
    return Pieces(pieces.kind, pieces.start * factor + shift, pieces.end * factor + shift, pieces.phase, pieces.loop)


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_turning_the_winding_turns_the_phase_of_every_harmonic(shape: str) -> None:
    pieces = lay(replace(BASE, shape=shape), P, WIRE).pieces
    here, there = emf_harmonics(MAP, pieces, 3), emf_harmonics(MAP, changed(pieces, turn=0.123), 3)
    np.testing.assert_allclose(there, here * np.exp(1j * MAP.orders * P * 0.123), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_a_mirrored_winding_run_backwards_has_the_mirrored_emf(shape: str) -> None:
    """Theta -> -theta, and the other way along the wire: for a field even in theta G_n becomes its conjugate."""
    even = hilly_map(skew=0)
    pieces = lay(replace(BASE, shape=shape, phases=1), P, WIRE).pieces
    mirror = np.array([1, -1, 1])
    mirrored = Pieces(pieces.kind, pieces.start * mirror, pieces.end * mirror, pieces.phase, pieces.loop)
    own = emf_harmonics(even, pieces, 1)
    np.testing.assert_allclose(emf_harmonics(even, mirrored, 1), np.conj(own), rtol=1e-10, atol=1e-13)
    backwards = Pieces(pieces.kind[::-1], pieces.end[::-1], pieces.start[::-1], pieces.phase, pieces.loop)
    np.testing.assert_allclose(emf_harmonics(even, backwards, 1), -own, rtol=1e-10, atol=1e-13)


def test_a_zigzag_is_its_own_mirror_image() -> None:
    """About the middle between its legs; the heights of its sides are swapped, which the map's symmetry undoes."""
    even = hilly_map(skew=0)
    flat = FieldMap(P, even.orders, even.radii_m, even.heights_m, 0 * even.b_r_t, even.b_theta_t, even.b_z_t)
    amplitudes = emf_harmonics(flat, lay(replace(BASE, phases=1), P, WIRE).pieces, 1)
    np.testing.assert_allclose(amplitudes.imag, 0, atol=1e-12 * np.abs(amplitudes).max())


def test_reversed_magnets_reverse_the_emf() -> None:
    turned_over = FieldMap(P, MAP.orders, MAP.radii_m, MAP.heights_m, -MAP.b_r_t, -MAP.b_theta_t, -MAP.b_z_t)
    pieces = lay(BASE, P, WIRE).pieces
    np.testing.assert_array_equal(emf_harmonics(turned_over, pieces, 3), -emf_harmonics(MAP, pieces, 3))


def test_turning_the_magnets_by_a_pole_pitch_is_reversing_them() -> None:
    pieces = lay(BASE, P, WIRE).pieces
    turned = emf_harmonics(MAP, changed(pieces, turn=-TAU), 3)
    np.testing.assert_allclose(turned, -emf_harmonics(MAP, pieces, 3), rtol=1e-10, atol=1e-13)


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_emf_grows_with_the_square_of_the_size(shape: str) -> None:
    pieces = lay(replace(BASE, shape=shape), P, WIRE).pieces
    large = FieldMap(P, MAP.orders, 3 * MAP.radii_m, 3 * MAP.heights_m, MAP.b_r_t, MAP.b_theta_t, MAP.b_z_t)
    np.testing.assert_allclose(
        emf_harmonics(large, changed(pieces, scale=3), 3), 9 * emf_harmonics(MAP, pieces, 3), rtol=1e-9, atol=1e-12
    )


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_the_span_of_a_zigzag_shrinks_to_the_serpentine(leg: str) -> None:
    """Both in one sheet, so that only the shape differs; the error falls with the square of the span."""
    errors = []
    for span in (0.1, 0.01):
        zigzag = lay(replace(BASE, leg=leg, span=span, rounds=1), P, WIRE).pieces
        flat = changed(Pieces(zigzag.kind, *level(zigzag), zigzag.phase, zigzag.loop))
        serpentine = lay(replace(BASE, shape="serpentine", leg=leg, rounds=1), P, WIRE).pieces
        other, own = emf_harmonics(MAP, serpentine, 3), emf_harmonics(MAP, flat, 3)
        errors.append(np.abs(own - other).max() / np.abs(other).max())
    assert errors[1] < 1e-4
    assert errors[1] == pytest.approx(errors[0] / 100, rel=0.05)


def level(pieces: Pieces) -> tuple[np.ndarray, np.ndarray]:
    return pieces.start * [1, 1, 0] + [0, 0, 0.005], pieces.end * [1, 1, 0] + [0, 0, 0.005]


def test_a_straight_rhomboid_of_full_span_is_the_serpentine() -> None:
    """Every wave of the serpentine is p turns of the rhomboid: the arcs between them cut no axial field."""
    rhomboid = lay(replace(BASE, shape="rhomboid", skew=0.0, span=1.0), P, WIRE)
    serpentine = lay(replace(BASE, shape="serpentine"), P, WIRE)
    assert rhomboid.rounds_per_phase == serpentine.rounds_per_phase
    np.testing.assert_allclose(
        emf_harmonics(MAP, rhomboid.pieces, 3), emf_harmonics(MAP, serpentine.pieces, 3), rtol=1e-9, atol=1e-12
    )


@pytest.mark.parametrize("shape", CROSSED_SHAPES)
def test_two_belts_of_one_field_line_up_in_a_field_that_ignores_height(shape: str) -> None:
    """Turned by tau and run backwards: odd harmonics add. Twice the rounds, twice the EMF."""
    field = uniform_map(P, [0.5, 0.1, 0.02], (0.05, 0.12), TOP)
    one = lay(replace(BASE, shape=shape, rounds=3), P, WIRE).pieces
    two = lay(replace(BASE, shape=shape, rounds=6, belts=2), P, WIRE).pieces
    np.testing.assert_allclose(emf_harmonics(field, two, 3), 2 * emf_harmonics(field, one, 3), rtol=1e-10, atol=1e-13)


def test_each_wire_counts_at_its_own_height() -> None:
    """The field grows towards the faces: the middle of the gap is the poorest place for a serpentine."""
    first = fundamental_only(MAP)
    by_height = [
        abs(emf_harmonics(first, lay(replace(BASE, shape="serpentine", rounds=1, height_m=z), P, WIRE).pieces, 3)[0, 0])
        for z in (0.003, 0.005, 0.007)
    ]
    assert by_height[0] == pytest.approx(by_height[2], rel=1e-9)
    assert by_height[0] > 1.01 * by_height[1]


def test_a_vertical_wire_cuts_the_radial_field() -> None:
    """One step up at 85 mm and one down at 95 mm, against the integral of r b_r dz in closed form."""
    radii, heights = np.linspace(0.05, 0.12, 8), np.linspace(0, TOP, 3)
    b_r = np.broadcast_to(0.2 * (radii / 0.1)[None, :, None], (1, 8, 3))
    field = FieldMap(P, np.array([1]), radii, heights, b_r, 0 * b_r, 0 * b_r)
    corner = np.array([[0.085, 0.1, 0.002], [0.085, 0.1, 0.007], [0.095, 0.1, 0.007], [0.095, 0.1, 0.002]])
    loop = Pieces(np.full(4, LINE), corner, np.roll(corner, -1, axis=0), np.zeros(4), np.zeros(4))
    expected = 0.2 / 0.1 * (0.085**2 - 0.095**2) * 0.005 * np.exp(1j * P * 0.1)
    assert emf_harmonics(field, loop, 1)[0, 0] == pytest.approx(expected, rel=1e-12)


def test_phases_of_a_plain_winding_differ_by_their_angle_only() -> None:
    found = emf_per_speed(MAP, lay(BASE, P, WIRE), BASE, WIRE)
    first, *others = found.phase_angle_rad
    for k, angle in enumerate(others, start=1):
        assert math.remainder(angle - first + k * 2 * math.pi / 3, 2 * math.pi) == pytest.approx(0, abs=1e-9)
    np.testing.assert_allclose(found.rms, found.rms[0], rtol=1e-9)


def test_two_phases_are_a_quarter_apart() -> None:
    winding = replace(BASE, phases=2)
    found = emf_per_speed(MAP, lay(winding, P, WIRE), winding, WIRE)
    lag = found.phase_angle_rad[1] - found.phase_angle_rad[0] + math.pi / 2
    assert math.remainder(lag, 2 * math.pi) == pytest.approx(0, abs=1e-9)


def test_waveform_is_the_sum_of_its_cosines() -> None:
    """The sum of |E_n| cos(n p alpha + phi_n), summed by hand, is the inverse FFT; and its rms by Parseval."""
    found = emf_per_speed(MAP, lay(BASE, P, WIRE), BASE, WIRE)
    assert found.waveform.shape == (3, ANGLES)
    assert found.rotor_angle_rad[1] == pytest.approx(2 * math.pi / P / ANGLES)
    wave = np.exp(-1j * P * np.outer(found.orders, found.rotor_angle_rad))
    np.testing.assert_allclose(found.waveform, (found.amplitudes @ wave).real, atol=1e-14)
    np.testing.assert_allclose(np.sqrt(np.mean(found.waveform**2, axis=1)), found.rms, rtol=1e-12)
    size, lead = np.abs(found.amplitudes[:, :1]), found.phase_angle_rad[:, None]
    fundamental = size * np.cos(P * found.rotor_angle_rad + lead)
    np.testing.assert_allclose(fundamental, (found.amplitudes[:, :1] @ wave[:1]).real, atol=1e-14)


def test_a_waveform_refuses_orders_it_cannot_tell_apart() -> None:
    with pytest.raises(ValueError, match="orders must stay below 64; received 65"):
        waveform(np.array([1, 65]), np.ones((1, 2), complex))


@pytest.mark.parametrize(
    ("connection", "line"),
    [("star", math.sqrt((3 + 0 + 3 * 0.04) / 2)), ("delta", math.sqrt((1 + 0.25 + 0.04) / 2)), ("separate", None)],
)
def test_line_voltage_by_connection(connection: str, line: float | None) -> None:
    """Amplitudes 1, 0.5, 0.2 of orders 1, 3, 5: the third cancels between lines of a star, root 3 for the others."""
    orders = np.array([1, 3, 5])
    turn = np.exp(1j * np.outer(np.arange(3) * 2 * np.pi / 3, orders))
    found = emf_of(P, orders, turn * [1, 0.5, 0.2], star=connection == "star")
    assert found.line_rms == pytest.approx(line or found.rms[0], rel=1e-12)
    assert found.thd_percent == pytest.approx(100 * math.sqrt(0.25 + 0.04), rel=1e-12)


def test_a_single_phase_has_no_line_but_itself() -> None:
    found = emf_of(P, np.array([1]), np.array([[2.0 + 0j]]), star=True)
    assert found.line_rms == found.rms[0] == pytest.approx(math.sqrt(2))
    assert found.thd_percent == 0


def test_no_fundamental_no_distortion() -> None:
    found = emf_of(P, np.array([1, 3]), np.array([[0j, 1 + 0j]]), star=False)
    assert (found.thd_percent, found.phase_angle_rad[0]) == (0, 0)


def test_parallel_groups_divide_and_strands_in_series_multiply() -> None:
    laid = lay(replace(BASE, rounds=6), P, WIRE)
    plain = emf_per_speed(MAP, laid, BASE, WIRE)
    joined = emf_per_speed(MAP, laid, replace(BASE, parallel=2), replace(WIRE, strands_in_series=7))
    np.testing.assert_allclose(joined.amplitudes, plain.amplitudes * 7 / 2, rtol=1e-14)
    by_pieces = emf_per_speed(MAP, laid.pieces, BASE, WIRE)
    np.testing.assert_array_equal(by_pieces.amplitudes, plain.amplitudes)


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_paths_that_a_run_writes_give_the_same_emf(tmp_path: Path, shape: str) -> None:
    laid = lay(replace(BASE, shape=shape, layers=2, start_rad=0.1), P, WIRE)
    write_paths(tmp_path / "paths.csv", laid.pieces)
    own = Winding("path", None, None, 3, None, 1, 0.0, file="paths.csv")
    here, there = emf_harmonics(MAP, laid.pieces, 3), emf_harmonics(MAP, lay(own, P, WIRE, tmp_path).pieces, 3)
    np.testing.assert_allclose(there, here, rtol=1e-9, atol=1e-12 * np.abs(here).max())


def test_a_pattern_that_repeats_every_pole_gives_exactly_nothing() -> None:
    """A wave of p pole pairs under a rotor of half as many poles: both its legs stand under equal poles."""
    field = uniform_map(P // 2, [0.5, 0.1, 0.02], (0.05, 0.12), TOP)
    pieces = lay(replace(BASE, shape="serpentine", phases=1, rounds=1), P // 2, WIRE).pieces
    crowded = lay(replace(BASE, shape="serpentine", phases=1, rounds=1), P, WIRE).pieces
    assert np.abs(emf_harmonics(field, pieces, 1)).min() > 0.0005
    np.testing.assert_array_equal(emf_harmonics(field, crowded, 1), 0)


def test_factors_say_what_the_integral_gives() -> None:
    """The winding factor is the EMF against that of radial legs in the same field: 2 p b r_m L per round."""
    field = uniform_map(P, [0.5, 0.1, 0.02, 0.03], (0.05, 0.12), TOP)
    for shape in NAMED_SHAPES:
        winding = replace(BASE, shape=shape)
        laid = lay(winding, P, WIRE)
        amplitude = np.abs(emf_harmonics(field, laid.pieces, 3)[0])
        reference = laid.rounds_per_phase * 2 * P * 0.085 * 0.040 * np.array([0.5, 0.1, 0.02, 0.03])
        np.testing.assert_allclose(
            amplitude / reference, np.abs(factors(laid, winding, WIRE).total_by_order), atol=1e-10
        )


def test_wire_outside_the_mapped_heights_is_refused() -> None:
    with pytest.raises(ValueError, match="outside the mapped"):
        emf_harmonics(MAP, lay(replace(BASE, height_m=0.0102), P, WIRE).pieces, 3)


def test_wire_outside_the_mapped_radii_cuts_nothing() -> None:
    """Legs that go on beyond the map's rim give what legs up to the rim give."""
    outside = lay(replace(BASE, shape="serpentine", inner_radius_m=0.03, outer_radius_m=0.15, rounds=1), P, WIRE)
    inside = lay(replace(BASE, shape="serpentine", inner_radius_m=0.05, outer_radius_m=0.12, rounds=1), P, WIRE)
    np.testing.assert_allclose(
        emf_harmonics(MAP, outside.pieces, 3), emf_harmonics(MAP, inside.pieces, 3), rtol=1e-10, atol=1e-13
    )


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_working_share_adds_up_to_the_fundamental(shape: str) -> None:
    pieces = lay(replace(BASE, shape=shape), P, WIRE).pieces
    node, weight = np.polynomial.legendre.leggauss(160)
    fraction = (1 + node) / 2
    share = working_share(MAP, pieces, 3, fraction)
    points = np.broadcast_to(fraction, (pieces.count, len(fraction)))
    slope, radius = slopes_along(pieces, points), points_along(pieces, points)[:, :, 0]
    path = np.sqrt(slope[:, :, 0] ** 2 + (radius * slope[:, :, 1]) ** 2 + slope[:, :, 2] ** 2)
    np.testing.assert_allclose((path * weight / 2).sum(axis=1), lengths(pieces), rtol=1e-9)
    per_phase = np.bincount(pieces.phase, (share * path * weight / 2).sum(axis=1))
    np.testing.assert_allclose(per_phase, np.abs(emf_harmonics(MAP, pieces, 3)[:, 0]), rtol=1e-3)


def test_working_share_of_radial_legs_is_all_of_the_field_where_they_pass_its_crest() -> None:
    """Lone radial legs: v x B in phase with the whole is r b_1; arcs idle."""
    field = uniform_map(P, [0.5], (0.05, 0.12), TOP)
    pieces = lay(replace(BASE, shape="serpentine", phases=1, rounds=1), P, WIRE).pieces
    share = working_share(field, pieces, 1, np.array([0.25, 0.5, 0.75]))
    legs = pieces.kind == LINE
    radius = points_along(pieces, np.broadcast_to([0.25, 0.5, 0.75], (pieces.count, 3)))[:, :, 0]
    np.testing.assert_allclose(share[legs], 0.5 * radius[legs], rtol=1e-12)
    np.testing.assert_allclose(share[~legs], 0, atol=1e-15)


def test_some_wire_of_a_belt_that_goes_round_works_against_the_rest() -> None:
    winding = replace(BASE, shape="zigzag", phases=1, belt_rad=1.8 * math.pi)
    share = working_share(MAP, lay(winding, P, WIRE).pieces, 1, np.array([0.5]))
    assert share.min() < -0.1 * share.max() < 0


def test_no_fundamental_no_share() -> None:
    field = uniform_map(P // 2, [0.5], (0.05, 0.12), TOP)
    crowded = lay(replace(BASE, shape="serpentine", phases=1, rounds=1), P, WIRE).pieces
    np.testing.assert_array_equal(working_share(field, crowded, 1, np.array([0.5])), 0)


def test_an_emf_cannot_be_changed() -> None:
    found = emf_per_speed(MAP, lay(BASE, P, WIRE), BASE, WIRE)
    with pytest.raises(ValueError, match="read-only"):
        found.amplitudes[0, 0] = 0
