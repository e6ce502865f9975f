"""The waves only steer conjugate gradients: what comes out is the matrix's own solution."""

import numpy as np
import pytest
import scipy.sparse.linalg

from fieldrun.design.errors import SolveError
from fieldrun.design.model import Disc, Magnets, Plate, Rotor
from fieldrun.reference import solid_cg
from fieldrun.reference.solid_cg import conjugate_gradients, wave_preconditioner
from fieldrun.reference.solid_grid import solid_grid
from fieldrun.reference.solid_outline import coverage
from fieldrun.reference.solid_system import linear_system

MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)


@pytest.fixture(scope="module")
def system():
    grid = solid_grid(MAGNETS, Rotor(2, 0.009, Plate(None), None, 0.0, 0.1), [0.002], 0.5)
    return linear_system(grid, MAGNETS, coverage(MAGNETS.outline, 16, grid.radii_m, grid.angles_rad))


@pytest.fixture(scope="module")
def near(system):
    return wave_preconditioner(system.grid, np.ones((3, system.grid.cells[0], system.grid.cells[2])), system.free)


def inner_solution(system, solve):
    """Solve on the free nodes alone."""
    free = system.free
    out = np.zeros(len(free))
    out[free] = solve(system.matrix[free][:, free], system.drive[free])
    return out


def test_direct_solution(system, near):
    direct = inner_solution(system, lambda matrix, right: scipy.sparse.linalg.spsolve(matrix.tocsc(), right))
    found = conjugate_gradients(system.matrix, system.drive, system.free, near, 1e-10)
    assert found == pytest.approx(direct, abs=1e-9 * np.abs(direct).max())


def test_algebraic_multigrid_agrees(system, near):
    """Another preconditioner, which knows the matrix only (pyamg's smoothed aggregation)."""
    pyamg = pytest.importorskip("pyamg")

    def solve(matrix, right):
        waves = pyamg.smoothed_aggregation_solver(scipy.sparse.csr_matrix(matrix))
        return waves.solve(right, tol=1e-11, accel="cg", maxiter=200)

    grids = inner_solution(system, solve)
    found = conjugate_gradients(system.matrix, system.drive, system.free, near, 1e-10)
    assert found == pytest.approx(grids, abs=1e-8 * np.abs(grids).max())


def test_steering_is_symmetric_positive_and_close(system, near):
    rng = np.random.default_rng(3)
    a, b = (system.free * rng.standard_normal(len(system.free)) for _ in range(2))
    assert a @ near(b) == pytest.approx(b @ near(a), rel=1e-9)
    assert a @ near(a) > 0
    calls = []
    conjugate_gradients(
        system.matrix, system.drive, system.free, lambda v: (calls.append(1), near(v))[1], tolerance=1e-8
    )
    assert len(calls) < 30


def test_held_nodes_stay_at_zero(system, near):
    found = conjugate_gradients(system.matrix, system.drive + 1.0, system.free, near, 1e-6)
    assert not found[~system.free].any()


def test_what_does_not_converge_is_no_answer(system, near, monkeypatch):
    monkeypatch.setattr(solid_cg, "MOST_STEPS", 2)
    with pytest.raises(SolveError, match="conjugate gradients did not converge"):
        conjugate_gradients(system.matrix, system.drive, system.free, near, 1e-10)
