"""Banded storage against plain dense matrices, with held values, antiperiodic pairs and dense sides."""

import numpy as np
import pytest
import skfem

from fieldrun.design.errors import SolveError
from fieldrun.field.assembly import (
    Numbering,
    added,
    band_matrix,
    dense_sum,
    gather,
    numbering,
    scatter,
    solve_columns,
    spread,
    unknowns_of,
)
from fieldrun.field.section_elements import (
    isotropic_blocks,
    operators,
    second_order_basis,
    tensor_blocks,
    vector_loads,
)

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


@pytest.mark.parametrize("order", ["narrow", "upwards"])
@pytest.mark.parametrize("kind", MESHES)
def test_constraints_and_dense_sides(kind: str, order: str) -> None:
    """The band of constrained unknowns is J' K J, J their nodal values."""
    ops = operators(second_order_basis(MESHES[kind]))
    x, z = ops.places_m
    left, right = (np.flatnonzero(np.abs(x - at) < 1e-12) for at in (0.0, 1.2))
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    held = np.flatnonzero((z < 1e-12) & (x > 1e-9) & (x < 1.2 - 1e-9))
    top = np.flatnonzero(z > 0.8 - 1e-12)
    dense = RNG.uniform(-1, 1, (len(top), len(top)))
    side = dense + dense.T
    tensors = RNG.uniform(-1, 1, (3, *ops.weights.T.shape)) + np.array([5.0, 5.0, 0.0])[:, None, None]
    rows = numbering(ops, held, (left, right), [top], order)  # type: ignore[arg-type]  # from a parameter list
    found = full(
        rows, band_matrix(rows, [(scatter(rows, ops).band, tensor_blocks(ops, tensors)), (dense_sum(rows, top), side)])
    )

    free = numbering(ops, NONE, (NONE, NONE), [top])
    whole = full(
        free, band_matrix(free, [(scatter(free, ops).band, tensor_blocks(ops, tensors)), (dense_sum(free, top), side)])
    )
    nodal = whole[np.ix_(free.number, free.number)]
    basis = joined(rows)
    assert np.abs(found - basis.T @ nodal @ basis).max() < 1e-10
    assert np.all(basis[held] == 0)
    assert np.all(basis[right] == -basis[left])
    load = RNG.uniform(-1, 1, ops.count)
    assert gather(rows, load) == pytest.approx(basis.T @ load)
    vectors = RNG.uniform(-1, 1, (2, ops.dofs.shape[1]))
    local = vector_loads(ops, vectors)
    nodal_load = np.bincount(ops.dofs.ravel(), weights=local.ravel(), minlength=ops.count)
    assert scatter(rows, ops).loads @ local.ravel() == pytest.approx(basis.T @ nodal_load)


def test_one_element_across_an_antiperiodic_box() -> None:
    """Both ends of a pair in one element: their coupling counts twice."""
    mesh = skfem.MeshQuad.init_tensor(np.array([0.0, 1.0]), np.array([0.0, 0.5, 1.0]))
    ops = operators(second_order_basis(mesh))
    x, z = ops.places_m
    left, right = (np.flatnonzero(x == at) for at in (0.0, 1.0))
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    rows, free = numbering(ops, NONE, (left, right), []), numbering(ops, NONE, (NONE, NONE), [])
    factor = np.array([1.0, 3.0])
    found, whole = (
        full(one, band_matrix(one, [(scatter(one, ops).band, isotropic_blocks(ops, factor))])) for one in (rows, free)
    )
    basis = joined(rows)
    assert np.abs(found - basis.T @ whole[np.ix_(free.number, free.number)] @ basis).max() < 1e-12


def test_adding_leaves_the_first_matrix_alone() -> None:
    ops = operators(second_order_basis(MESHES["triangles"]))
    rows = numbering(ops, NONE, (NONE, NONE), [])
    parts = [(scatter(rows, ops).band, isotropic_blocks(ops, np.ones(ops.dofs.shape[1])))]
    band = band_matrix(rows, parts)
    before = band.copy()
    assert added(band, parts) == pytest.approx(2 * before)
    assert np.array_equal(band, before)


def test_upwards_puts_the_highest_last() -> None:
    ops = operators(second_order_basis(MESHES["quads"]))
    rows = numbering(ops, NONE, (NONE, NONE), [], "upwards")
    assert np.all(np.diff(ops.places_m[1, np.argsort(rows.number)]) > -1e-12)


def test_unknowns_of_a_spread_are_themselves() -> None:
    ops = operators(second_order_basis(MESHES["quads"]))
    x, _ = ops.places_m
    rows = numbering(ops, np.flatnonzero(x == 0), (NONE, NONE), [])
    values = RNG.uniform(-1, 1, rows.count)
    assert np.array_equal(unknowns_of(rows, spread(rows, values)), values)


def test_band_is_narrow() -> None:
    """Whichever way the box is long."""
    for shape in ((5, 41), (41, 5)):
        mesh = skfem.MeshQuad.init_tensor(*(np.linspace(0, 1, n) for n in shape))
        rows = numbering(operators(second_order_basis(mesh)), NONE, (NONE, NONE), [])
        assert rows.bandwidth <= 20  # two lines of nine nodes, and two more; there are 729 unknowns


def test_a_matrix_that_is_not_positive_is_refused() -> None:
    with pytest.raises(SolveError, match="too thin somewhere to be solved; are two lengths nearly equal"):
        solve_columns(np.array([[0.0, 2.0], [1.0, 1.0]]), np.ones(2))
