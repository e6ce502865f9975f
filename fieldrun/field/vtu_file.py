"""A solved section for other programs: VTK's unstructured grid, readable by any viewer."""

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.units import MU0
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.steel import field_strength

PARTS = {
    "triangle": (((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)), ((1, 1), (4, 1), (1, 4), (2, 2)), 6),
    "quad": (((0, 4, 8, 7), (4, 1, 5, 8), (8, 5, 2, 6), (7, 8, 6, 3)), ((1, 1), (3, 1), (3, 3), (1, 3)), 4),
}
"""Second-order elements cut in four along their middles: local nodes of each part, and its centre in such shares."""


def write_vtu(path: Path, field: SectionField, about: Mapping[str, object]) -> None:
    """Write a section's field: every element as four plain ones, so that no node of the solution is lost.

    At points `A` [Wb/m]; in cells `B` (three columns: along x, along z, 0) and `B_magnitude` [T], `region` (index,
    -1 in air) and `relative_permeability`. Lengths in m, the shaft along y. `about` and the regions' names stand as
    JSON in a comment at the top.

    Parameters
    ----------
    path : the file
    field : a solved section
    about : version, design hash, mesh, error estimate: whatever must travel with the numbers
    """
    import meshio

    kind = "triangle" if isinstance(field.mesh.mesh, skfem.MeshTri) else "quad"
    flux = _flux_in_parts(field, kind)
    region = np.repeat(field.mesh.region, 4)
    size = np.linalg.norm(flux, axis=1)
    places = field.basis.doflocs.T
    mesh = meshio.Mesh(
        np.column_stack([places, np.zeros(len(places))]),
        [(kind, _parts(field, kind))],
        point_data={"A": field.potential.copy()},
        cell_data={
            "B": [np.column_stack([flux, np.zeros(len(flux))])],
            "B_magnitude": [size],
            "region": [region],
            "relative_permeability": [_permeability(field, region, size)],
        },
    )
    meshio.vtu.write(path, mesh)
    _add_comment(path, {**about, "regions": [region.name for region in field.section.regions]})


def _parts(field: SectionField, kind: str) -> Ints:
    """Degrees of freedom at the corners of each part, (4 e, corners)."""
    local, _, _ = PARTS[kind]
    return np.asarray(field.basis.element_dofs[np.array(local)].transpose(2, 0, 1).reshape(-1, len(local[0])))


def _flux_in_parts(field: SectionField, kind: str) -> Floats:
    """B at the centre of each part, (4 e, 2) [T]."""
    _, centres, share = PARTS[kind]
    where = np.array(centres, float).T / share
    basis = skfem.CellBasis(field.mesh.mesh, field.basis.elem, quadrature=(where, np.full(4, 0.25)))
    slope = basis.interpolate(field.potential).grad
    return np.stack([-slope[1], slope[0]], axis=-1).reshape(-1, 2)


def _permeability(field: SectionField, region: Ints, size: Floats) -> Floats:
    """B / (mu0 H), without the magnets' remanence; steel at rest keeps its first slope."""
    known = np.array([r.permeability for r in field.section.regions] + [1.0])[region]
    for index, one in enumerate(field.section.regions):
        if one.steel is not None:
            here = region == index
            strength, slope = field_strength(one.steel, size[here])
            still = size[here] == 0
            known[here] = np.where(still, 1 / slope, size[here] / np.where(still, 1.0, strength)) / MU0
    return known


def _add_comment(path: Path, about: Mapping[str, object]) -> None:
    """Put a JSON comment under the XML declaration; two dashes in a row would end it early."""
    text = json.dumps(about, ensure_ascii=True, sort_keys=True).replace("--", "-\\u002d")
    head, rest = path.read_text(encoding="ascii").split("\n", 1)
    path.write_text(f"{head}\n<!-- {text} -->\n{rest}", encoding="ascii")
