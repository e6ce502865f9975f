"""Wires passing a circle: places, directions and slants against plane geometry."""

import math

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.winding.crossings import crossings
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces

WIRE = Wire("solid", 0.0005, 1, 0.000544)


def one(kind: int, start: tuple[float, float, float], end: tuple[float, float, float]) -> Pieces:
    return Pieces(np.array([kind]), np.array([start]), np.array([end]), np.array([1]), np.array([0]))


def test_a_radial_leg_passes_at_its_own_angle_and_is_as_wide_as_the_wire() -> None:
    found = crossings(one(LINE, (0.05, 0.3, 0.002), (0.08, 0.3, 0.004)), 0.065)
    assert found.theta_rad == pytest.approx([0.3])
    assert found.height_m == pytest.approx([0.003])
    assert found.slant == pytest.approx([1.0])
    assert (list(found.outwards), list(found.phase)) == ([1], [1])


def test_a_spiral_is_linear_in_radius_and_angle() -> None:
    found = crossings(one(SPIRAL, (0.08, 0.1, 0.0), (0.05, 0.4, 0.003)), 0.06)
    assert found.theta_rad == pytest.approx([0.3])
    assert found.height_m == pytest.approx([0.002])
    assert list(found.outwards) == [0]
    assert found.slant == pytest.approx([math.hypot(1, 0.06 * 0.3 / 0.03)])


def test_a_straight_leg_passes_where_the_line_does() -> None:
    """A chord at distance f from the axis meets the circle R at acos(f / R) from its foot, slanted by 1 / sin of it."""
    foot, near, far, R = 0.03, 0.2, 1.1, 0.05
    start, end = (foot / math.cos(near), near, 0.0), (foot / math.cos(far), far, 0.0)
    found = crossings(one(LINE, start, end), R)
    assert found.theta_rad == pytest.approx([math.acos(foot / R)])
    # along the radius it moves by sin(angle from the foot) of its length
    assert found.slant == pytest.approx([1 / math.sin(math.acos(foot / R))], rel=1e-6)


def test_arcs_and_pieces_on_one_side_are_not_cut() -> None:
    assert len(crossings(one(ARC, (0.05, 0.0, 0.0), (0.05, 1.0, 0.0)), 0.05).phase) == 0
    assert len(crossings(one(LINE, (0.05, 0.0, 0.0), (0.06, 0.0, 0.0)), 0.07).phase) == 0


@pytest.mark.parametrize(("shape", "legs"), [("serpentine", 2), ("zigzag", 2), ("rhomboid", 2), ("diamond", 2)])
def test_every_round_passes_twice_per_pole_pair(shape: str, legs: int) -> None:
    winding = Winding(shape, 0.054, 0.078, 3, 4, 1, 0.0045)  # type: ignore[arg-type]  # a name from the list above
    found = crossings(lay(winding, 8, WIRE).pieces, 0.06)
    assert len(found.theta_rad) == legs * 8 * 4 * 3
    assert np.sum(found.outwards) == len(found.outwards) / 2
    assert list(np.bincount(found.phase)) == [legs * 8 * 4] * 3
    assert found.slant.min() >= 1
