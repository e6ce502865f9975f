"""Which of many points is best, and which of them nobody can better in two things at once: plain arrays, no sweeps."""

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats

Indices = NDArray[np.intp]


def ranking(values: Floats, *, largest: bool) -> Indices:
    """Places of all points that have a value, the best first; equal ones in their own order.

    Parameters
    ----------
    values : (points,), all in one unit; a masked array where some have none
    largest : whether more is better

    Returns
    -------
    (answered points,)

    Raises
    ------
    ValueError
        If a value that is not masked is NaN or infinite: it could be neither better nor worse than another.
    """
    places, numbers = _answered(values)
    return places[np.argsort(-numbers if largest else numbers, kind="stable")]


def best_index(values: Floats, *, largest: bool) -> int | None:
    """Place of the best of values (points,), in any unit, the first of equal ones; None if there is none.

    Raises as `ranking`.
    """
    places, numbers = _answered(values)
    return int(places[np.argmax(numbers) if largest else np.argmin(numbers)]) if len(places) else None


def as_good(values: Floats, index: int) -> int:
    """How many of values (points,), in any unit, are exactly the one that stands at `index`, itself among them."""
    return int(np.ma.sum(np.ma.asarray(values) == values[index]))


def pareto_front(first: Floats, second: Floats, *, largest: tuple[bool, bool]) -> Indices:
    """Points that none betters: none is as good in both values and better in one (Pareto's front).

    Sorted by the first value, then by the second, a point stands on the front if its second value is the best of its
    group of equal first ones, and better than any before that group: O(n log n) in the number of points.

    Parameters
    ----------
    first, second : (points,), each in a unit of its own, masked where a point has none; one of the two missing leaves
        the point out
    largest : whether more is better, of each

    Returns
    -------
    Places, the best in `first` first; points that are equal in both stand together in their own order.

    Raises
    ------
    ValueError
        As `ranking`, and if the two differ in length.
    """
    if len(first) != len(second):
        raise ValueError(f"values of the same points are needed; received {len(first)} and {len(second)}")
    places = np.flatnonzero(~(np.ma.getmaskarray(first) | np.ma.getmaskarray(second)))
    costs = [
        -_finite(v)[places] if most else _finite(v)[places] for v, most in zip((first, second), largest, strict=True)
    ]
    order = np.lexsort((places, costs[1], costs[0]))
    one, two = costs[0][order], costs[1][order]
    return places[order[_unbettered(one, two)]]


def _unbettered(one: Floats, two: Floats) -> NDArray[np.bool_]:
    """Of costs sorted by `one`, then `two`: which are on the front."""
    if not len(one):
        return np.zeros(0, bool)
    begins = np.flatnonzero(np.concatenate(([True], one[1:] != one[:-1])))
    lengths = np.diff(np.append(begins, len(one)))
    least = two[begins]
    before = np.concatenate(([np.inf], np.minimum.accumulate(least)[:-1]))
    front: NDArray[np.bool_] = (two == np.repeat(least, lengths)) & np.repeat(least < before, lengths)
    return front


def spread(count: int, most: int) -> Indices:
    """At most so many of `count` places, evenly over them with both ends."""
    return np.unique(np.round(np.linspace(0, count - 1, min(count, most))).astype(np.intp))


def _answered(values: Floats) -> tuple[Indices, Floats]:
    places = np.flatnonzero(~np.ma.getmaskarray(values))
    return places, _finite(values)[places]


def _finite(values: Floats) -> Floats:
    """The numbers themselves, whatever lies under a mask."""
    numbers = np.where(np.ma.getmaskarray(values), 0.0, np.ma.getdata(values)).astype(float)
    if not np.all(np.isfinite(numbers)):
        raise ValueError("only finite numbers can be ranked")
    return numbers
