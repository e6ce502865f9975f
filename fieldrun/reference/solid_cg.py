"""Conjugate gradients for the solid judge, preconditioned wave by wave.

The preconditioner is the seven-point operator of the lattice of nodes with permeabilities averaged over theta: waves
cos((2 m + 1) p theta) then part, and each is a banded system over (r, z). The matrix solved is still the tetrahedra's.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse.linalg
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.reference.solid_grid import SolidGrid, with_midpoints
from fieldrun.reference.solid_system import Matrix

MOST_STEPS = 2000
"""Conjugate gradients take 15 to 300 steps."""

Solve = Callable[[Floats], Floats]


def conjugate_gradients(
    matrix: Matrix, right: Floats, free: NDArray[np.bool_], precondition: Solve, tolerance: float
) -> Floats:
    """Solve matrix u = right on the free nodes, u = 0 on the others.

    Parameters
    ----------
    matrix : (n, n) symmetric, positive definite on the free nodes [m]
    right, free : (n,) right side [T m^2]; True where u is not held
    precondition : an approximate inverse, (n,) to (n,)
    tolerance : of the residual, as a share of the right side

    Raises
    ------
    SolveError
        If the residual does not fall to `tolerance` times the right side.
    """
    held = scipy.sparse.linalg.LinearOperator(matrix.shape, lambda v: free * (matrix @ v), dtype=np.float64)
    smooth = scipy.sparse.linalg.LinearOperator(
        matrix.shape, lambda v: free * precondition(np.where(free, v, 0.0)), dtype=np.float64
    )
    solution, steps = scipy.sparse.linalg.cg(
        held, np.where(free, right, 0.0), rtol=tolerance, maxiter=MOST_STEPS, M=smooth
    )
    if steps:
        raise SolveError("the solid model's equations could not be solved: conjugate gradients did not converge")
    return np.asarray(solution)


@dataclass(frozen=True, eq=False)
class _Lattice:
    """Half cells over r and z, with permeabilities (3, half cells over r, over z) along r, theta and z."""

    radii: Floats
    heights: Floats
    permeability: Floats


def wave_preconditioner(grid: SolidGrid, permeability: Floats, free: NDArray[np.bool_]) -> Solve:
    """Approximate inverse of the stiffness matrix, (n,) [T m^2] to (n,) [T m].

    On even steps s of theta a wave has the curvature (2 - 2 cos((2 m + 1) p s)) / s^2; for each wave one Cholesky
    factor over r and z (Fourier's method for separable equations).

    Parameters
    ----------
    grid : the cells
    permeability : (3, cells over r, cells over z) relative, along r, theta and z, averaged over theta
    free : (n,) nodes where the unknown is not held at 0
    """
    fine = permeability.repeat(2, axis=1).repeat(2, axis=2)
    lattice = _Lattice(with_midpoints(grid.radii_m), with_midpoints(grid.heights_m), fine)
    angles = with_midpoints(grid.angles_rad)[:-1]
    step = angles[1] - angles[0]
    orders = 2 * np.arange(len(angles)) + 1
    waves = np.cos(grid.pole_pairs * np.outer(angles, orders))
    plane, bending = _plane_operators(lattice)
    held = ~free.reshape(grid.nodes)[:, 0]
    curvature = (2 - 2 * np.cos(grid.pole_pairs * orders * step)) / step**2
    factors = [_factor(step * plane, step * value * bending, held) for value in curvature]
    return lambda right: _apply(factors, waves, right.reshape(grid.nodes))


def _apply(factors: list[Floats], waves: Floats, right: Floats) -> Floats:
    out = np.zeros_like(right)
    parts = np.einsum("jm,ijk->mik", waves, right[:, :-1], optimize=True) * (2 / len(factors))
    solved = np.stack(
        [
            scipy.linalg.cho_solve_banded((factor, False), part.ravel(), check_finite=False)
            for factor, part in zip(factors, parts, strict=True)
        ]
    )
    out[:, :-1] = np.einsum("jm,mik->ijk", waves, solved.reshape(parts.shape), optimize=True)
    return out.ravel()


def _plane_operators(lattice: _Lattice) -> tuple[Floats, Floats]:
    """Links between neighbours (3: own, to the next height, to the next radius) and the weight of d^2/dtheta^2."""
    dr, dz = np.diff(lattice.radii), np.diff(lattice.heights)
    middle = (lattice.radii[:-1] + lattice.radii[1:]) / 2
    mu_r, mu_t, mu_z = lattice.permeability
    area = np.multiply.outer(dr, dz)
    to_radius = _beside(mu_r * area * (middle / dr**2)[:, None], axis=1)
    to_height = _beside(mu_z * area * middle[:, None] / dz**2, axis=0)
    bending = _beside(_beside(mu_t * area / middle[:, None], axis=1), axis=0)
    links = np.zeros((3, *bending.shape))
    links[1, :, :-1], links[2, :-1] = -to_height, -to_radius
    links[0, :, :-1] += to_height
    links[0, :, 1:] += to_height
    links[0, :-1] += to_radius
    links[0, 1:] += to_radius
    return links, bending


def _beside(values: Floats, axis: int) -> Floats:
    """Half of each cell's value to the node before it and half to the node behind."""
    pad = [(0, 0), (0, 0)]
    pad[axis] = (1, 1)
    padded = np.moveaxis(np.pad(values, pad), axis, 0)
    return np.moveaxis((padded[:-1] + padded[1:]) / 2, 0, axis)


def _factor(links: Floats, bending: Floats, held: NDArray[np.bool_]) -> Floats:
    """Banded Cholesky factor over (r, z), heights running fastest."""
    width = links.shape[2]
    own = np.where(held, 1.0, links[0] + bending)
    up = links[1] * ~held
    up[:, :-1] *= ~held[:, 1:]
    out = links[2] * ~held
    out[:-1] *= ~held[1:]
    band = np.zeros((width + 1, own.size))
    band[-1] = own.ravel()
    band[-2, 1:] = up.ravel()[:-1]
    band[0, width:] = out.ravel()[:-width]
    return np.asarray(scipy.linalg.cholesky_banded(band, check_finite=False))
