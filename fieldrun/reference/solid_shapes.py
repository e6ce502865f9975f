"""Second-order tetrahedra that fill a unit cell, and the triangles on its floor and lid.

Each way of walking the unit cell's edges from (0,0,0) to (1,1,1) is one tetrahedron: six in all. Their corners and the
midpoints of their edges are exactly the lattice of half cells, 3 x 3 x 3 nodes, so that nodes need no numbering but
their place. Coordinates are (r, theta, z).
"""

from itertools import combinations, permutations

import numpy as np
from scipy.special import roots_jacobi

from fieldrun.design.arrays import Floats, Ints, frozen_array

WALKS = tuple(permutations(range(3)))
"""Order in which each tetrahedron's corners step along r (0), theta (1) and z (2)."""


def _nodes(corners: Ints) -> Ints:
    """Corners and then midpoints of edges, in half cells, from corners in half cells."""
    middles = [(corners[a] + corners[b]) // 2 for a, b in combinations(range(len(corners)), 2)]
    return np.concatenate([corners, np.stack(middles)])


def _walked(walk: tuple[int, ...]) -> Ints:
    return np.concatenate(
        [np.zeros((1, len(walk)), int), np.cumsum(2 * np.eye(len(walk), dtype=int)[list(walk)], axis=0)]
    )


TET_NODES = frozen_array([_nodes(_walked(walk)) for walk in WALKS], np.int64)
"""(6, 10, 3) place of each tetrahedron's nodes, in half cells."""

TRIANGLE_NODES = frozen_array([_nodes(_walked(walk)) for walk in ((0, 1), (1, 0))], np.int64)
"""(2, 6, 2) place of each triangle's nodes on floor and lid, in half cells; r is walked first, or theta."""

TRIANGLE_BELOW = frozen_array([int(walk.index(0) > walk.index(1)) for walk in WALKS], np.int64)
"""(6,) the triangle of the plane that each tetrahedron stands over."""


def tet_rule(points: int = 2) -> tuple[Floats, Floats]:
    """Points and weights in every tetrahedron; all weights positive, exact to degree 2 points - 1.

    Gauss-Jacobi points over the collapsed cube: a rule with negative weights (the usual one of degree 3 has one) lets
    Newton's matrix lose its sign where steel saturates deeply.

    Returns
    -------
    (6, q, 3) points in the unit cell and (q,) weights; they sum to 1/6
    """
    u, v, w = np.meshgrid(*(_unit_jacobi(points, power) for power in (2, 1, 0)), indexing="ij")
    weights = np.einsum("i,j,k->ijk", *(_unit_weights(points, power) for power in (2, 1, 0))).ravel()
    first, second, third = u.ravel(), ((1 - u) * v).ravel(), ((1 - u) * (1 - v) * w).ravel()
    # steps walked: after the first edge, after the second, after the third
    walked = np.stack([first + second + third, second + third, third], axis=1)
    return np.stack([walked[:, np.argsort(walk)] for walk in WALKS]), weights


def triangle_shapes(points: Floats, triangle: int) -> Floats:
    """Shape functions (q, 6) of one triangle at points (q, 2) of the unit cell."""
    return _shapes(_barycentric(points[:, [triangle, 1 - triangle]]))


def tet_gradients(points: Floats, walk: tuple[int, ...]) -> Floats:
    """Gradients (q, 10, 3) of one tetrahedron's shape functions at points (q, 3), per unit of the cell."""
    bary = _barycentric(points[:, list(walk)])
    slope = np.zeros((4, 3))
    for step, axis in enumerate(walk):
        slope[step, axis] -= 1
        slope[step + 1, axis] += 1
    corners = (4 * bary - 1)[:, :, None] * slope
    middles = [4 * (bary[:, a, None] * slope[b] + bary[:, b, None] * slope[a]) for a, b in combinations(range(4), 2)]
    return np.concatenate([corners, np.stack(middles, axis=1)], axis=1)


def _barycentric(walked: Floats) -> Floats:
    """(q, steps + 1) from coordinates in the order of the walk, which fall along it."""
    ends = np.ones((len(walked), 1)), np.zeros((len(walked), 1))
    return -np.diff(np.concatenate([ends[0], walked, ends[1]], axis=1), axis=1)


def _shapes(bary: Floats) -> Floats:
    middles = [4 * bary[:, a] * bary[:, b] for a, b in combinations(range(bary.shape[1]), 2)]
    return np.concatenate([bary * (2 * bary - 1), np.stack(middles, axis=1)], axis=1)


def _unit_jacobi(points: int, power: int) -> Floats:
    return np.asarray((roots_jacobi(points, power, 0)[0] + 1) / 2)


def _unit_weights(points: int, power: int) -> Floats:
    """Weights for INT_0^1 (1 - u)^power f(u) du."""
    return np.asarray(roots_jacobi(points, power, 0)[1] / 2 ** (power + 1))
