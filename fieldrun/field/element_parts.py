"""Second-order elements as four plain ones each: for files and pictures, which know no curved fields."""

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints
from fieldrun.field.magnetostatics import SectionField

PARTS = {
    "triangle": (((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)), ((1, 1), (4, 1), (1, 4), (2, 2)), 6),
    "quad": (((0, 4, 8, 7), (4, 1, 5, 8), (8, 5, 2, 6), (7, 8, 6, 3)), ((1, 1), (3, 1), (3, 3), (1, 3)), 4),
}
"""Second-order elements cut in four along their middles: local nodes of each part, and its centre in such shares."""


def element_parts(field: SectionField) -> Ints:
    """Degrees of freedom at the corners of each part, (4 e, 3 or 4)."""
    local, _, _ = PARTS[_kind(field)]
    return np.asarray(field.basis.element_dofs[np.array(local)].transpose(2, 0, 1).reshape(-1, len(local[0])))


def flux_in_parts(field: SectionField) -> Floats:
    """B_x, B_z at the centre of each part, (4 e, 2) [T]."""
    _, centres, share = PARTS[_kind(field)]
    where = np.array(centres, float).T / share
    basis = skfem.CellBasis(field.mesh.mesh, field.basis.elem, quadrature=(where, np.full(4, 0.25)))
    slope = basis.interpolate(field.potential).grad
    return np.stack([-slope[1], slope[0]], axis=-1).reshape(-1, 2)


def _kind(field: SectionField) -> str:
    return "triangle" if isinstance(field.mesh.mesh, skfem.MeshTri) else "quad"
