"""Saturating steel's tangent, element by element: how each harmonic in an element answers each other.

A disc has a few dozen elements of nine nodes; their matrices are made once for a state of the steel, by two products of
matrices, and then serve every step of the conjugate gradients and every harmonic's own band.
"""

from dataclasses import dataclass
from functools import lru_cache, reduce

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.field.axis import Axis, axis_of, element_nodes
from fieldrun.field.ring_mesh import STEEL_GAUSS
from fieldrun.field.ring_steel import SteelState, SteelTables
from fieldrun.field.ring_system import bandwidth

NODES = 9
"""Nodes of an element, the height running faster."""


@dataclass(frozen=True, eq=False)
class SteelMatrices:
    """A disc's element matrices, elements along the radius and then the height.

    Parameters
    ----------
    tables : the disc
    own : (e, n, 9, 9) what each harmonic answers itself [m]
    mixed : (e, 9 n, 9 n) what all answer all [m]; None where they do not meet
    """

    tables: SteelTables
    own: Floats
    mixed: Floats | None = None


def tangent_matrices(state: SteelState) -> SteelMatrices:
    """The derivative of `ring_steel.steel_residual` at a state.

    With g = grad phi: INT [excess I + bend g g'] grad u . grad v over the disc, summed over the points round the ring.
    """
    steel = state.tables
    orders = len(steel.waves)
    around = (steel.cosines, steel.sines, steel.cosines)
    turned = (np.ones(orders), steel.waves.astype(float), np.ones(orders))
    weighted = steel.weights[:, :, None] * np.stack([state.excess, state.bend])
    answers = np.empty((3, 3, *steel.weights.shape, orders, orders))
    for a in range(3):
        for b in range(a + 1):
            tensor = weighted[1] * state.gradient[a] * state.gradient[b] + (weighted[0] if a == b else 0.0)
            waves = (around[a][:, None] * around[b]).reshape(orders**2, -1)
            mixed = (tensor.reshape(-1, tensor.shape[2]) @ waves.T).reshape(*steel.weights.shape, orders, orders)
            answers[a, b] = mixed * np.outer(turned[a], turned[b])
            answers[b, a] = answers[a, b].swapaxes(2, 3)
    mixed = _pairs(steel) @ _by_element(answers.reshape(3, 3, *steel.weights.shape, orders**2))
    shaped = mixed.reshape(-1, NODES, NODES, orders, orders)
    own = np.einsum("eijnn->enij", shaped)
    return SteelMatrices(steel, own, shaped.transpose(0, 3, 1, 4, 2).reshape(len(own), NODES * orders, NODES * orders))


def held_matrices(steel: SteelTables, excess: Floats) -> SteelMatrices:
    """Steel whose permeability above air's is the same all round and does not bend, so that harmonics do not meet:
    INT excess grad u . grad v, one harmonic at a time.

    Parameters
    ----------
    steel : the disc
    excess : (a, b) relative permeability above air's at its Gauss points
    """
    weighted = excess * steel.weights * steel.cosines.shape[1] / 2
    answers = np.zeros((3, 3, *excess.shape, 2))
    answers[0, 0, ..., 0] = answers[2, 2, ..., 0] = answers[1, 1, ..., 1] = weighted
    still, turning = np.moveaxis(_pairs(steel) @ _by_element(answers), 2, 0).reshape(2, -1, 1, NODES, NODES)
    return SteelMatrices(steel, still + (steel.waves**2)[:, None, None] * turning)


