"""Where on the grid an estimate holds: the largest box of ratios in which it holds everywhere."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement, product

import numpy as np
from numpy.typing import NDArray

from fieldrun.studies.estimates_map.grid import Axes

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Region:
    """A box of the grid.

    Parameters
    ----------
    gap, thickness, share : smallest and largest ratio in it; None where it reaches from end to end
    machines : how many of the grid's machines lie in it
    """

    gap: tuple[float | None, float | None]
    thickness: tuple[float | None, float | None]
    share: tuple[float | None, float | None]
    machines: int


def region_where(holds: Bools, axes: Axes) -> Region | None:
    """The box of most machines in which `holds` is true throughout; of equal ones that of fewest limits.

    One line of gaps or thicknesses is no region: there an error may only pass through zero on its way.

    Parameters
    ----------
    holds : (shares, thicknesses, gaps)
    axes : the grid

    Returns
    -------
    None if it holds nowhere
    """
    sums = np.zeros(tuple(n + 1 for n in holds.shape), int)
    sums[1:, 1:, 1:] = holds.cumsum(0).cumsum(1).cumsum(2)
    boxes = [box for box in _boxes(holds.shape) if _is_wide(box, holds.shape) and _count(sums, box) == _size(box)]
    if not boxes:
        return None
    best = max(boxes, key=lambda box: (_size(box), -_limits(box, holds.shape)))
    share, thickness, gap = (
        _ends(pair, lines) for pair, lines in zip(best, (axes.shares, axes.thicknesses, axes.gaps), strict=True)
    )
    return Region(gap, thickness, share, _size(best))


Box = tuple[tuple[int, int], ...]
"""First and last grid line of each axis."""


def _boxes(shape: tuple[int, ...]) -> Iterator[Box]:
    return product(*(combinations_with_replacement(range(n), 2) for n in shape))


def _is_wide(box: Box, shape: tuple[int, ...]) -> bool:
    """Whether a box spans more than one thickness and more than one gap, where there are more."""
    return all(last > first or n == 1 for (first, last), n in zip(box[1:], shape[1:], strict=True))


def _size(box: Box) -> int:
    return int(np.prod([last - first + 1 for first, last in box]))


def _count(sums: NDArray[np.int_], box: Box) -> int:
    """How many of a box's machines hold, by the corners of running sums."""
    total = 0
    for corner in product((0, 1), repeat=3):
        at = tuple(last + 1 if end else first for end, (first, last) in zip(corner, box, strict=True))
        total += (-1) ** (3 - sum(corner)) * int(sums[at])
    return total


def _limits(box: Box, shape: tuple[int, ...]) -> int:
    return sum((first > 0) + (last < n - 1) for (first, last), n in zip(box, shape, strict=True))


def _ends(pair: tuple[int, int], lines: tuple[float, ...]) -> tuple[float | None, float | None]:
    first, last = pair
    return lines[first] if first > 0 else None, lines[last] if last < len(lines) - 1 else None
