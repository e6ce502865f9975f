"""Unstructured grids for other programs, and where each comes from inside the file.

Points have three columns, data is binary; the facts stand twice, as JSON: in a comment for people, and in the field
data array `about` (bytes of UTF-8) for programs, which skip comments.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from fieldrun.design.arrays import Floats, Ints

PLACE = "<UnstructuredGrid>"
"""Field data stands first in it."""


def write_grid(
    path: Path,
    points_m: Floats,
    cells: tuple[str, Ints],
    at: tuple[Mapping[str, Any], Mapping[str, Any]],
    about: Mapping[str, object],
) -> None:
    """Write one block of cells.

    Parameters
    ----------
    path : the file
    points_m : (n, 3) [m]
    cells : kind as meshio names it, and (e, k) points of each
    at : arrays at points and in cells
    about : facts that travel with the numbers
    """
    import meshio

    point_data, cell_data = at
    mesh = meshio.Mesh(
        points_m, [cells], point_data=dict(point_data), cell_data={key: [value] for key, value in cell_data.items()}
    )
    meshio.vtu.write(path, mesh)
    text = path.read_text(encoding="ascii")
    head, rest = text.split("\n", 1)
    path.write_text(f"{head}\n<!-- {_json(about)} -->\n{rest}", encoding="ascii")
    add_field_data(path, about)


def add_field_data(path: Path, about: Mapping[str, object]) -> None:
    """Put the facts where readers of VTK's format look: an array `about` of the bytes of JSON text."""
    text = _json(about).encode()
    what = f'type="UInt8" Name="about" NumberOfTuples="{len(text)}" format="ascii"'
    array = f"<DataArray {what}>{' '.join(map(str, text))}</DataArray>"
    head, rest = path.read_text(encoding="ascii").split(PLACE, 1)
    path.write_text(f"{head}{PLACE}<FieldData>{array}</FieldData>{rest}", encoding="ascii")


def _json(about: Mapping[str, object]) -> str:
    # two dashes in a row would end the comment early
    return json.dumps(about, ensure_ascii=True, sort_keys=True).replace("--", "-\\u002d")


def upright(places: Floats, vectors: Floats) -> Floats:
    """Vectors (e, 3) along r, theta, z at places (e, 3) r [m], theta [rad], z [m]: along x, y, z, (e, 3), same unit."""
    cosine, sine = np.cos(places[:, 1]), np.sin(places[:, 1])
    radial, around, axial = vectors.T
    return np.column_stack([radial * cosine - around * sine, radial * sine + around * cosine, axial])


def points_of(places: Floats) -> Floats:
    """x, y, z (n, 3) [m] of places (n, 3) r [m], theta [rad], z [m]."""
    r, theta, z = places.T
    return np.column_stack([r * np.cos(theta), r * np.sin(theta), z])
