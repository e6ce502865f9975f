"""Banded storage against plain dense matrices, with held values, antiperiodic pairs and dense sides."""

import numpy as np
import pytest
import skfem
from skfem.helpers import dot, grad

from fieldrun.design.errors import SolveError
from fieldrun.field.assembly import (
    Block,
    Numbering,
    band_matrix,
    element_blocks,
    gather,
    gradient_of,
    numbering,
    operators,
    second_order_basis,
    spread,
)
from fieldrun.field.banded import solve_band

NONE = np.array([], np.int64)
RNG = np.random.default_rng(7)
MESHES = {
    "quads": skfem.MeshQuad.init_tensor(np.array([0.0, 0.3, 1.0, 1.2]), np.array([0.0, 0.5, 0.8])),
    "triangles": skfem.MeshTri.init_tensor(np.array([0.0, 0.3, 1.0, 1.2]), np.array([0.0, 0.5, 0.8])),
}


def full(rows: Numbering, band: np.ndarray) -> np.ndarray:
    """The symmetric matrix of upper banded storage."""
    matrix = np.zeros((rows.count, rows.count))
    for above in range(rows.bandwidth + 1):
        diagonal = band[rows.bandwidth - above, above:]
        matrix += np.diag(diagonal, above) + (np.diag(diagonal, -above) if above else 0)
    return matrix


def joined(rows: Numbering) -> np.ndarray:
    """(n, unknowns) nodal values of each unknown."""
    return np.stack([spread(rows, unit) for unit in np.eye(rows.count)], axis=1)


@pytest.mark.parametrize("kind", MESHES)
def test_elements_as_another_library_sums_them(kind: str) -> None:
    basis = second_order_basis(MESHES[kind])
    ops = operators(basis)
    factor = RNG.uniform(1, 2, ops.weights.shape)
    tensors = factor[:, :, None, None] * np.eye(2)
    rows = numbering(ops, NONE, (NONE, NONE), [])
    found = full(rows, band_matrix(rows, [element_blocks(ops, tensors)]))
    wanted = skfem.asm(skfem.BilinearForm(lambda u, v, w: w["factor"] * dot(grad(u), grad(v))), basis, factor=factor)
    order = np.argsort(rows.number)
    assert np.abs(found - wanted.toarray()[np.ix_(order, order)]).max() < 1e-12


@pytest.mark.parametrize("kind", MESHES)
def test_constraints_and_dense_sides(kind: str) -> None:
    """The band of constrained unknowns is J' K J, J their nodal values."""
    ops = operators(second_order_basis(MESHES[kind]))
    x, z = ops.places_m
    left, right = (np.flatnonzero(np.abs(x - at) < 1e-12) for at in (0.0, 1.2))
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    held = np.flatnonzero((z < 1e-12) & (x > 1e-9) & (x < 1.2 - 1e-9))
    top = np.flatnonzero(z > 0.8 - 1e-12)
    dense = RNG.uniform(-1, 1, (len(top), len(top)))
    side = Block(top[None], (dense + dense.T)[None])
    upright = np.moveaxis(RNG.uniform(-1, 1, (2, 2, *ops.weights.shape)), (0, 1), (2, 3))
    tensors = upright + upright.swapaxes(2, 3) + 5 * np.eye(2)
    rows = numbering(ops, held, (left, right), [top])
    found = full(rows, band_matrix(rows, [element_blocks(ops, tensors), side]))

    free = numbering(ops, NONE, (NONE, NONE), [top])
    whole = full(free, band_matrix(free, [element_blocks(ops, tensors), side]))
    nodal = whole[np.ix_(free.number, free.number)]
    basis = joined(rows)
    assert np.abs(found - basis.T @ nodal @ basis).max() < 1e-10
    assert np.all(basis[held] == 0)
    assert np.all(basis[right] == -basis[left])
    load = RNG.uniform(-1, 1, ops.count)
    assert gather(rows, load) == pytest.approx(basis.T @ load)


def test_gradient_of_a_quadratic_is_exact() -> None:
    for mesh in MESHES.values():
        basis = second_order_basis(mesh)
        ops = operators(basis)
        x, z = ops.places_m
        gradient = gradient_of(ops, x**2 - 3 * x * z + z)
        gx, gz = basis.global_coordinates()
        assert np.abs(gradient - np.stack([2 * gx - 3 * gz, 1 - 3 * gx], axis=2)).max() < 1e-12


def test_weights_sum_to_the_area() -> None:
    for mesh in MESHES.values():
        assert operators(second_order_basis(mesh)).weights.sum() == pytest.approx(1.2 * 0.8)


def test_band_is_narrow() -> None:
    mesh = skfem.MeshQuad.init_tensor(np.linspace(0, 1, 5), np.linspace(0, 1, 41))
    rows = numbering(operators(second_order_basis(mesh)), NONE, (NONE, NONE), [])
    assert rows.bandwidth < 40  # about three lines of nine nodes; there are 729 unknowns


def test_a_matrix_that_is_not_positive_is_refused() -> None:
    with pytest.raises(SolveError, match="too thin somewhere to be solved; are two lengths nearly equal"):
        solve_band(np.array([[0.0, 2.0], [1.0, 1.0]]), np.ones(2))