def _by_element(answers: Floats) -> Floats:
    """(3, 3, a, b, ...) at the Gauss points of each element: (e, 9 points of 3 x 3, ...)."""
    g = STEEL_GAUSS
    parts = answers.reshape(3, 3, answers.shape[2] // g, g, answers.shape[3] // g, g, -1)
    gathered = parts.transpose(2, 4, 3, 5, 0, 1, 6)
    return gathered.reshape(gathered.shape[0] * gathered.shape[1], -1, answers.shape[4])


def _pairs(steel: SteelTables) -> Floats:
    """Products of the gradients of two shape functions at every Gauss point, (e, 9 x 9 nodes, 9 points of 3 x 3)."""
    return _pairs_on(steel.radial.vertices_m.tobytes(), steel.axial.vertices_m.tobytes())


@lru_cache(maxsize=4)
def _pairs_on(radial_lines: bytes, axial_lines: bytes) -> Floats:
    radial, axial = (axis_of(np.frombuffer(lines), STEEL_GAUSS) for lines in (radial_lines, axial_lines))
    (level_r, slope_r), (level_z, slope_z) = (_shapes(axis) for axis in (radial, axial))
    over_r = -level_r / radial.points_m[:, :, None]
    sides = ((slope_r, level_z), (over_r, level_z), (level_r, slope_z))
    gradient = np.stack([np.einsum("eqi,fsk->efqsik", along, across) for along, across in sides], axis=4)
    flat = gradient.reshape(len(level_r) * len(level_z), STEEL_GAUSS**2, 3, NODES)
    pairs = np.einsum("eqai,eqbj->eijqab", flat, flat)
    return np.ascontiguousarray(pairs.reshape(len(flat), NODES**2, -1))


def _shapes(axis: Axis) -> tuple[Floats, Floats]:
    return np.broadcast_to(axis.values, axis.slopes.shape), axis.slopes


def steel_times(matrices: tuple[SteelMatrices, ...], change: Floats, out: Floats) -> None:
    """Add the steel's answer [A m] to a change of the potential [A] to `out`, both (n, r, z)."""
    for one in matrices:
        r, z = one.tables.nodes
        moved = _gathered(change[:, r, z])
        mixed = one.mixed
        answer = one.own @ moved[:, :, :, None] if mixed is None else mixed @ moved.reshape(len(moved), -1, 1)
        _scatter(answer.reshape(moved.shape), out[:, r, z])


def _gathered(values: Floats) -> Floats:
    """(n, r, z) of a disc at each element's nodes, (e, n, 9)."""
    rows, columns = (count - 2 for count in values.shape[1:])
    parts = np.stack([values[:, i : rows + i : 2, k : columns + k : 2] for i in _LOCAL for k in _LOCAL], axis=3)
    return np.ascontiguousarray(parts.transpose(1, 2, 0, 3)).reshape(-1, len(values), NODES)


def _scatter(parts: Floats, out: Floats) -> None:
    """The reverse of `_gathered`, added to `out`."""
    orders, rows, columns = out.shape
    shaped = parts.reshape(rows // 2, columns // 2, orders, 3, 3).transpose(2, 3, 4, 0, 1)
    for i in _LOCAL:
        for k in _LOCAL:
            out[:, i : rows - 2 + i : 2, k : columns - 2 + k : 2] += shaped[:, i, k]


_LOCAL = range(3)


def steel_band(matrices: tuple[SteelMatrices, ...], n: int, free: tuple[slice, slice]) -> Floats:
    """The n-th harmonic's own block of the steel in lower banded storage, (bandwidth + 1, unknowns) [m].

    Parameters
    ----------
    matrices : the discs
    n : the harmonic's number
    free : nodes along radius and height where it is unknown
    """
    return reduce(np.add, (_banded(one.tables, one.own[:, n], free) for one in matrices))


def _banded(steel: SteelTables, matrices: Floats, free: tuple[slice, slice]) -> Floats:
    """A disc's element matrices of one harmonic among its unknowns."""
    rows, columns = (nodes.stop - nodes.start for nodes in free)
    r_nodes = element_nodes(steel.radial) + 2 * steel.part.radial.first - free[0].start
    z_nodes = element_nodes(steel.axial) + 2 * steel.part.axial.first - free[1].start
    r_free, z_free = ((one >= 0) & (one < count) for one, count in ((r_nodes, rows), (z_nodes, columns)))
    number = (r_nodes[:, None, :, None] * columns + z_nodes[None, :, None, :]).reshape(-1, NODES)
    inside = (r_free[:, None, :, None] & z_free[None, :, None, :]).reshape(-1, NODES)
    i, j = np.broadcast_arrays(number[:, :, None], number[:, None, :])
    kept = (i >= j) & inside[:, :, None] & inside[:, None, :]
    place = (i - j)[kept] * rows * columns + j[kept]
    size = (bandwidth(columns) + 1) * rows * columns
    return np.asarray(np.bincount(place, matrices[kept], size), float).reshape(-1, rows * columns)
