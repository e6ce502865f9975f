"""The magnets' recoil permeability as it couples the harmonics, radial element by element.

Nodes answer no farther than their elements reach, so that one small full matrix per element does what a large, mostly
empty one would. Potentials have the radius in front: an element's nodes are then a window on them, and nothing is
copied.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import as_strided

from fieldrun.design.arrays import Floats

NODES = 3
"""Nodes of an element; the last one is the next one's first."""


@dataclass(frozen=True, eq=False)
class Coupling:
    """A slab's permeability above air's, radial element by element.

    Parameters
    ----------
    elements : (e, 3 n, 6 n) in rows nodes by harmonics, in columns nodes by what goes with the axial mass [1] and
        stiffness [m^2] by harmonics
    axial : (z, z) matrices of mass [m] and of stiffness [1/m]
    """

    elements: Floats
    axial: tuple[Floats, Floats]


def coupling_elements(along: Floats, across: Floats) -> Floats:
    """Cut a slab's matrices over the radius into `Coupling.elements`.

    Parameters
    ----------
    along, across : (n, m, r, r) what goes with the axial mass [1], and with the axial stiffness [m^2]
    """
    both = np.stack([_by_element(along), _by_element(across)], axis=4)
    count, _, orders = both.shape[:3]
    return both.reshape(count, NODES * orders, 2 * NODES * orders)


def _by_element(matrix: Floats) -> Floats:
    """Cut (n, m, i, j) into the shares of its elements, (e, 3, n, 3, m); a node shared by two goes to the first."""
    count = (matrix.shape[2] - 1) // 2
    orders = len(matrix)
    out = np.empty((count, NODES, orders, NODES, orders))
    for e in range(count):
        nodes = slice(2 * e, 2 * e + NODES)
        out[e] = matrix[:, :, nodes, nodes].transpose(2, 0, 3, 1)
    out[1:, 0, :, 0] = 0.0
    return out


def coupled(couplings: tuple[Coupling, ...], potential: Floats) -> Floats:
    """INT (mu - 1) grad phi . grad v over the magnets' slabs, (r, n, machines, z) [A m], mu the relative permeability.

    Parameters
    ----------
    couplings : the slabs
    potential : (r, n, machines, z) at the magnets' nodes [A]
    """
    nodes, orders, many, heights = potential.shape
    out = np.zeros((nodes, orders, many * heights))
    rows = potential.reshape(nodes, orders * many, heights)
    both = np.empty((nodes, 2, orders * many, heights))
    for one in couplings:
        for place, matrix in enumerate(one.axial):
            np.matmul(rows, matrix, out=both[:, place])
        moved = one.elements @ _windows(both.reshape(nodes, 2 * orders, many * heights))
        parts = moved.reshape(len(moved), NODES, orders, many * heights)
        for node in range(NODES):
            out[node : nodes - NODES + node + 1 : 2] += parts[:, node]
    return out.reshape(potential.shape)


def _windows(values: Floats) -> Floats:
    """(r, m, x) at the nodes of each radial element, (e, 3 m, x): the same memory, the shared nodes seen twice."""
    nodes, rows, columns = values.shape
    node, row, column = values.strides
    return as_strided(values, ((nodes - 1) // 2, NODES * rows, columns), (2 * node, row, column), writeable=False)
