"""MSH files: nothing is lost on the way out and in, and what is no mesh is said to be none."""

from pathlib import Path

import meshio
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.field.msh_format import GroupedMesh, MshError, read_msh, write_msh

NO_LINES = np.zeros((2, 0), np.int64)


def grid(columns: int, rows: int, kind: str) -> tuple[np.ndarray, np.ndarray]:
    """Points (2, n) and cells (4 or 3, e) of a grid of unit squares."""
    x, z = np.meshgrid(np.arange(columns + 1.0), np.arange(rows + 1.0))
    first = (np.arange(rows)[:, None] * (columns + 1) + np.arange(columns)).ravel()
    square = np.stack([first, first + 1, first + columns + 2, first + columns + 1])
    cells = square if kind == "quads" else np.concatenate([square[[0, 1, 2]], square[[0, 2, 3]]], axis=1)
    return np.stack([x.ravel(), z.ravel()]), cells


def plain(columns: int = 4, rows: int = 3, kind: str = "quads") -> GroupedMesh:
    points, cells = grid(columns, rows, kind)
    left = np.arange(rows) * (columns + 1)
    group = np.arange(cells.shape[1]) % 2
    return GroupedMesh(
        points, cells, group, ("air", "magnet_up"), {"pole_centre": np.stack([left, left + columns + 1])}
    )


def same(one: GroupedMesh, other: GroupedMesh) -> bool:
    """The same cells with the same corners and group names, whatever their order; sides too."""
    return cells_of(one) == cells_of(other) and lines_of(one) == lines_of(other)


def corners(mesh: GroupedMesh, ends: np.ndarray) -> frozenset[tuple[float, ...]]:
    return frozenset(tuple(np.round(mesh.points[:, i], 9)) for i in ends)


def cells_of(mesh: GroupedMesh) -> set[tuple[str, frozenset[tuple[float, ...]]]]:
    return {(mesh.groups[g], corners(mesh, cell)) for g, cell in zip(mesh.group, mesh.cells.T, strict=True)}


def lines_of(mesh: GroupedMesh) -> set[tuple[str, frozenset[tuple[float, ...]]]]:
    return {(name, corners(mesh, side)) for name, ends in mesh.lines.items() for side in ends.T}


@pytest.mark.parametrize("kind", ["quads", "triangles"])
def test_round_trip(tmp_path: Path, kind: str) -> None:
    mesh = plain(kind=kind)
    write_msh(tmp_path / "a.msh", mesh)
    assert same(read_msh(tmp_path / "a.msh"), mesh)
    assert (tmp_path / "a.msh").read_bytes()[:30].split(b"\n")[1] == b"4.1 1 8"  # version, binary, size of a number


@given(st.data())
@settings(derandomize=True, max_examples=40, deadline=None)
def test_every_group_survives_however_small(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    columns, rows = data.draw(st.integers(1, 4)), data.draw(st.integers(1, 4))
    points, cells = grid(columns, rows, "triangles")
    group = data.draw(st.lists(st.integers(0, 2), min_size=cells.shape[1], max_size=cells.shape[1]))
    found = sorted(set(group))
    names = tuple(f"magnet_{g}" for g in found)
    mesh = GroupedMesh(points, cells, np.searchsorted(found, group), names, {"pole_edge": np.array([[0], [1]])})
    path = tmp_path_factory.mktemp("msh") / "a.msh"
    write_msh(path, mesh)
    assert same(read_msh(path), mesh)


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("kind", ["quads", "triangles"])
@pytest.mark.parametrize(("version", "binary"), [(4.1, 1), (4.1, 0), (2.2, 1), (2.2, 0)])
def test_gmsh_reads_what_is_written_and_is_read_in_turn(tmp_path: Path, kind: str, version: float, binary: int) -> None:
    import gmsh

    mesh = plain(kind=kind)
    write_msh(tmp_path / "a.msh", mesh)
    gmsh.initialize([], readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.open(str(tmp_path / "a.msh"))
        names = {gmsh.model.getPhysicalName(*group) for group in gmsh.model.getPhysicalGroups()}
        gmsh.option.setNumber("Mesh.MshFileVersion", version)
        gmsh.option.setNumber("Mesh.Binary", binary)
        gmsh.write(str(tmp_path / "b.msh"))
    finally:
        gmsh.finalize()
    assert names == {"air", "magnet_up", "pole_centre"}
    assert same(read_msh(tmp_path / "b.msh"), mesh)


def raw(path: Path, points: np.ndarray, blocks: list[tuple[str, np.ndarray]]) -> Path:
    """Write any cells, all in one group."""
    tags = [np.ones(len(data), int) for _, data in blocks]
    points = np.column_stack([points, np.zeros(len(points))]) if points.shape[1] == 2 else points
    dimension = meshio.CellBlock(*blocks[0]).dim
    owner = {"gmsh:dim_tags": np.array([(dimension, 1)] * len(points))}
    named = {"air": np.array([1, dimension])}
    mesh = meshio.Mesh(points, blocks, owner, {"gmsh:physical": tags, "gmsh:geometrical": tags}, named)
    meshio.gmsh.write(path, mesh, fmt_version="2.2" if len(blocks) > 1 else "4.1", binary=True)
    return path


SQUARE = np.array([[0.0, 0.0], [1, 0], [1, 1], [0, 1], [2, 0], [2, 1]])


def test_quadrilaterals_among_triangles_are_cut_in_two(tmp_path: Path) -> None:
    blocks = [("quad", np.array([[0, 1, 2, 3]])), ("triangle", np.array([[1, 4, 2], [4, 5, 2]]))]
    found = read_msh(raw(tmp_path / "a.msh", SQUARE, blocks))
    assert found.cells.shape == (3, 4)
    (x0, x1, x2), (z0, z1, z2) = found.points[:, found.cells]
    assert np.abs((x1 - x0) * (z2 - z0) - (x2 - x0) * (z1 - z0)).sum() / 2 == pytest.approx(2.0)


def test_straight_second_order_elements_lose_their_middles(tmp_path: Path) -> None:
    middles = (SQUARE[:4] + np.roll(SQUARE[:4], -1, axis=0)) / 2
    points = np.concatenate([SQUARE[:4], middles])
    found = read_msh(raw(tmp_path / "a.msh", points, [("quad8", np.arange(8)[None])]))
    assert found.cells.shape == (4, 1)
    assert found.points.shape == (2, 4)


def test_curved_second_order_elements_are_refused(tmp_path: Path) -> None:
    points = np.array([[0.0, 0], [1, 0], [0, 1], [0.5, 0], [0.6, 0.6], [0, 0.5]])
    with pytest.raises(MshError, match=r"curved sides; set Mesh\.ElementOrder = 1"):
        read_msh(raw(tmp_path / "a.msh", points, [("triangle6", np.arange(6)[None])]))


def test_solids_are_refused(tmp_path: Path) -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    with pytest.raises(MshError, match="has elements of kind tetra; triangles and quadrilaterals"):
        read_msh(raw(tmp_path / "a.msh", points, [("tetra", np.arange(4)[None])]))


def test_another_plane_is_refused(tmp_path: Path) -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 0, 1]])
    with pytest.raises(MshError, match="must lie in the x-y plane"):
        read_msh(raw(tmp_path / "a.msh", points, [("triangle", np.arange(3)[None])]))


