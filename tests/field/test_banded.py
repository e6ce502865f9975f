"""Banded Cholesky: the answers of dense algebra, one thread, and a plain word for a matrix that is none."""

import numpy as np
import pytest
import threadpoolctl

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.field.banded import factorise, one_thread, solve_factorised

SIZE, WIDTH = 40, 3


def positive() -> Floats:
    """A symmetric positive definite matrix with three diagonals on either side."""
    rng = np.random.default_rng(5)
    lower = np.tril(np.triu(rng.normal(size=(SIZE, SIZE)), -WIDTH))
    np.fill_diagonal(lower, rng.uniform(1, 2, SIZE))
    return np.asarray(lower @ lower.T, float)


def lower_band(matrix: Floats) -> Floats:
    out = np.zeros((WIDTH + 1, SIZE))
    for down in range(WIDTH + 1):
        out[down, : SIZE - down] = np.diagonal(matrix, -down)
    return out


LOADS = np.random.default_rng(6).normal(size=(SIZE, 2))


def test_one_factor_solves_many_loads() -> None:
    factor = factorise(lower_band(positive()))
    for load in LOADS.T:
        np.testing.assert_allclose(solve_factorised(factor, load), np.linalg.solve(positive(), load), rtol=1e-9)
    np.testing.assert_allclose(solve_factorised(factor, LOADS), np.linalg.solve(positive(), LOADS), rtol=1e-9)


@pytest.mark.parametrize("worst", [0.0, -1.0])
def test_a_matrix_that_is_not_positive_is_refused_in_plain_words(worst: float) -> None:
    matrix = positive()
    matrix[17, :] = matrix[:, 17] = 0
    matrix[17, 17] = worst
    said = "the mesh is too thin somewhere to be solved; are two lengths nearly equal\\?"
    with pytest.raises(SolveError, match=said):
        factorise(lower_band(matrix))


def test_one_thread_only_and_only_inside() -> None:
    def threads() -> list[int]:
        return [pool["num_threads"] for pool in threadpoolctl.threadpool_info() if pool["user_api"] == "blas"]

    before = threads()
    with one_thread():
        assert set(threads()) == {1}
        with one_thread():
            assert set(threads()) == {1}
    assert threads() == before
