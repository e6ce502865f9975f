"""Element matrices, loads and gradients against scikit-fem's own assembly, on straight and bent elements."""

import numpy as np
import pytest
import skfem
from skfem.helpers import dot, grad

from fieldrun.field.section_elements import (
    Operators,
    gradient_of,
    isotropic_blocks,
    operators,
    second_order_basis,
    tensor_blocks,
    vector_loads,
)

RNG = np.random.default_rng(11)
X, Z = np.array([0.0, 0.3, 1.0, 1.2]), np.array([0.0, 0.5, 0.8])


def bent() -> skfem.MeshQuad:
    """Quadrilaterals that are no parallelograms."""
    mesh = skfem.MeshQuad.init_tensor(X, Z)
    x, z = mesh.p
    return skfem.MeshQuad(np.stack([x + 0.2 * x * z, z + 0.1 * x * z]), mesh.t)


def mirrored() -> skfem.MeshTri:
    """Some triangles run clockwise."""
    mesh = skfem.MeshTri.init_tensor(X, Z)
    return skfem.MeshTri(mesh.p * np.array([[-1.0], [1.0]]), mesh.t)


MESHES = {
    "quads": skfem.MeshQuad.init_tensor(X, Z),
    "triangles": skfem.MeshTri.init_tensor(X, Z),
    "clockwise": mirrored(),
    "bent": bent(),
}


def summed(ops: Operators, matrices: np.ndarray) -> np.ndarray:
    """The full matrix of element matrices."""
    out = np.zeros((ops.count, ops.count))
    for i, j, values in zip(*ops.element.upper, matrices, strict=True):
        np.add.at(out, (ops.dofs[i], ops.dofs[j]), values)
        if i != j:
            np.add.at(out, (ops.dofs[j], ops.dofs[i]), values)
    return out


@pytest.mark.parametrize("kind", MESHES)
def test_matrices_as_scikit_fem_sums_them(kind: str) -> None:
    basis = second_order_basis(MESHES[kind])
    ops = operators(basis)
    assert ops.straight == (kind != "bent")
    factor = RNG.uniform(1, 2, ops.dofs.shape[1])
    form = skfem.BilinearForm(lambda u, v, w: w["factor"] * dot(grad(u), grad(v)))
    wanted = skfem.asm(form, basis, factor=np.broadcast_to(factor[:, None], ops.weights.shape)).toarray()
    assert np.abs(summed(ops, isotropic_blocks(ops, factor)) - wanted).max() < 1e-12 * np.abs(wanted).max()
    tensors = RNG.uniform(1, 2, (3, *ops.weights.T.shape))
    xx, zz, xz = (one.T for one in tensors)
    form = skfem.BilinearForm(
        lambda u, v, w: (
            w["xx"] * u.grad[0] * v.grad[0]
            + w["zz"] * u.grad[1] * v.grad[1]
            + w["xz"] * (u.grad[0] * v.grad[1] + u.grad[1] * v.grad[0])
        )
    )
    wanted = skfem.asm(form, basis, xx=xx, zz=zz, xz=xz).toarray()
    assert np.abs(summed(ops, tensor_blocks(ops, tensors)) - wanted).max() < 1e-12 * np.abs(wanted).max()


@pytest.mark.parametrize("kind", MESHES)
def test_loads_as_scikit_fem_sums_them(kind: str) -> None:
    basis = second_order_basis(MESHES[kind])
    ops = operators(basis)
    form = skfem.LinearForm(lambda v, w: w["x"] * v.grad[0] + w["z"] * v.grad[1])
    for shape in ((2, ops.dofs.shape[1]), (2, *ops.weights.T.shape)):
        vectors = RNG.uniform(-1, 1, shape)
        x, z = (np.broadcast_to(one, ops.weights.T.shape).T for one in vectors)
        wanted = skfem.asm(form, basis, x=x, z=z)
        found = np.bincount(ops.dofs.ravel(), weights=vector_loads(ops, vectors).ravel(), minlength=ops.count)
        assert np.abs(found - wanted).max() < 1e-12


@pytest.mark.parametrize("kind", MESHES)
def test_gradient_of_a_quadratic_is_exact(kind: str) -> None:
    basis = second_order_basis(MESHES[kind])
    ops = operators(basis)
    x, z = ops.places_m
    assert np.abs(ops.places_m - basis.doflocs).max() < 1e-14
    values = x**2 - 3 * x * z + z if kind != "bent" else 2 * x - z
    gx, gz = basis.global_coordinates()
    wanted = (2 * gx - 3 * gz, 1 - 3 * gx) if kind != "bent" else (2 + 0 * gx, 0 * gx - 1)
    assert np.abs(gradient_of(ops, values) - np.stack([one.T for one in wanted])).max() < 1e-12


@pytest.mark.parametrize("kind", MESHES)
def test_weights_sum_to_the_area(kind: str) -> None:
    basis = second_order_basis(MESHES[kind])
    assert operators(basis).weights == pytest.approx(basis.dx)


def test_other_points_are_another_design() -> None:
    ops = operators(second_order_basis(MESHES["quads"]))
    wide = ops.at(ops.points_m * np.array([[2.0], [1.0]]))
    assert wide.weights == pytest.approx(2 * ops.weights)
    assert wide.part(np.array([3, 1])).weights == pytest.approx(wide.weights[[3, 1]])
