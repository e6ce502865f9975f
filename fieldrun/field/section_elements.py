"""Second-order elements at given points: gradients, element matrices and element loads, each by one matrix product.

scikit-fem supplies shape functions, quadrature and degrees of freedom, on the reference element and once; a design adds
the Jacobians of its own points. Straight elements (triangles, parallelograms) need one set of metrics each, bent ones a
set at every Gauss point. A section's physics never appears here. Elements come last in every array. Reference elements
have no unit; over a section, gradients divide by [m] and integrals multiply by [m^2].
"""

from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Literal

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints

GAUSS_ORDER = 4
"""Polynomial degree integrated exactly: 3 x 3 points on quadrilaterals, 6 on triangles."""

STRAIGHT = 1e-9
"""Elements whose Jacobian varies by less than this share are parallelograms or triangles: one set of metrics serves."""


@dataclass(frozen=True, eq=False)
class Reference:
    """Second-order shape functions on the reference element.

    Parameters
    ----------
    slopes : (2, q, i) derivative of each shape function along the reference axes at the Gauss points [1]
    weights : (q,) of the Gauss points [1]
    corner_slopes : (2, q, c) the same of the straight-sided geometry [1]
    corner_values : (i, c) weights of the corners at each degree of freedom's place [1]
    """

    slopes: Floats
    weights: Floats
    corner_slopes: Floats
    corner_values: Floats

    @cached_property
    def upper(self) -> tuple[Ints, Ints]:
        """The pairs (i, j >= i) that a symmetric element matrix consists of, each (s,)."""
        return np.triu_indices(self.slopes.shape[2])

    @cached_property
    def varying(self) -> Floats:
        """(s, 3 q) element matrix of a unit tensor component (11, 22, 12) at one Gauss point."""
        i, j = self.upper
        first, second = self.slopes
        products = first[:, i] * first[:, j], second[:, i] * second[:, j]
        mixed = first[:, i] * second[:, j] + second[:, i] * first[:, j]
        return np.ascontiguousarray((np.stack([*products, mixed]) * self.weights[:, None]).reshape(-1, len(i)).T)

    @cached_property
    def constant(self) -> Floats:
        """(s, 3) element matrix of a unit tensor component (11, 22, 12) that is the same all over the element [1]."""
        return np.ascontiguousarray(self.varying.reshape(len(self.varying), 3, -1).sum(axis=2))

    @cached_property
    def load_varying(self) -> Floats:
        """(i, 2 q) load of a unit vector component at one Gauss point."""
        weighted = self.slopes * self.weights[:, None]
        return np.ascontiguousarray(weighted.reshape(-1, weighted.shape[2]).T)

    @cached_property
    def load_constant(self) -> Floats:
        """(i, 2) load of a unit vector component that is the same all over the element [1]."""
        return np.ascontiguousarray(self.load_varying.reshape(len(self.load_varying), 2, -1).sum(axis=2))


@cache
def reference(kind: Literal["quads", "triangles"]) -> Reference:
    """Tables of nine-node quadrilaterals or six-node triangles."""
    quads = kind == "quads"
    element, flat = _element(quads), skfem.ElementQuad1() if quads else skfem.ElementTriP1()
    points, weights = skfem.quadrature.get_quadrature(flat.refdom, GAUSS_ORDER)
    slopes, corner_slopes = (
        np.stack([one.lbasis(points, i)[1] for i in range(len(one.doflocs))], axis=2) for one in (element, flat)
    )
    places = np.asarray(element.doflocs).T
    values = np.stack([flat.lbasis(places, c)[0] for c in range(len(flat.doflocs))], axis=1)
    return Reference(slopes, weights, corner_slopes, values)


def _element(quads: bool) -> skfem.Element:
    return skfem.ElementQuad2() if quads else skfem.ElementTriP2()


def second_order_basis(mesh: skfem.Mesh) -> skfem.CellBasis:
    """Second-order basis on a mesh: nine-node quadrilaterals or six-node triangles."""
    return skfem.CellBasis(mesh, _element(isinstance(mesh, skfem.MeshQuad)), intorder=GAUSS_ORDER)


