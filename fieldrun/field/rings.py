"""The field of a machine in three dimensions, one harmonic over theta at a time: the default field map.

Discs are round, so that harmonics meet only in the magnets' recoil permeability (a few per cent above air's) and in
steel that saturates. What passes from one radius to the next, past the magnets' ends and through overhanging discs, is
in.
"""

from collections.abc import Callable

import numpy as np
from scipy.sparse.linalg import LinearOperator, cg

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.field.banded import factorise, one_thread, solve_factorised
from fieldrun.field.ring_system import RingSystem, linear_bands, linear_part

TOLERANCE = 1e-9
"""Residual of the coupled harmonics, relative to the sources."""

ITERATIONS = 150
"""Conjugate gradient steps at most; recoil permeabilities take three to six, deep saturation over a hundred."""

Matrix = Callable[[Floats], Floats]
"""Something linear that takes potentials (n, r, z) to loads (n, r, z), or back."""


def solve_linear(system: RingSystem) -> Floats:
    """Potentials of a machine without steel of its own, (n, r, z) [A].

    Raises
    ------
    SolveError
        If the couplings do not converge.
    """
    with one_thread():
        factors = [factorise(band) for band in linear_bands(system)]
        if system.magnets is None:
            return precondition(factors, system.sources)
        potential, settled = conjugate_gradients(
            lambda u: linear_part(system, u), lambda r: precondition(factors, r), system.sources, TOLERANCE
        )
    if not settled:
        raise SolveError(f"the harmonics' couplings did not settle within {ITERATIONS} steps")
    return potential


def precondition(factors: list[Floats], residual: Floats) -> Floats:
    """Solve each harmonic by its own factor; the sides of the mesh stay zero."""
    out = np.zeros_like(residual)
    inside = residual[:, 1:-1, 1:-1]
    for n, factor in enumerate(factors):
        out[n, 1:-1, 1:-1] = solve_factorised(factor, inside[n].ravel()).reshape(inside[n].shape)
    return out


def conjugate_gradients(matrix: Matrix, preconditioner: Matrix, load: Floats, tolerance: float) -> tuple[Floats, bool]:
    """Solve for the nodes off the mesh's sides with scipy's conjugate gradients.

    Returns
    -------
    Potentials (n, r, z), and whether the residual fell below `tolerance` of the load within `ITERATIONS` steps; what
    was found by then lowers the energy in any case.
    """

    def flat(mapping: Matrix) -> LinearOperator:
        return LinearOperator((size, size), matvec=lambda x: packed(mapping(unpacked(x, load.shape))), dtype=float)

    right = packed(load)
    size = len(right)
    found, steps_left_over = cg(flat(matrix), right, rtol=tolerance, maxiter=ITERATIONS, M=flat(preconditioner))
    return unpacked(found, load.shape), steps_left_over == 0


def packed(potential: Floats) -> Floats:
    """Values off the mesh's sides as one vector."""
    return potential[:, 1:-1, 1:-1].ravel()


def unpacked(values: Floats, shape: tuple[int, ...]) -> Floats:
    """The reverse of `packed`, with zeros on the sides."""
    out = np.zeros(shape)
    out[:, 1:-1, 1:-1] = values.reshape(shape[0], shape[1] - 2, shape[2] - 2)
    return out
