"""The magnets' recoil permeability as it couples the harmonics, radial element by element.

Nodes answer no farther than their elements reach, so that one small full matrix per element does what a large, mostly
empty one would.
"""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats


@dataclass(frozen=True, eq=False)
class Coupling:
    """A slab's permeability above air's, radial element by element.

    `along` and `across`, (e, 3 n, 3 n), go with the axial matrices of mass and of stiffness.
    """

    along: Floats
    across: Floats
    axial: tuple[Floats, Floats]


def coupling(along: Floats, across: Floats, axial: tuple[Floats, Floats]) -> Coupling:
    """Cut a slab's matrices over the radius, (n, m, r, r), that go with mass and with stiffness, into elements."""
    return Coupling(_by_element(along), _by_element(across), axial)


def _by_element(matrix: Floats) -> Floats:
    """Cut (n, m, i, j) into the shares of its elements, (e, 3 n, 3 m); a node shared by two goes to the first."""
    count = (matrix.shape[2] - 1) // 2
    orders = len(matrix)
    out = np.empty((count, orders, 3, orders, 3))
    for e in range(count):
        nodes = slice(2 * e, 2 * e + 3)
        out[e] = matrix[:, :, nodes, nodes].transpose(0, 2, 1, 3)
        if e:
            out[e, :, 0, :, 0] = 0.0
    return out.reshape(count, 3 * orders, 3 * orders)


def coupled(couplings: tuple[Coupling, ...], potential: Floats) -> Floats:
    """The permeability above air's times potentials at the magnets' nodes, (n, r, machines, z) [A]."""
    out = np.zeros_like(potential)
    for one in couplings:
        stiff, massy = one.axial
        moved = one.along @ _windows(potential @ massy) + one.across @ _windows(potential @ stiff)
        orders, _, many, heights = potential.shape
        parts = moved.reshape(len(moved), orders, 3, many, heights).transpose(2, 1, 0, 3, 4)
        out[:, :-1:2] += parts[0]
        out[:, 1::2] += parts[1]
        out[:, 2::2] += parts[2]
    return out


def _windows(values: Floats) -> Floats:
    """(n, r, ...) at the nodes of each radial element: (e, 3 n, ...)."""
    parts = np.stack([values[:, :-1:2], values[:, 1::2], values[:, 2::2]], axis=2)
    orders, count = parts.shape[:2]
    return parts.swapaxes(0, 1).reshape(count, 3 * orders, -1)