@dataclass(frozen=True, eq=False)
class Operators:
    """Second-order elements of one topology, put at points.

    Parameters
    ----------
    element : their reference tables
    corners : (c, e) points of each element
    dofs : (i, e) degree of freedom of each local shape function
    count : how many degrees of freedom
    points_m : (2, v) x and z of the points [m]
    straight : whether every element is a triangle or a parallelogram
    """

    element: Reference
    corners: Ints
    dofs: Ints
    count: int
    points_m: Floats
    straight: bool

    @cached_property
    def jacobian(self) -> Floats:
        """(l, k, g, e) derivative along reference axis l of coordinate k [m]; g is 1 for straight elements, else q."""
        if self.straight:  # two sides of the parallelogram, from the first corner to the second and to the last
            first, second, last = self.points_m[:, self.corners[[0, 1, -1]]].swapaxes(0, 1)
            return np.array([second - first, last - first])[:, :, None, :]
        places = self.points_m[:, self.corners]  # (2, c, e)
        return np.stack([np.matmul(one, places) for one in self.element.corner_slopes])  # (l, k, g, e)

    @cached_property
    def determinant(self) -> Floats:
        """(g, e) signed area of an element over that of the reference element [m^2]."""
        (a, b), (c, d) = self.jacobian
        return np.asarray(a * d - b * c)

    @cached_property
    def weights(self) -> Floats:
        """(e, q) area of each Gauss point [m^2]."""
        return np.asarray((np.abs(self.determinant) * self.element.weights[:, None]).T)

    @cached_property
    def places_m(self) -> Floats:
        """(2, n) where each degree of freedom sits [m]."""
        places = np.empty((2, self.count))
        places[:, self.dofs] = np.matmul(self.element.corner_values, self.points_m[:, self.corners])
        return places

    def at(self, points_m: Floats) -> "Operators":
        """The same topology at other points (2, v) [m]; elements must stay straight where they were."""
        return replace(self, points_m=points_m)

    def part(self, elements: Ints) -> "Operators":
        """Some of the elements, by number (k,) or mask (e,)."""
        return replace(self, corners=self.corners[:, elements], dofs=self.dofs[:, elements])


def operators(basis: skfem.CellBasis) -> Operators:
    """The operators of a basis from `second_order_basis`."""
    mesh = basis.mesh
    tables = reference("quads" if isinstance(mesh, skfem.MeshQuad) else "triangles")
    ops = Operators(tables, mesh.t, basis.element_dofs, int(basis.N), mesh.p, straight=False)
    varies = np.ptp(ops.jacobian, axis=2).max(axis=(0, 1)) > STRAIGHT * np.abs(ops.jacobian).max(axis=(0, 1, 2))
    return replace(ops, straight=not varies.any())


def gradient_of(ops: Operators, values: Floats) -> Floats:
    """Gradient of a field of nodal values (n,) at the Gauss points, (2, q, e) [their unit per m]."""
    along = np.matmul(ops.element.slopes, values[ops.dofs])  # (l, q, e)
    (a, b), (c, d) = ops.jacobian
    return np.stack([d * along[0] - b * along[1], a * along[1] - c * along[0]]) / ops.determinant


def isotropic_blocks(ops: Operators, factor: Floats) -> Floats:
    """Element matrices of INT factor grad u . grad v, (s, e): pairs (i, j >= i) as in `Reference.upper`.

    Parameters
    ----------
    ops : the elements
    factor : (e,), whose unit the matrices have
    """
    (a, b), (c, d) = ops.jacobian
    scale = factor / np.abs(ops.determinant)
    metric = np.array([(c * c + d * d) * scale, (a * a + b * b) * scale, -(a * c + b * d) * scale])
    return np.asarray((ops.element.constant if ops.straight else ops.element.varying) @ _flat(metric))


def tensor_blocks(ops: Operators, tensors: Floats) -> Floats:
    """Element matrices of INT grad u . (tensor grad v), (s, e).

    Parameters
    ----------
    ops : the elements
    tensors : (3, q, e) symmetric material tensors on (d/dx, d/dz): components xx, zz, xz, whose unit the matrices have
    """
    (a, b), (c, d) = ops.jacobian
    xx, zz, xz = tensors
    metric = np.array(
        [
            d * d * xx - 2 * c * d * xz + c * c * zz,
            b * b * xx - 2 * a * b * xz + a * a * zz,
            (a * d + b * c) * xz - b * d * xx - a * c * zz,
        ]
    ) / np.abs(ops.determinant)
    return np.asarray(ops.element.varying @ _flat(metric))


def vector_loads(ops: Operators, vectors: Floats) -> Floats:
    """Element loads INT vector . grad v, (i, e).

    Parameters
    ----------
    ops : the elements
    vectors : (2, e), or (2, q, e) at the Gauss points, along x and z; the loads have their unit times [m]
    """
    (a, b), (c, d) = ops.jacobian
    x, z = vectors if vectors.ndim == 3 else vectors[:, None]
    sign = np.sign(ops.determinant)
    along = np.array([(d * x - c * z) * sign, (a * z - b * x) * sign])
    return np.asarray((ops.element.load_constant if along.shape[1] == 1 else ops.element.load_varying) @ _flat(along))


def _flat(values: Floats) -> Floats:
    return values.reshape(-1, values.shape[-1])