def test_sides_alone_are_no_mesh(tmp_path: Path) -> None:
    with pytest.raises(MshError, match="holds no triangles or quadrilaterals; mesh the surfaces"):
        read_msh(raw(tmp_path / "a.msh", SQUARE, [("line", np.array([[0, 1], [1, 2]]))]))


def test_no_groups_at_all_is_one_group_without_name(tmp_path: Path) -> None:
    path = tmp_path / "a.msh"
    path.write_text(SAVED_ALL.replace("1 0 0 0 1 1 0 1 1 0", "1 0 0 0 1 1 0 0 0"))
    assert read_msh(path).groups == ("none",)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a mesh\n",
        b"\x00\xff\xfe" * 50,
        b"$MeshFormat\n4.1 0 8\n$EndMeshFormat\n",
        b"$MeshFormat\n4.1 1 8\n\x01\x00\x00\x00\n$EndMeshFormat\n$Nodes\n1 1",
        b"$MeshFormat\n9.9 0 8\n$EndMeshFormat\n",
        b"$MeshFormat\n",
    ],
)
def test_broken_files_are_said_to_be_none(tmp_path: Path, content: bytes, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "broken.msh"
    path.write_bytes(content)
    with pytest.raises(MshError, match="cannot be read as a gmsh mesh"):
        read_msh(path)
    assert capfd.readouterr().out == ""


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_cut_off_files_are_said_to_be_none(tmp_path: Path, share: float) -> None:
    path = tmp_path / "a.msh"
    write_msh(path, plain())
    path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
    with pytest.raises(MshError, match="must hold points and elements and be whole"):
        read_msh(path)


def test_elements_outside_every_group_are_told(tmp_path: Path) -> None:
    path = tmp_path / "a.msh"
    path.write_text(SAVED_ALL)
    with pytest.raises(MshError, match=r"some elements belong to no physical group.*Mesh\.SaveAll"):
        read_msh(path)


# one surface with a group and one without, as gmsh saves them with Mesh.SaveAll = 1
SAVED_ALL = """$MeshFormat
4.1 0 8
$EndMeshFormat
$PhysicalNames
1
2 1 "air"
$EndPhysicalNames
$Entities
0 0 2 0
1 0 0 0 1 1 0 1 1 0
2 1 0 0 2 1 0 0 0
$EndEntities
$Nodes
1 6 1 6
2 1 0 6
1
2
3
4
5
6
0 0 0
1 0 0
1 1 0
0 1 0
2 0 0
2 1 0
$EndNodes
$Elements
2 2 1 2
2 1 3 1
1 1 2 3 4
2 2 3 1
2 2 5 6 3
$EndElements
"""


def test_far_too_many_elements_are_refused(tmp_path: Path) -> None:
    write_msh(tmp_path / "a.msh", plain(101, 100))
    with pytest.raises(MshError, match=r"has 10100 elements, more than 10000.*a twelfth of the pole pitch"):
        read_msh(tmp_path / "a.msh")


def test_a_file_far_too_large_is_not_even_read(tmp_path: Path) -> None:
    with (tmp_path / "a.msh").open("wb") as file:
        file.truncate(5_000_001)
    with pytest.raises(MshError, match="is larger than 5 MB; is this the right file"):
        read_msh(tmp_path / "a.msh")


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_points_that_are_nowhere_are_refused(tmp_path: Path, value: float) -> None:
    points = SQUARE.copy()
    points[2, 1] = value
    raw(tmp_path / "a.msh", points, [("triangle", np.array([[0, 1, 2]]))])
    with pytest.raises(MshError, match="has points whose coordinates are no numbers; save the mesh anew"):
        read_msh(tmp_path / "a.msh")


def test_what_meshio_stumbles_over_is_not_shown(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.msh").write_text("$Comments\nnever ended\n")
    with pytest.raises(MshError):
        read_msh(tmp_path / "a.msh")
    assert capfd.readouterr() == ("", "")


def test_a_missing_file_stays_an_os_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_msh(tmp_path / "nowhere.msh")
