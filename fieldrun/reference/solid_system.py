"""Matrix and magnets' drive of the solid judge.

The unknown is u = mu0 phi [T m], so that B = -mu_r grad u + J, and div B = 0 in weak form is
INT mu_r [d_r u d_r v + (1/r^2) d_theta u d_theta v + d_z u d_z v] r dr dtheta dz = INT J d_z v r dr dtheta dz.
The right side is remanence times the shape functions' integral over the magnet's upper face less that over its lower.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.model import Magnets
from fieldrun.reference.solid_grid import SolidGrid
from fieldrun.reference.solid_outline import Coverage
from fieldrun.reference.solid_shapes import TET_NODES, TRIANGLE_BELOW, WALKS, tet_gradients, tet_rule

Matrix = scipy.sparse.csr_array


@dataclass(frozen=True, eq=False)
class SolidSystem:
    """Everything of the problem but saturating steel.

    Parameters
    ----------
    grid : the cells
    permeability : (cells over r, theta, z, 6) of each tetrahedron, relative [1]; 0 in steel with a curve
    matrix : (n, n) of all tetrahedra with these permeabilities [m]
    drive : (n,) of the magnets [T m^2]
    free : (n,) nodes where u is not held at 0
    """

    grid: SolidGrid
    permeability: Floats
    matrix: Matrix
    drive: Floats
    free: NDArray[np.bool_]


def linear_system(grid: SolidGrid, magnets: Magnets, cover: Coverage) -> SolidSystem:
    """Assemble magnets and air; cells of steel stay empty."""
    permeability = _permeability(grid, magnets, cover)
    matrix = stiffness(grid, permeability, slice(0, grid.cells[2]))
    return SolidSystem(grid, permeability, matrix, _drive(grid, magnets, cover), _free(grid))


def stiffness(grid: SolidGrid, permeability: Floats, layers: slice) -> Matrix:
    """Matrix (n, n) [m] over all nodes of some layers' tetrahedra; permeability (r, theta, layers, 6) relative."""
    local = _element_matrices(grid, permeability, layers)
    return assembled(local.reshape(-1, 10, 10), element_nodes(grid)[:, :, layers].reshape(-1, 10), grid)


def assembled(local: Floats, nodes: Ints, grid: SolidGrid) -> Matrix:
    """Sum element matrices (e, 10, 10) with nodes (e, 10) into one matrix over all nodes, (n, n), in their unit."""
    size = int(np.prod(grid.nodes))
    rows, columns = np.broadcast_arrays(nodes[:, :, None], nodes[:, None, :])
    places = (rows.ravel().astype(np.int32), columns.ravel().astype(np.int32))
    return scipy.sparse.coo_array((local.ravel(), places), shape=(size, size)).tocsr()


def element_nodes(grid: SolidGrid) -> Ints:
    """Node numbers (cells over r, theta, z, 6, 10) of every tetrahedron."""
    first = np.ix_(*(2 * np.arange(count) for count in grid.cells))
    places = tuple(first[axis][..., None, None] + TET_NODES[:, :, axis] for axis in range(3))
    return np.asarray(np.ravel_multi_index(places, grid.nodes))


def _element_matrices(grid: SolidGrid, permeability: Floats, layers: slice) -> Floats:
    dr, dt, dz = np.diff(grid.radii_m), np.diff(grid.angles_rad), np.diff(grid.heights_m)[layers]
    parts = np.stack(list(_unit_matrices(grid)))  # direction, ring, tetrahedron, 10, 10
    size = np.ix_(dr, dt, dz)
    volume = size[0] * size[1] * size[2]
    scale = np.stack([volume / step**2 for step in size])[..., None] * permeability[:, :, layers]
    return np.asarray(np.einsum("dijkt,ditab->ijktab", scale, parts, optimize=True))


def _unit_matrices(grid: SolidGrid) -> Iterator[Floats]:
    """INT (r, 1/r, r) d v d w over each tetrahedron of a unit cell, for each ring of cells: (rings, 6, 10, 10)."""
    points, weights = tet_rule(3)  # once a ring, so the better rule costs nothing; 1 / r is no polynomial
    gradients = np.stack([tet_gradients(points[t], walk) for t, walk in enumerate(WALKS)])
    radius = grid.radii_m[:-1, None, None] + np.diff(grid.radii_m)[:, None, None] * points[..., 0]
    for axis, power in enumerate((1, -1, 1)):
        slope = gradients[..., axis]
        yield np.einsum("itq,tqa,tqb->itab", weights * radius**power, slope, slope, optimize=True)


def _permeability(grid: SolidGrid, magnets: Magnets, cover: Coverage) -> Floats:
    """Cells that the magnet's outline cuts get the mean by area: the field there runs along the cut."""
    out = np.ones((*grid.cells, 6))
    low, high = grid.magnet_layers
    share = cover.shares[:, :, TRIANGLE_BELOW]
    out[:, :, low:high] = 1 + (magnets.recoil_permeability - 1) * share[:, :, None]
    for _, (bottom, top), (inner, outer) in grid.steels:
        out[inner:outer, :, bottom:top] = 0
    return out


def _drive(grid: SolidGrid, magnets: Magnets, cover: Coverage) -> Floats:
    drive = np.zeros(grid.nodes)
    low, high = grid.magnet_layers
    drive[:, :, 2 * high] += magnets.remanence_t * cover.node_areas_m2
    drive[:, :, 2 * low] -= magnets.remanence_t * cover.node_areas_m2
    return drive.ravel()


def _free(grid: SolidGrid) -> NDArray[np.bool_]:
    """Held: the plane between poles, ideal plates, the middle between two faces, and the far ends over radius."""
    free = np.ones(grid.nodes, bool)
    free[:, -1] = False
    free[-1] = free[0] = False
    if grid.closed_below:
        free[:, :, 0] = False
    if grid.closed_above:
        free[:, :, -1] = False
    return free.ravel()
