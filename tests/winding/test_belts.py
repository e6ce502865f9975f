"""The step from round to round and the belts: closed forms, and the design's table of available belts."""

import math
from dataclasses import replace

import pytest

from fieldrun.design.model import Winding
from fieldrun.design.stack import CROSSED_SHAPES, FLAT_SHAPES
from fieldrun.winding.belts import (
    allowed_belt_rad,
    available_belt_rad,
    rounds_that_fit,
    step_rad,
    tightest_radius_m,
)
from fieldrun.winding.turn import turn_edges

P = 8
TAU = math.pi / P
R1, R2 = 0.060, 0.110
BASE = Winding("zigzag", R1, R2, 1, None, 1, 0.005)

AVAILABLE = [
    *[(shape, 1, *row) for shape in FLAT_SHAPES for row in ((1, 180), (2, 90), (3, 60))],
    *[(shape, 1, *row) for shape in CROSSED_SHAPES for row in ((1, 360), (2, 90), (3, 120))],
    *[(shape, 2, *row) for shape in CROSSED_SHAPES for row in ((1, 180), (2, 90), (3, 60))],
]


def available_deg(winding: Winding) -> float:
    return math.degrees(available_belt_rad(winding, turn_edges(winding, P), P))


@pytest.mark.parametrize(("shape", "belts", "phases", "degrees"), AVAILABLE)
def test_available_belts(shape: str, belts: int, phases: int, degrees: float) -> None:
    winding = replace(BASE, shape=shape, belts=belts, phases=phases)
    assert available_deg(winding) == pytest.approx(degrees, rel=1e-12)


def test_the_start_of_a_winding_does_not_change_its_belt() -> None:
    assert available_deg(replace(BASE, phases=3, start_rad=0.3)) == pytest.approx(120)


@pytest.mark.parametrize(("span", "phases", "degrees"), [(2 / 3, 3, 0), (0.9, 3, 42), (0.5, 2, 0), (0.5, 1, 90)])
def test_a_narrow_rhomboid_has_less_room_for_its_return_legs_lie_among_the_next_phases(
    span: float, phases: int, degrees: float
) -> None:
    # legs at 90 -+ 90 span electrical degrees, repeated by the phases: the nearest two are this far apart
    assert available_deg(replace(BASE, shape="rhomboid", span=span, phases=phases)) == pytest.approx(degrees, abs=1e-9)


def test_a_second_belt_of_a_serpentine_has_no_room_at_all() -> None:
    assert available_deg(replace(BASE, shape="serpentine", belts=2)) == 0


def test_radial_legs_are_tightest_at_the_inner_radius() -> None:
    assert tightest_radius_m(turn_edges(replace(BASE, shape="serpentine"), P)) == pytest.approx(R1, rel=1e-14)


def test_a_chord_is_tightest_at_its_inner_end_measured_from_its_foot() -> None:
    foot = R1 * R2 * math.sin(TAU) / math.sqrt(R1**2 + R2**2 - 2 * R1 * R2 * math.cos(TAU))
    assert tightest_radius_m(turn_edges(BASE, P)) == pytest.approx(math.sqrt(R1**2 - foot**2), rel=1e-12)


def test_a_spiral_is_tightest_by_its_inclination_at_the_inner_end() -> None:
    slope = R1 * TAU / (R2 - R1)
    edges = turn_edges(replace(BASE, leg="spiral"), P)
    assert tightest_radius_m(edges) == pytest.approx(R1 / math.hypot(1, slope), rel=1e-12)


def test_wires_touch_at_the_tightest_radius() -> None:
    step = step_rad(0.8e-3, 0.050)
    assert 2 * 0.050 * math.sin(step / 2) == pytest.approx(0.8e-3, rel=1e-14)


def test_a_wire_thicker_than_the_way_round_takes_half_a_turn() -> None:
    assert step_rad(0.2, 0.05) == math.pi


def test_a_belt_of_whole_steps_holds_them_all_in_spite_of_rounding() -> None:
    step = step_rad(0.8e-3, 0.060)
    for rounds in range(1, 200):
        assert rounds_that_fit(rounds * step * P, P, step) == rounds
        assert rounds_that_fit(rounds * step * P * (1 - 1e-6), P, step) == rounds - 1


def test_fill_stops_at_120_degrees_unless_told_otherwise() -> None:
    assert math.degrees(allowed_belt_rad(BASE, 2 * math.pi)) == pytest.approx(120)
    assert allowed_belt_rad(replace(BASE, belt_rad=3.0), 2 * math.pi) == 3.0
    assert allowed_belt_rad(BASE, math.pi / 3) == math.pi / 3
