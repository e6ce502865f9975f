"""The field of a machine in three dimensions, one harmonic over theta at a time: the default field map.

Discs are round, so that harmonics meet only in the magnets' recoil permeability (a few per cent above air's) and in
steel that saturates. What passes from one radius to the next, past the magnets' ends and through overhanging discs, is
in.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import LinearOperator, cg

from fieldrun.design.arrays import Floats, Ints
from fieldrun.field.banded import solve_factorised
from fieldrun.field.ring_family import gap_potential, lower_of, lower_potential, solve_gaps
from fieldrun.field.ring_modes import AirInverse, in_air_alone
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


@dataclass(frozen=True, eq=False)
class Preconditioner:
    """Every harmonic's own block, inverted.

    Parameters
    ----------
    factors : Cholesky factors (bandwidth + 1, unknowns) of the bands of some harmonics, by number
    air : the inverse of the others, which see no steel; their magnets count as air
    """

    factors: Mapping[int, Floats]
    air: AirInverse


def precondition(system: RingSystem, inverse: Preconditioner, residual: Floats) -> Floats:
    """Solve each harmonic on its own: potentials (n, r, z) [A] of a residual (n, r, z) [A m]; zero where not free."""
    out = np.zeros_like(residual)
    for n, factor in inverse.factors.items():
        free = system.free[n]
        own = residual[n][free]
        out[n][free] = solve_factorised(factor, own.ravel()).reshape(own.shape)
    if len(inverse.air.which):
        out[inverse.air.which] = in_air_alone(inverse.air, residual[inverse.air.which])
    return out


def out_of_steel(system: RingSystem) -> Ints:
    """Numbers (m,) of the harmonics none of whose unknowns lies in or on steel."""

    def clear(nodes: slice) -> bool:
        return all(
            one.axial.nodes.stop <= nodes.start or nodes.stop <= one.axial.nodes.start for one in system.mesh.steels
        )

    return np.array([n for n, (_, nodes) in enumerate(system.free) if clear(nodes)], int)


def conjugate_gradients(
    system: RingSystem, matrix: Matrix, inverse: Preconditioner, load: Floats, tolerance: float
) -> tuple[Floats, bool]:
    """Solve for the free nodes with scipy's conjugate gradients, each harmonic preconditioned on its own.

    Parameters
    ----------
    system : for the free nodes
    matrix : what takes potentials [A] to loads [A m]
    inverse : nearly its inverse
    load : (n, r, z) [A m]
    tolerance : residual at which to stop, over the load, both in size

    Returns
    -------
    Potentials (n, r, z) [A], and whether the residual fell below `tolerance` of the load within `ITERATIONS` steps;
    what was found by then lowers the energy in any case.
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
        M=flat(lambda r: precondition(system, inverse, r)),
    )
    return found.reshape(load.shape), steps_left_over == 0
