"""How matrices are filled: gradients of the shape functions at Gauss points, constraints, and banded storage.

A section's physics never appears here; a matrix is always the sum over elements and Gauss points of
gradient^T (2x2 tensor) gradient, plus dense blocks on open sides.
"""

from dataclasses import dataclass

import numpy as np
import scipy.sparse
import skfem
from scipy.sparse.csgraph import reverse_cuthill_mckee

from fieldrun.design.arrays import Floats, Ints, frozen_array

GAUSS_ORDER = 4
"""Polynomial degree integrated exactly: 3 x 3 points on quadrilaterals, 6 on triangles."""


@dataclass(frozen=True, eq=False)
class Operators:
    """Second-order shape functions on one mesh.

    Parameters
    ----------
    gradients : (e, q, 2, i) d/dx and d/dz of each local shape function [1/m]
    weights : (e, q) area of each Gauss point [m^2]
    dofs : (e, i) degree of freedom of each local shape function
    places_m : (2, n) where each degree of freedom sits [m]
    """

    gradients: Floats
    weights: Floats
    dofs: Ints
    places_m: Floats

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("gradients", "weights", "places_m"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "dofs", frozen_array(self.dofs, np.int64))

    @property
    def count(self) -> int:
        """Number of degrees of freedom."""
        return int(self.places_m.shape[1])


def second_order_basis(mesh: skfem.Mesh) -> skfem.CellBasis:
    """Second-order basis on a mesh: nine-node quadrilaterals or six-node triangles."""
    element = skfem.ElementQuad2() if isinstance(mesh, skfem.MeshQuad) else skfem.ElementTriP2()
    return skfem.CellBasis(mesh, element, intorder=GAUSS_ORDER)


def operators(basis: skfem.CellBasis) -> Operators:
    """Tabulate a basis: gradients and weights at every Gauss point."""
    local = np.stack([function[0].grad for function in basis.basis])  # (i, 2, e, q)
    return Operators(local.transpose(2, 3, 1, 0), basis.dx, basis.element_dofs.T, basis.doflocs)


def gradient_of(ops: Operators, values: Floats) -> Floats:
    """Gradient of a field of nodal values at the Gauss points, (e, q, 2)."""
    return np.asarray(np.einsum("eqki,ei->eqk", ops.gradients, values[ops.dofs]))


@dataclass(frozen=True, eq=False)
class Numbering:
    """Degrees of freedom that are really unknown, ordered for a narrow band.

    Parameters
    ----------
    number : (n,) row of each degree of freedom, -1 where the value is held at zero
    sign : (n,) +1, or -1 where the value is minus that of the row (the far side of an antiperiodic box)
    bandwidth : largest distance between coupled rows
    """

    number: Ints
    sign: Floats
    bandwidth: int

    @property
    def count(self) -> int:
        """Number of unknowns."""
        return int(self.number.max()) + 1


def numbering(ops: Operators, held: Ints, pairs: tuple[Ints, Ints], open_sides: list[Ints]) -> Numbering:
    """Drop held values, join antiperiodic pairs (second = -first), and order the rest by reverse Cuthill-McKee.

    Parameters
    ----------
    ops : the mesh's operators
    held : degrees of freedom held at zero
    pairs : (first, second) degrees of freedom with second = -first
    open_sides : degrees of freedom of each open side, all coupled with each other
    """
    master = np.arange(ops.count)
    sign = np.ones(ops.count)
    master[pairs[1]], sign[pairs[1]] = pairs[0], -1.0
    free = np.ones(ops.count, bool)
    free[held], free[pairs[1]] = False, False
    compact = np.where(free, np.cumsum(free) - 1, -1)[master]
    groups = [compact[ops.dofs], *(compact[side][None, :] for side in open_sides)]
    links = [_links(group) for group in groups]
    rows, columns = np.concatenate([r for r, _ in links]), np.concatenate([c for _, c in links])
    size = int(free.sum())
    graph = scipy.sparse.csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(size, size))
    order = reverse_cuthill_mckee(graph, symmetric_mode=True)
    position = np.empty(size, np.int64)
    position[order] = np.arange(size)
    number = np.where(compact >= 0, position[compact], -1)
    return Numbering(
        frozen_array(number, np.int64), frozen_array(sign), int(np.max(np.abs(position[rows] - position[columns])))
    )


def _links(groups: Ints) -> tuple[Ints, Ints]:
    i, j = np.broadcast_arrays(groups[:, :, None], groups[:, None, :])
    both = (i >= 0) & (j >= 0)
    return i[both], j[both]


@dataclass(frozen=True, eq=False)
class Block:
    """A dense symmetric block between degrees of freedom: an element or an open side.

    Parameters
    ----------
    dofs : (b, i) degrees of freedom
    matrices : (b, i, i) their couplings
    """

    dofs: Ints
    matrices: Floats


def element_blocks(ops: Operators, tensors: Floats) -> Block:
    """Element matrices: sum over Gauss points of weight gradient^T tensor gradient.

    Parameters
    ----------
    ops : the mesh's operators
    tensors : (e, q, 2, 2) symmetric material tensors acting on (d/dx, d/dz)
    """
    weighted = np.einsum("eqkl,eqli->eqki", tensors * ops.weights[:, :, None, None], ops.gradients)
    e, q, k, i = ops.gradients.shape
    left = ops.gradients.reshape(e, q * k, i).transpose(0, 2, 1)
    return Block(ops.dofs, np.matmul(left, weighted.reshape(e, q * k, i)))


def band_matrix(rows: Numbering, blocks: list[Block]) -> Floats:
    """Sum blocks into upper banded storage, (bandwidth + 1, unknowns), as LAPACK's pbsv takes it."""
    width, size = rows.bandwidth, rows.count
    band = np.zeros((width + 1) * size)
    for block in blocks:
        number, sign = rows.number[block.dofs], rows.sign[block.dofs]
        i, j = np.broadcast_arrays(number[:, :, None], number[:, None, :])
        upper = (i >= 0) & (j >= i)
        values = block.matrices * sign[:, :, None] * sign[:, None, :]
        place = (width + i - j) * size + j
        band += np.bincount(place[upper], weights=values[upper], minlength=len(band))
    return band.reshape(width + 1, size)


def gather(rows: Numbering, values: Floats) -> Floats:
    """Sum nodal loads (n,) onto the unknowns."""
    kept = rows.number >= 0
    return np.asarray(np.bincount(rows.number[kept], weights=(rows.sign * values)[kept], minlength=rows.count), float)


def spread(rows: Numbering, unknowns: Floats) -> Floats:
    """Nodal values (n,) of the unknowns; zero where held."""
    return np.where(rows.number >= 0, rows.sign * unknowns[rows.number], 0.0)
