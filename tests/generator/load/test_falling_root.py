"""Roots of falling functions, many at once."""

import numpy as np
import pytest

from fieldrun.design.errors import SolveError
from fieldrun.generator.load import falling_root as module
from fieldrun.generator.load.falling_root import SETTLED, falling_root


def test_roots_of_straight_and_bent_functions_at_once():
    steep, place = np.array([1.0, 1e3, 1e6, 1.0]), np.array([2.0, 7.0, 0.1, 0.0])

    def excess(x):
        return steep * (np.where(x < place, place**2 - x**2, 0.0)) + place - x

    found = falling_root(excess, np.zeros(4), np.full(4, 10.0))
    assert np.abs(excess(found)) == pytest.approx(0, abs=10 * SETTLED)
    assert found == pytest.approx(place, abs=10 * SETTLED)


def test_ends_that_are_the_answer():
    assert falling_root(lambda x: 3.0 - x, np.array([3.0, 0.0]), np.array([9.0, 3.0])) == pytest.approx([3.0, 3.0])


def test_a_search_that_does_not_end_is_told(monkeypatch):
    monkeypatch.setattr(module, "TRIALS", 1)
    with pytest.raises(SolveError, match="not found within 1 trials"):
        falling_root(lambda x: np.exp(-x) - 1e-3, np.array([0.0]), np.array([50.0]))
