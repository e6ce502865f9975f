"""Second-order elements along one axis. A mesh of rectangles is two of these, and its matrices are their products."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array

GRADING_SAMPLES = 200
"""Places per half of an interval at which the wanted spacing is summed up, if it grows no more than `EASILY_SUMMED`."""

EASILY_SUMMED = 500
"""Growth over an interval, in sizes at its end, up to which those places tell spacings to 3 %; beyond it, by a law of
cubes, more are taken: from place to place the spacing grows by 1.26 (growth / size)^(1/3) / places at the most."""

Spacing = float | Callable[[Floats], Floats]
"""A length [m], or one for each place [m]."""


@dataclass(frozen=True, eq=False)
class Axis:
    """Elements of three nodes in a row, nodes 2e, 2e + 1, 2e + 2 each, tabulated at Gauss points.

    Parameters
    ----------
    nodes_m : (2e + 1,) ascending, every other one the middle of an element [m]
    points_m, weights_m : (e, q) Gauss points and their lengths [m]
    values : (q, 3) shape functions at the Gauss points of any element, or (e, q, 3) if they differ [1]
    slopes : (e, q, 3) their derivatives [1/m]
    """

    nodes_m: Floats
    points_m: Floats
    weights_m: Floats
    values: Floats
    slopes: Floats

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("nodes_m", "points_m", "weights_m", "values", "slopes"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def count(self) -> int:
        """Number of nodes."""
        return len(self.nodes_m)

    @property
    def vertices_m(self) -> Floats:
        """(e + 1,) ends of the elements [m]."""
        return self.nodes_m[::2]


def axis_of(vertices_m: Floats, gauss: int) -> Axis:
    """Tabulate elements between ascending vertices (e + 1,) [m], with `gauss` points each."""
    start, length = vertices_m[:-1], np.diff(vertices_m)
    share, weight = _reference(gauss)
    values, slopes = _shapes(share)
    nodes = np.empty(2 * len(length) + 1)
    nodes[::2], nodes[1::2] = vertices_m, start + length / 2
    return Axis(
        nodes,
        start[:, None] + np.outer(length, share),
        np.outer(length, weight),
        values,
        slopes / length[:, None, None],
    )


def between(axis: Axis, places_m: Sequence[float], gauss: int) -> Axis:
    """The same elements with Gauss points for what is zero before and after some places and bends in between.

    Each element's part of every stretch from one place to the next has `gauss` points. Where the places are ends of
    elements, those of the whole axis among them, the axis serves as it is.

    Parameters
    ----------
    axis : elements
    places_m : ascending [m]
    gauss : points per stretch
    """
    lines = axis.vertices_m
    if (places_m[0], places_m[-1]) == (lines[0], lines[-1]) and np.isin(places_m, lines).all():
        return axis
    share, weight = _reference(gauss)
    first, last = lines[:-1, None], lines[1:, None]
    low, high = (np.clip(ends, first, last) for ends in (places_m[:-1], places_m[1:]))
    length = (high - low)[:, :, None]
    points = (low[:, :, None] + length * share).reshape(len(first), -1)
    values, slopes = _shapes((points - first) / (last - first))
    weights = (length * weight).reshape(points.shape)
    return Axis(axis.nodes_m, points, weights, values, slopes / (last - first)[:, :, None])


@cache
def _reference(gauss: int) -> tuple[Floats, Floats]:
    """Gauss points and weights on 0..1."""
    points, weights = np.polynomial.legendre.leggauss(gauss)
    return (points + 1) / 2, weights / 2


def _shapes(t: Floats) -> tuple[Floats, Floats]:
    """Values and derivatives (..., 3) of the three shape functions at places from 0 to 1."""
    values = np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)], axis=-1)
    return values, np.stack([4 * t - 3, 4 - 8 * t, 4 * t - 1], axis=-1)


def element_nodes(axis: Axis) -> Ints:
    """Nodes of each element, (e, 3)."""
    return np.asarray(2 * np.arange(len(axis.weights_m))[:, None] + np.arange(3))


def mass(axis: Axis, weight: Floats | None = None) -> Floats:
    """INT weight N N dx, dense: (..., nodes, nodes) for a weight (..., e, q) [m, times the weight's unit]."""
    return _matrix(axis, axis.values, weight)


def stiffness(axis: Axis, weight: Floats | None = None) -> Floats:
    """INT weight N' N' dx, dense: (..., nodes, nodes) for a weight (..., e, q) [1/m, times the weight's unit]."""
    return _matrix(axis, axis.slopes, weight)


def _matrix(axis: Axis, functions: Floats, weight: Floats | None) -> Floats:
    total = axis.weights_m if weight is None else axis.weights_m * weight
    local = np.einsum("...eq,eqi,eqj->...eij", total, *(np.broadcast_to(functions, axis.slopes.shape),) * 2)
    nodes = element_nodes(axis)
    out = np.zeros((*local.shape[:-3], axis.count, axis.count))
    for i in range(3):
        for j in range(3):
            out[..., nodes[:, i], nodes[:, j]] += local[..., i, j]
    return out


def load(axis: Axis, weight: Floats, *, slope: bool = False) -> Floats:
    """INT weight N dx [m, times the weight's unit], or INT weight N' dx [the weight's unit]: (..., nodes) for a weight
    (..., e, q).
    """
    functions = axis.slopes if slope else np.broadcast_to(axis.values, axis.slopes.shape)
    local = np.einsum("...eq,eqi->...ei", axis.weights_m * weight, functions)
    nodes = element_nodes(axis)
    out = np.zeros((*local.shape[:-2], axis.count))
    for i in range(3):
        out[..., nodes[:, i]] += local[..., i]
    return out


def graded(start: float, end: float, sizes: tuple[float, float], growth: float, largest: Spacing = math.inf) -> Floats:
    """Vertices (v,) [m] from start to end; their spacing grows away from both ends, from the ends' sizes to `largest`.

    Assumes a spacing of size + growth x distance from either end, whichever is less; the vertices then share the
    interval into equal parts of INT dx / spacing. `largest` may depend on the place.
    """
    more = max(1.0, growth * (end - start) / min(sizes) / EASILY_SUMMED) ** (1 / 3)
    near_end = np.linspace(0, 1, math.ceil(GRADING_SAMPLES * more)) ** 3 / 2
    x = start + (end - start) * np.concatenate([near_end, 1 - near_end[-2::-1]])
    near, far = sizes[0] + growth * (x - start), sizes[1] + growth * (end - x)
    spacing = np.minimum(np.minimum(near, far), largest(x) if callable(largest) else largest)
    steps = np.diff(x) * (1 / spacing[1:] + 1 / spacing[:-1]) / 2
    counted = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(1, math.ceil(counted[-1] - 1e-9))
    inside = np.interp(np.arange(1, count) * counted[-1] / count, counted, x)
    return np.concatenate([[start], inside, [end]])
