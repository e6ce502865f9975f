"""LAPACK's Cholesky for symmetric positive definite matrices in banded storage, on one thread."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

import numpy as np
import scipy.linalg
from threadpoolctl import ThreadpoolController

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError

TOO_THIN = "the mesh is too thin somewhere to be solved; are two lengths nearly equal?"


@contextmanager
def one_thread() -> Iterator[None]:
    """Keep LAPACK to one thread.

    A band of a thousand rows is done before a second thread is up; on a busy machine waiting for that thread made a
    solve forty times slower.
    """
    with _blas().limit(limits=1, user_api="blas"):
        yield


@cache
def _blas() -> ThreadpoolController:
    return ThreadpoolController()


def factorise(band: Floats) -> Floats:
    """Cholesky factor of a matrix in lower banded storage, (bandwidth + 1, n), which it overwrites.

    Any unit: `solve_factorised` answers in the load's over the matrix's.

    Raises
    ------
    SolveError
        If the matrix is not positive definite: elements so thin that rounding eats them.
    """
    try:
        return np.asarray(scipy.linalg.cholesky_banded(band, lower=True, overwrite_ab=True, check_finite=False))
    except np.linalg.LinAlgError as error:
        raise SolveError(TOO_THIN) from error


def solve_factorised(factor: Floats, load: Floats) -> Floats:
    """Solve for one load (n,) or several (n, loads) with a factor from `factorise`; shaped like the load."""
    return np.asarray(scipy.linalg.cho_solve_banded((factor, True), load, check_finite=False))
