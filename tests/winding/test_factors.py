"""Winding factors: closed forms of belts and shapes, and products against whole windings."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import CROSSED_SHAPES, NAMED_SHAPES
from fieldrun.winding.factors import ORDERS, belt_factor, end_copper_share, factors, fill
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import lengths

P = 8
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("zigzag", 0.060, 0.110, 3, None, 1, 0.005)
N = np.array(ORDERS)

UNIFORM_BELTS = {  # sin(n b/2) / (n b/2); the 0.955 and 0.827 of 60 and 120 degrees are textbook values (from memory)
    60: [0.9549296586, 0.6366197724, 0.1909859317, -0.1364185227],
    90: [0.9003163162, 0.3001054387, -0.1800632632, -0.1286166166],
    120: [0.8269933431, 0.0, -0.1653986686, 0.1181419062],
    180: [0.6366197724, -0.2122065908, 0.1273239545, -0.09094568177],
    240: [0.4134966716, 0.0, -0.08269933431, 0.05907095308],
    360: [0.0, 0.0, 0.0, 0.0],
}


@pytest.mark.parametrize(("degrees", "expected"), UNIFORM_BELTS.items())
def test_many_rounds_side_by_side_tend_to_the_uniform_belt(degrees: float, expected: list[float]) -> None:
    rounds = 100_000
    factor = belt_factor(rounds, math.radians(degrees) / rounds, N)
    np.testing.assert_allclose(factor, expected, atol=2e-9)


@pytest.mark.parametrize(("wires", "factor"), [(1, 1), (2, 0.9659258263), (3, 0.9597950805), (4, 0.9576621969)])
def test_few_slots_of_a_60_degree_belt(wires: int, factor: float) -> None:
    """sin(q g/2) / (q sin(g/2)) with g = 60 deg / q, the slot form of the distribution factor."""
    assert belt_factor(wires, math.radians(60) / wires, np.array([1]))[0] == pytest.approx(factor, rel=1e-9)


def test_the_belt_factor_is_the_closed_form_of_its_sum() -> None:
    rounds, step = 13, 0.11
    closed = np.sin(rounds * N * step / 2) / (rounds * np.sin(N * step / 2))
    np.testing.assert_allclose(belt_factor(rounds, step, N), closed, rtol=1e-12)


@pytest.mark.parametrize("start", [0.0, 0.4])
@pytest.mark.parametrize("leg", ["chord", "spiral"])
@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_shape_times_belt_is_what_the_whole_winding_gives(shape: str, leg: str, start: float) -> None:
    winding = replace(BASE, shape=shape, leg=leg, start_rad=start, span=0.9 if shape == "zigzag" else 1)
    found = factors(lay(winding, P, WIRE), winding, WIRE)
    np.testing.assert_allclose(found.belt_by_order * found.shape_by_order, found.total_by_order, atol=1e-12)


@pytest.mark.parametrize("shape", CROSSED_SHAPES)
def test_a_second_belt_adds_up_with_the_first(shape: str) -> None:
    single = replace(BASE, shape=shape, rounds=3)
    double = replace(single, rounds=6, belts=2)
    one, two = (factors(lay(w, P, WIRE), w, WIRE) for w in (single, double))
    np.testing.assert_allclose(two.total_by_order, one.total_by_order, atol=1e-12)


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_a_serpentine_is_the_reference_itself(leg: str) -> None:
    winding = replace(BASE, shape="serpentine", leg=leg, rounds=1, phases=1)
    np.testing.assert_allclose(factors(lay(winding, P, WIRE), winding, WIRE).total_by_order, 1, rtol=1e-12)


def test_fill_is_the_copper_of_the_legs_over_the_room_between_the_circles() -> None:
    winding = replace(BASE, shape="serpentine", layers=2)
    laid = lay(winding, P, WIRE)
    legs = 3 * laid.rounds_per_phase * 2 * P * 0.050
    room = math.pi * (0.110**2 - 0.060**2) * 2 * 0.86e-3
    assert fill(laid, WIRE) == pytest.approx(legs * math.pi / 4 * 0.8e-3**2 / room, rel=1e-12)


def test_fill_of_a_bundle_counts_every_strand_and_its_twist() -> None:
    litz = Wire("litz", 0.2e-3, 7, 0.86e-3, length_factor=1.02)
    laid = lay(BASE, P, litz)
    assert fill(laid, litz) / fill(laid, WIRE) == pytest.approx(7 * 0.2**2 * 1.02 / 0.8**2, rel=1e-12)


def test_end_share_of_a_serpentine_is_its_arcs() -> None:
    pieces = lay(replace(BASE, shape="serpentine", rounds=1, phases=1), P, WIRE).pieces
    arcs = math.pi * (0.060 + 0.110)
    assert end_copper_share(pieces) == pytest.approx(arcs / (arcs + 2 * P * 0.050), rel=1e-12)
    assert lengths(pieces).sum() == pytest.approx(arcs + 2 * P * 0.050, rel=1e-12)


def test_end_share_of_a_zigzag_is_its_vertical_steps() -> None:
    laid = lay(replace(BASE, rounds=1, phases=1), P, WIRE)
    whole = lengths(laid.pieces).sum()
    assert end_copper_share(laid.pieces) == pytest.approx(2 * P * 0.86e-3 / whole, rel=1e-9)


def test_a_belt_that_goes_all_the_way_round_cancels_itself_and_says_so() -> None:
    winding = replace(BASE, phases=1, belt_rad=2 * math.pi)
    found = factors(lay(winding, P, WIRE), winding, WIRE)
    assert abs(found.total) < 0.1
    assert found.warning is not None
    assert "its parts cancel each other" in found.warning
    assert "must repeat every two poles" in found.warning


def test_a_good_winding_is_not_warned_of() -> None:
    found = factors(lay(BASE, P, WIRE), BASE, WIRE)
    assert found.warning is None
    assert (found.belt, found.shape, found.total) == (
        found.belt_by_order[0],
        found.shape_by_order[0],
        found.total_by_order[0],
    )
