"""Outlines of the bodies in a mesh: what a file of elements knows only implicitly, drawn for pictures and tables."""

from collections.abc import Iterator

import numpy as np
import scipy.sparse
import skfem
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from fieldrun.design.arrays import Floats, Ints

STRAIGHT = 1e-9
"""A corner that turns by less than this (sine of the angle) is none."""

Polygon = tuple[tuple[float, float], ...]


def bodies(mesh: skfem.Mesh, elements: NDArray[np.bool_]) -> Iterator[tuple[Ints, Polygon]]:
    """Connected parts of some elements, each with its outline; holes are left out.

    Parameters
    ----------
    mesh : triangles or quadrilaterals
    elements : (e,) which of them

    Yields
    ------
    Element numbers of a part, and the corners of its outline counterclockwise [m].
    """
    chosen = np.flatnonzero(elements)
    left, right = mesh.f2t
    shared = (right >= 0) & elements[left] & elements[right]
    size = mesh.t.shape[1]
    links = scipy.sparse.coo_matrix((np.ones(shared.sum()), (left[shared], right[shared])), shape=(size, size))
    _, label = connected_components(links, directed=False)
    for one in np.unique(label[chosen]):
        part = chosen[label[chosen] == one]
        yield part, _outline(mesh, part)


def _outline(mesh: skfem.Mesh, part: Ints) -> Polygon:
    """Walk the sides that only one element of the part has; of several rounds the one round the largest area."""
    corners = _counterclockwise(mesh, part)
    sides = {(int(a), int(b)) for a, b in zip(corners.ravel(), np.roll(corners, -1, axis=0).ravel(), strict=True)}
    onward: dict[int, list[int]] = {}  # two rounds may touch in one point
    for a, b in sorted(sides):
        if (b, a) not in sides:
            onward.setdefault(a, []).append(b)
    loops = [mesh.p[:, loop] for loop in _rounds(onward)]
    best = max(loops, key=_area)
    return tuple((float(x), float(z)) for x, z in _without_straight(best).T)


def _rounds(onward: dict[int, list[int]]) -> Iterator[list[int]]:
    """Closed rounds through points, given where each leads."""
    while onward:
        loop = [next(iter(onward))]
        while not (len(loop) > 1 and loop[-1] == loop[0]):
            following = onward[loop[-1]]
            loop.append(following.pop())
            if not following:
                del onward[loop[-2]]
        yield loop[:-1]


def _counterclockwise(mesh: skfem.Mesh, part: Ints) -> Ints:
    corners = mesh.t[:, part]
    x, z = mesh.p[:, corners]
    backwards = np.sum(x * np.roll(z, -1, axis=0) - np.roll(x, -1, axis=0) * z, axis=0) < 0
    return np.asarray(np.where(backwards, corners[::-1], corners))


def _area(loop: Floats) -> float:
    """Area inside a round of points (2, n), positive counterclockwise."""
    x, z = loop
    return float(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z)) / 2


def _without_straight(loop: Floats) -> Floats:
    before, after = loop - np.roll(loop, 1, axis=1), np.roll(loop, -1, axis=1) - loop
    turn = before[0] * after[1] - before[1] * after[0]
    size = np.linalg.norm(before, axis=0) * np.linalg.norm(after, axis=0)
    return loop[:, np.abs(turn) > STRAIGHT * size]
