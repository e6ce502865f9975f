"""Steps over half a period: whole, in order, with weights that make means."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.generator.load.angle_grid import NARROW, PARTS, SMOOTH, divided_grid, rough_grid, wide_steps

WIDE = 12


def flags(*places, speeds=1):
    found = np.zeros((WIDE, speeds), dtype=bool)
    for step, speed in places:
        found[step, speed] = True
    return found


def check(grid):
    """Stages rise to exactly half a period, weights are what lies between, and means of polynomials are right."""
    angle, weight = grid.angle_rad, grid.weight
    assert np.all(np.diff(angle, axis=0) > 0)
    assert angle[0].min() > 0
    assert angle[-1] == pytest.approx(np.pi)
    assert weight.sum(axis=0) == pytest.approx(1)
    assert (weight * angle).sum(axis=0) == pytest.approx(np.pi / 2, rel=0.05)


def test_rough_steps():
    grid = rough_grid(WIDE, 3)
    check(grid)
    assert grid.angle_rad.shape == (2 * WIDE, 3)
    assert grid.angle_rad[:, 0] == pytest.approx(np.pi * np.arange(1, 2 * WIDE + 1) / (2 * WIDE))


def test_smooth_steps_are_right_to_second_order():
    grid = divided_grid(WIDE, flags(speeds=2))
    check(grid)
    assert np.all(grid.kind == SMOOTH)
    assert (grid.weight * grid.angle_rad).sum(axis=0) == pytest.approx(np.pi / 2, rel=1e-12)


def test_every_speed_has_as_many_steps_and_neighbours_fill_up():
    grid = divided_grid(WIDE, flags((3, 0), (7, 0), (0, 1), speeds=2))
    check(grid)
    assert grid.kind.shape == (WIDE + 4 * (PARTS - 1), 2)
    for speed, wanted in ((0, {3, 7}), (1, {0, 1, WIDE - 1})):
        divided = set(grid.origin[grid.kind[:, speed] == NARROW, speed].tolist())
        assert wanted <= divided
        assert len(divided) == 4


def test_wide_steps_hold_what_their_parts_hold():
    grid = divided_grid(WIDE, flags((3, 0), (9, 1), speeds=2))
    marked = np.zeros_like(grid.kind, dtype=bool)
    marked[np.flatnonzero(grid.origin[:, 0] == 3)[5], 0] = True
    marked[np.flatnonzero(grid.origin[:, 1] == 5)[0], 1] = True
    assert np.array_equal(wide_steps(grid, marked), flags((3, 0), (5, 1), speeds=2))


@settings(derandomize=True, max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.integers(0, WIDE - 1), st.integers(0, 3)), max_size=40))
def test_whatever_switches(places):
    switching = flags(*places, speeds=4)
    grid = divided_grid(WIDE, switching)
    check(grid)
    assert np.all(wide_steps(grid, grid.kind == NARROW) >= switching)
