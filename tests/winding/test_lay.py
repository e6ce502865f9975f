"""A winding laid out: loops closed, phases turned, sheets, belts and rounds where the design says."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import CROSSED_SHAPES, NAMED_SHAPES
from fieldrun.winding.belts import available_belt_rad
from fieldrun.winding.factors import at_ends
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import Pieces, lengths, points_along
from fieldrun.winding.turn import turn_edges

P = 8
TAU = math.pi / P
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("zigzag", 0.060, 0.110, 3, None, 2, 0.0050, leg="chord")


def cartesian(point: np.ndarray) -> np.ndarray:
    return np.stack([point[..., 0] * np.cos(point[..., 1]), point[..., 0] * np.sin(point[..., 1]), point[..., 2]], -1)


def loops_of(pieces: Pieces) -> list[np.ndarray]:
    return [np.flatnonzero(pieces.loop == loop) for loop in range(pieces.loop.max() + 1)]


@pytest.mark.parametrize("leg", ["chord", "spiral"])
@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_every_loop_is_closed_piece_by_piece(shape: str, leg: str) -> None:
    pieces = lay(replace(BASE, shape=shape, leg=leg, span=0.8 if shape == "zigzag" else 1), P, WIRE).pieces
    for loop in loops_of(pieces):
        start, end = pieces.start[loop], pieces.end[loop]
        np.testing.assert_allclose(end[:-1], start[1:], atol=1e-14)
        np.testing.assert_allclose(cartesian(end[-1]), cartesian(start[0]), atol=1e-14)
        assert len(set(pieces.phase[loop])) == 1


@pytest.mark.parametrize(
    ("shape", "loops_per_round"), [("serpentine", 1), ("zigzag", 1), ("rhomboid", P), ("diamond", P), ("hexagon", P)]
)
def test_waves_close_after_the_ring_and_turns_in_their_own_pole_pair(shape: str, loops_per_round: int) -> None:
    laid = lay(replace(BASE, shape=shape), P, WIRE)
    assert laid.pieces.loop.max() + 1 == 3 * laid.rounds_per_phase * loops_per_round


@pytest.mark.parametrize(("phases", "electrical"), [(2, math.pi / 2), (3, 2 * math.pi / 3)])
def test_phases_are_copies_turned_by_their_electrical_angle(phases: int, electrical: float) -> None:
    pieces = lay(replace(BASE, phases=phases), P, WIRE).pieces
    first = pieces.start[pieces.phase == 0]
    for k in range(1, phases):
        turned = pieces.start[pieces.phase == k] - first
        np.testing.assert_allclose(turned[:, 1], k * electrical / P, atol=1e-13)
        np.testing.assert_allclose(turned[:, [0, 2]], 0, atol=0)


def test_start_turns_everything() -> None:
    plain, turned = lay(BASE, P, WIRE).pieces, lay(replace(BASE, start_rad=0.123), P, WIRE).pieces
    np.testing.assert_allclose(turned.start - plain.start, np.full_like(plain.start, 0.123) * [0, 1, 0], atol=1e-14)


def test_rounds_are_centred_on_the_belt_and_a_step_apart() -> None:
    laid = lay(replace(BASE, layers=1, phases=1, shape="serpentine"), P, WIRE)
    per_round = 4 * P
    angle = laid.pieces.start[::per_round, 1]
    assert len(angle) == laid.rounds_per_group
    np.testing.assert_allclose(np.diff(angle), laid.step_rad, rtol=1e-12)
    assert angle.mean() == pytest.approx(0, abs=1e-15)


def test_outward_sides_lie_in_the_upper_sheet_of_each_layer() -> None:
    laid = lay(BASE, P, WIRE)
    d = WIRE.overall_diameter_m
    assert laid.sheets == 4
    np.testing.assert_allclose(laid.sheet_heights_m, 0.005 + d * np.array([-1.5, -0.5, 0.5, 1.5]), rtol=1e-14)
    legs = ~at_ends(laid.pieces)
    outward = laid.pieces.end[legs, 0] > laid.pieces.start[legs, 0]
    height = laid.pieces.start[legs, 2]
    np.testing.assert_array_equal(height, laid.pieces.end[legs, 2])
    assert set(height[outward]) == {laid.sheet_heights_m[1], laid.sheet_heights_m[3]}
    assert set(height[~outward]) == {laid.sheet_heights_m[0], laid.sheet_heights_m[2]}


@pytest.mark.parametrize("shape", ["diamond", "hexagon"])
def test_a_whole_side_of_a_diamond_stays_in_its_sheet(shape: str) -> None:
    laid = lay(replace(BASE, shape=shape, layers=1, phases=1, rounds=1), P, WIRE)
    legs = ~at_ends(laid.pieces)
    middle = points_along(laid.pieces, np.full((laid.pieces.count, 1), 0.5))[:, 0]
    # the outward side of turn k lies before its middle at tau/2 + 2 k tau
    before = np.mod(middle[:, 1], 2 * TAU) < TAU / 2
    np.testing.assert_array_equal(middle[legs & before, 2], laid.sheet_heights_m[1])
    np.testing.assert_array_equal(middle[legs & ~before, 2], laid.sheet_heights_m[0])


@pytest.mark.parametrize("shape", ["serpentine", "rhomboid"])
def test_flat_lay_has_one_sheet_per_layer(shape: str) -> None:
    laid = lay(replace(BASE, shape=shape, layers=3), P, WIRE)
    assert laid.sheets == 3
    assert laid.thickness_m == pytest.approx(3 * WIRE.overall_diameter_m)
    np.testing.assert_array_equal(laid.pieces.start[:, 2], laid.pieces.end[:, 2])


def test_a_wrapped_winding_leaves_the_former_between_its_sheets() -> None:
    laid = lay(replace(BASE, layers=1, former_in_gap_m=0.003), P, WIRE)
    d = WIRE.overall_diameter_m
    np.testing.assert_allclose(laid.sheet_heights_m, 0.005 + np.array([-1, 1]) * (d + 0.003) / 2, rtol=1e-14)
    assert laid.thickness_m == pytest.approx(2 * d + 0.003)


@pytest.mark.parametrize("shape", CROSSED_SHAPES)
def test_a_second_belt_is_the_first_one_a_pole_pitch_on_and_run_backwards(shape: str) -> None:
    winding = replace(BASE, shape=shape, layers=1, phases=1, rounds=2, belts=2, span=0.7)
    pieces = lay(winding, P, WIRE).pieces
    half, turned = pieces.count // 2, np.array([0, TAU, 0])
    np.testing.assert_allclose(pieces.start[half:], pieces.end[:half][::-1] + turned, atol=1e-14)
    np.testing.assert_allclose(pieces.end[half:], pieces.start[:half][::-1] + turned, atol=1e-14)


def test_both_belts_keep_sides_of_one_form_in_one_sheet() -> None:
    pieces = lay(replace(BASE, belts=2, layers=1), P, WIRE).pieces
    legs = ~at_ends(pieces)
    lean = (pieces.end - pieces.start)[legs]
    for height in set(pieces.start[legs, 2]):
        here = pieces.start[legs, 2] == height
        assert len(set(np.sign(lean[here, 0] * lean[here, 1]))) == 1


@pytest.mark.parametrize(("belts", "layers", "phases"), [(1, 1, 1), (1, 3, 3), (2, 2, 3), (2, 1, 2)])
def test_rounds_per_phase_are_groups_times_belts_times_layers(belts: int, layers: int, phases: int) -> None:
    winding = replace(BASE, belts=belts, layers=layers, phases=phases)
    laid, available = lay(winding, P, WIRE), available_belt_rad(winding, turn_edges(winding, P), P)
    assert laid.rounds_per_phase == laid.rounds_per_group * belts * layers
    assert laid.belt_rad == pytest.approx(laid.rounds_per_group * P * laid.step_rad)
    assert laid.belt_rad <= available
    assert laid.belt_rad + P * laid.step_rad > min(available, 2 * math.pi / 3)


def test_asked_rounds_are_laid_as_asked() -> None:
    laid = lay(replace(BASE, rounds=8), P, WIRE)
    assert (laid.rounds_per_phase, laid.rounds_per_group) == (8, 4)
    assert laid.belt_rad == pytest.approx(4 * P * laid.step_rad)


def test_the_rim_is_what_one_group_covers_of_the_inner_circle() -> None:
    laid = lay(replace(BASE, shape="serpentine"), P, WIRE)
    assert laid.rim_m_per_phase == pytest.approx(laid.rounds_per_group * laid.step_rad * 0.060)
    # radial legs side by side at r1: the chord from wire to wire is one diameter
    assert laid.rim_m_per_phase == pytest.approx(laid.rounds_per_group * WIRE.overall_diameter_m, rel=1e-4)


def test_three_phases_of_a_full_crossed_lay_fill_each_sheet_once() -> None:
    laid = lay(replace(BASE, layers=1), P, WIRE)
    assert 3 * laid.belt_rad <= 2 * math.pi + 1e-12
    assert 3 * (laid.belt_rad + P * laid.step_rad) > 2 * math.pi


def test_mirror_image_of_a_wave_is_the_wave_run_the_other_way() -> None:
    """Theta -> tau - theta maps a zigzag's outward legs on its inward ones: equal lengths, equal radii."""
    pieces = lay(replace(BASE, layers=1, phases=1, rounds=1, span=0.6), P, WIRE).pieces
    out, back = pieces.start[0], pieces.end[2]
    assert out[0] == back[0]
    assert TAU - out[1] == pytest.approx(back[1])
    assert lengths(pieces)[0] == pytest.approx(lengths(pieces)[2], rel=1e-14)


def test_a_lay_cannot_be_changed() -> None:
    laid = lay(BASE, P, WIRE)
    with pytest.raises(ValueError, match="read-only"):
        laid.pieces.start[0, 0] = 1
    with pytest.raises(ValueError, match="read-only"):
        laid.sheet_heights_m[0] = 1


def test_what_cannot_be_laid_is_refused_with_every_reason() -> None:
    with pytest.raises(DesignError, match="inner end") as caught:
        lay(replace(BASE, shape="zigzag"), 2, WIRE)
    assert caught.value.faults[0].key == "winding.inner_radius_mm"
