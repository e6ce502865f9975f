"""Gmsh's MSH files with named groups, read and written through meshio: no physics in here.

Written is MSH 4.1 binary only: meshio's text form is corrupt under numpy 2. Read is whatever version meshio knows.
"""

import contextlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse
from scipy.sparse.csgraph import maximum_bipartite_matching

from fieldrun.design.arrays import Floats, Ints, frozen_array

CORNERS = {"triangle": 3, "triangle6": 3, "quad": 4, "quad8": 4, "quad9": 4}
"""Corners of the plane elements that are understood; further points must lie halfway along the sides."""

ENDS = {"line": 2, "line3": 2}

STRAIGHT = 1e-6
"""How far a point of a second-order element may lie off the middle of its side, over the mesh's extent."""


MOST_ELEMENTS = 10_000
"""A section that is solved in some twenty seconds; one that is exact to 0.01 % has a few hundred."""

LARGEST_BYTES = 5_000_000
"""Several times what so many elements take as text."""

COARSER = "Elements of a twelfth of the pole pitch, five times finer at the magnets' corners, are fine enough"


class MshError(ValueError):
    """A mesh file that cannot be understood; the message says why."""


@dataclass(frozen=True, eq=False)
class GroupedMesh:
    """A plane mesh in the file's own units and names.

    Parameters
    ----------
    points : (2, n) x along the motion, z along the shaft (the file's x and y), in the file's unit: mm if it is right
    cells : (3 or 4, e) corners of each element
    group : (e,) index into `groups`
    groups : names of groups of elements
    lines : (2, l) ends of the sides in each named group of sides
    """

    points: Floats
    cells: Ints
    group: Ints
    groups: tuple[str, ...]
    lines: dict[str, Ints]

    def __post_init__(self) -> None:
        """Lock the arrays."""
        object.__setattr__(self, "points", frozen_array(self.points))
        for name in ("cells", "group"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))


def read_msh(path: Path) -> GroupedMesh:
    """Read a mesh of triangles or quadrilaterals; quadrilaterals among triangles are cut in two.

    Raises
    ------
    OSError
        If the file cannot be opened.
    MshError
        If it is no mesh, lies in another plane, or has other or curved elements.
    """
    import meshio

    if path.stat().st_size > LARGEST_BYTES:
        raise MshError(f"is larger than {LARGEST_BYTES // 1_000_000} MB; is this the right file? {COARSER}")
    try:
        unheard = io.StringIO()  # meshio says there what it stumbles over, in the file's own letters
        with warnings.catch_warnings(), contextlib.redirect_stdout(unheard), contextlib.redirect_stderr(unheard):
            warnings.simplefilter("ignore")
            mesh = meshio.gmsh.read(path)
    except OSError:
        raise
    except Exception as error:  # whatever a broken file trips meshio over
        raise MshError(_unread(error)) from error
    return _grouped(mesh)


def _unread(error: Exception) -> str:
    if "gmsh:physical" in str(error):  # meshio has tags for some blocks of elements only
        return "some elements belong to no physical group; give every surface one, and leave Mesh.SaveAll off"
    return (
        "cannot be read as a gmsh mesh (.msh); it must hold points and elements and be whole. "
        "Save it anew with Mesh.Binary = 1 and Mesh.MshFileVersion = 4.1"
    )


def _grouped(mesh: Any) -> GroupedMesh:
    points = mesh.points[:, :2]
    names = {(int(dim), int(tag)): name for name, (tag, dim) in mesh.field_data.items()}
    tags = mesh.cell_data.get("gmsh:physical", [np.zeros(len(block.data), int) for block in mesh.cells])
    _check_kinds({block.type for block in mesh.cells if len(block.data)})
    _check_plane(mesh.points)
    flat = [(block, tag) for block, tag in zip(mesh.cells, tags, strict=True) if block.type in CORNERS]
    count = sum(len(block.data) for block, _ in flat)
    if count > MOST_ELEMENTS:
        raise MshError(f"has {count} elements, more than {MOST_ELEMENTS}, which take minutes to solve. {COARSER}")
    if not count:
        raise MshError("holds no triangles or quadrilaterals; mesh the surfaces (2D) before saving")
    for block, _ in flat:
        _check_straight(points, block)
    cells, tag = _joined([(block.data[:, : CORNERS[block.type]], tag) for block, tag in flat])
    found = np.unique(tag)
    sides = [(block.data[:, :2], tag) for block, tag in zip(mesh.cells, tags, strict=True) if block.type in ENDS]
    used, compact = np.unique(cells, return_inverse=True)
    place = np.full(len(points), -1)
    place[used] = np.arange(len(used))
    return GroupedMesh(
        points[used].T,
        compact.reshape(cells.shape).T,
        np.searchsorted(found, tag),
        tuple(names.get((2, int(t)), f"number {t} without a name" if t else "none") for t in found),
        _lines(sides, names, place),
    )


