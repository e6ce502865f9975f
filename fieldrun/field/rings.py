"""The field of a machine in three dimensions, one harmonic over theta at a time: the default field map.

Discs are round, so that harmonics meet only in the magnets' recoil permeability (a few per cent above air's) and in
steel that saturates. What passes from one radius to the next, past the magnets' ends and through overhanging discs, is
in.
"""

import numpy as np
from scipy.sparse.linalg import LinearOperator, cg

from fieldrun.design.arrays import Floats
from fieldrun.field.banded import solve_factorised
from fieldrun.field.ring_family import gap_potential, lower_of, lower_potential, solve_gaps
from fieldrun.field.ring_system import Matrix, RingSystem, on_free

ITERATIONS = 150
"""Conjugate gradient steps at most; deep saturation takes over a hundred."""


def solve_linear(system: RingSystem) -> Floats:
    """Potentials of a machine without steel of its own, (n, r, z) [A].

    Raises
    ------
    SolveError
        If the couplings do not converge.
    """
    mesh = system.mesh
    solution = solve_gaps(lower_of(system), [mesh.axial.vertices_m[mesh.gap.first :]])
    return np.concatenate([lower_potential(solution, 0), gap_potential(solution, 0)[:, :, 1:]], axis=2)


def precondition(system: RingSystem, factors: list[Floats], residual: Floats) -> Floats:
    """Solve each harmonic by its own factor; (n, r, z), zero where it is not free."""
    out = np.zeros_like(residual)
    for n, (factor, free) in enumerate(zip(factors, system.free, strict=True)):
        own = residual[n][free]
        out[n][free] = solve_factorised(factor, own.ravel()).reshape(own.shape)
    return out


def conjugate_gradients(
    system: RingSystem, matrix: Matrix, factors: list[Floats], load: Floats, tolerance: float
) -> tuple[Floats, bool]:
    """Solve for the free nodes with scipy's conjugate gradients, each harmonic preconditioned by its own factor.

    Returns
    -------
    Potentials (n, r, z), and whether the residual fell below `tolerance` of the load within `ITERATIONS` steps; what
    was found by then lowers the energy in any case.
    """

    def flat(mapping: Matrix) -> LinearOperator:
        return LinearOperator(
            (load.size, load.size), matvec=lambda x: mapping(x.reshape(load.shape)).ravel(), dtype=float
        )

    found, steps_left_over = cg(
        flat(lambda u: on_free(system, matrix(u))),
        on_free(system, load).ravel(),
        rtol=tolerance,
        maxiter=ITERATIONS,
        M=flat(lambda r: precondition(system, factors, r)),
    )
    return found.reshape(load.shape), steps_left_over == 0
