"""Where falling functions pass nought, many at once, without slopes."""

from collections.abc import Callable

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError

SETTLED = 1e-5
"""Share of the upper end by which a function may still differ from nought."""

TRIALS = 80
"""Trials after which the search gives up; about eight are usual."""


def falling_root(excess: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Find where a falling function passes 0, element by element, by the Illinois rule.

    Parameters
    ----------
    excess : of places (s,) to values (s,) in the same unit, falling by at least as much as the place grows
    low, high : (s,) places where it is not below, and not above 0

    Raises
    ------
    SolveError
        If the search does not end.
    """
    above, below = excess(low), excess(high)
    near = SETTLED * np.abs(high) + 1e-300
    for _ in range(TRIALS):
        span = above - below
        middle = high - (high - low) * np.where(span > 0, -below / np.where(span > 0, span, 1.0), 0.0)
        found = excess(middle)
        if np.all(np.abs(found) <= near):
            return np.asarray(middle)
        left = found > 0
        low, high = np.where(left, middle, low), np.where(left, high, middle)
        above, below = np.where(left, found, above / 2), np.where(left, below / 2, found)
    raise SolveError(f"the voltage of the doubler's capacitors is not found within {TRIALS} trials")