def _check_kinds(kinds: set[str]) -> None:
    if wrong := sorted(kinds - CORNERS.keys() - ENDS.keys() - {"vertex"}):
        raise MshError(
            f"has elements of kind {', '.join(wrong)}; triangles and quadrilaterals in a plane are understood"
        )


def _check_plane(points: Floats) -> None:
    if not np.isfinite(points).all():
        raise MshError("has points whose coordinates are no numbers; save the mesh anew from the program that made it")
    extent = np.ptp(points, axis=0) if len(points) else np.zeros(3)
    if len(extent) == 3 and extent[2] > STRAIGHT * extent.max():
        raise MshError("must lie in the x-y plane: x along the motion, y along the shaft; its points differ in z")


def _check_straight(points: Floats, block: Any) -> None:
    corners = CORNERS[block.type]
    if block.data.shape[1] < 2 * corners:
        return
    ends = points[block.data[:, :corners]]
    middle = points[block.data[:, corners : 2 * corners]]
    off = np.abs(middle - (ends + np.roll(ends, -1, axis=1)) / 2).max()
    if off > STRAIGHT * np.ptp(points, axis=0).max():
        raise MshError(
            "has second-order elements with curved sides; set Mesh.ElementOrder = 1 and use smaller elements"
        )


def _joined(blocks: list[tuple[Ints, Ints]]) -> tuple[Ints, Ints]:
    if len({cells.shape[1] for cells, _ in blocks}) > 1:
        blocks = [part for cells, tag in blocks for part in _halves(cells, tag)]
    return np.concatenate([cells for cells, _ in blocks]), np.concatenate([tag for _, tag in blocks])


def _halves(cells: Ints, tag: Ints) -> list[tuple[Ints, Ints]]:
    return [(cells, tag)] if cells.shape[1] == 3 else [(cells[:, [0, 1, 2]], tag), (cells[:, [0, 2, 3]], tag)]


def _lines(sides: list[tuple[Ints, Ints]], names: dict[tuple[int, int], str], place: Ints) -> dict[str, Ints]:
    found: dict[str, list[Ints]] = {}
    for ends, tag in sides:
        for t in np.unique(tag[tag != 0]):
            name = names.get((1, int(t)), f"number {t} without a name")
            found.setdefault(name, []).append(place[ends[tag == t]].T)
    return {name: np.concatenate(parts, axis=1) for name, parts in found.items()}


def write_msh(path: Path, mesh: GroupedMesh) -> None:
    """Write MSH 4.1, binary: one entity and one physical group for each group of elements and of sides."""
    import meshio

    kind = "triangle" if len(mesh.cells) == 3 else "quad"
    blocks = [(kind, mesh.cells[:, mesh.group == i].T) for i in range(len(mesh.groups))]
    blocks += [("line", ends.T) for ends in mesh.lines.values()]
    entities = np.array([(2, i + 1) for i in range(len(mesh.groups))] + [(1, i + 1) for i in range(len(mesh.lines))])
    labels = [np.full(len(data), tag) for (_, data), (_, tag) in zip(blocks, entities, strict=True)]
    names = [*mesh.groups, *mesh.lines]
    out = meshio.Mesh(
        np.column_stack([mesh.points.T, np.zeros(mesh.points.shape[1])]),
        blocks,
        point_data={"gmsh:dim_tags": entities[_entity_of_point(mesh, [data for _, data in blocks])]},
        cell_data={"gmsh:physical": labels, "gmsh:geometrical": labels},
        field_data={name: np.array([tag, dim]) for name, (dim, tag) in zip(names, entities, strict=True)},
    )
    meshio.gmsh.write(path, out, fmt_version="4.1", binary=True)


def _entity_of_point(mesh: GroupedMesh, blocks: list[Ints]) -> Ints:
    """Entity that owns each point; every entity owns at least one, or the format would lose it."""
    owner = np.zeros(mesh.points.shape[1], np.int64)
    for entity, data in enumerate(blocks):
        owner[data.ravel()] = entity
    rows = np.concatenate([np.full(data.size, entity) for entity, data in enumerate(blocks)])
    columns = np.concatenate([data.ravel() for data in blocks])
    touches = scipy.sparse.csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(blocks), len(owner)))
    match = maximum_bipartite_matching(touches, perm_type="column")
    owner[match] = np.arange(len(blocks))
    return owner
