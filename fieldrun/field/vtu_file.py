"""A solved section for other programs: VTK's unstructured grid, readable by any viewer."""

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.magnetisation import field_strength
from fieldrun.design.units import MU0
from fieldrun.field.element_parts import element_parts, flux_in_parts
from fieldrun.field.magnetostatics import SectionField


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

    corners, flux = element_parts(field), flux_in_parts(field)
    region = np.repeat(field.mesh.region, 4)
    size = np.linalg.norm(flux, axis=1)
    places = field.basis.doflocs.T
    mesh = meshio.Mesh(
        np.column_stack([places, np.zeros(len(places))]),
        [("triangle" if corners.shape[1] == 3 else "quad", corners)],
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
