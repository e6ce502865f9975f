"""The board as a solid: watertight, of the right volume, the same bytes again, and what happens without gmsh."""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import MissingError
from fieldrun.outputs.drawings import plate_solid
from fieldrun.outputs.drawings.plate_solid import write_plate
from fieldrun.outputs.drawings.skin import Skin, outward, stl_bytes, volume_of
from fieldrun.winding.former_outline import Outline, Round, outline_of

BOARDS = {
    "open notches": {},
    "closed slots and pins": {"winding.shape": "diamond", "rotor.spins": "coil"},
    "pins": {"former.ends": "pins", "winding.shape": "serpentine"},
}


def edge_counts(triangles: np.ndarray) -> dict[tuple[int, int], int]:
    counts: dict[tuple[int, int], int] = {}
    for a, b, c in triangles.tolist():
        for edge in ((a, b), (b, c), (c, a)):
            counts[edge] = counts.get(edge, 0) + 1
    return counts


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("case", BOARDS)
def test_watertight(case: str, board: Callable, tmp_path: Path) -> None:
    """Every edge is run through once in each direction; read back from the STL's own bytes."""
    made = board(BOARDS[case])
    skin = write_plate(outline_of(made.former, kerf=False), made.former.thickness_m, tmp_path / "a.step", "facts")
    rows = np.frombuffer(stl_bytes(skin, "former")[84:], np.dtype([("vectors", "<f4", (4, 3)), ("spare", "<u2")]))
    corners = rows["vectors"][:, 1:]
    _, number = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    counts = edge_counts(number.reshape(-1, 3))
    assert set(counts.values()) == {1}
    assert all((b, a) in counts for a, b in counts)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).astype(float)
    sharp = np.linalg.norm(normal, axis=1) > 1e-3
    along = np.sum(rows["vectors"][sharp, 0] * normal[sharp], axis=1) / np.linalg.norm(normal[sharp], axis=1)
    assert along.min() > 0.99


@pytest.mark.usefixtures("gmsh_or_skip")
def test_volume_of_a_ring_in_closed_form(tmp_path: Path) -> None:
    """Pi (R^2 - r^2) T, less what flats within 0.01 mm of the arcs leave out: two thirds of that along each edge."""
    outline = Outline(Round((0.0, 0.0), 0.05), (Round((0.0, 0.0), 0.02), Round((0.03, 0.0), 0.002)))
    skin = write_plate(outline, 0.004, tmp_path / "ring.step", "facts")
    exact = math.pi * (50**2 - 20**2 - 2**2) * 4
    most = 2 * math.pi * (50 + 20 + 2) * 0.01 * 4 * 2 / 3
    assert volume_of(skin.points, skin.triangles) == pytest.approx(exact, abs=most)
    assert (skin.points[:, 2].min(), skin.points[:, 2].max()) == pytest.approx((0, 4))


@pytest.mark.usefixtures("gmsh_or_skip")
def test_the_same_board_gives_the_same_files(board: Callable, tmp_path: Path, capfd) -> None:
    made = board()
    outline, thick = outline_of(made.former, kerf=False), made.former.thickness_m
    files = [tmp_path / name for name in ("a.step", "b.step")]
    skins = [write_plate(outline, thick, file, "design 8f3a's") for file in files]
    assert stl_bytes(skins[0], "x") == stl_bytes(skins[1], "x")
    assert files[0].read_bytes() == files[1].read_bytes()
    assert files[0].read_bytes() == files[1].read_bytes()
    assert "FILE_DESCRIPTION(('design 8f3a''s'),'2;1')" in files[0].read_text()
    assert capfd.readouterr().out == ""


def test_without_gmsh_nothing_is_written(monkeypatch, board: Callable, tmp_path: Path) -> None:
    monkeypatch.setattr(plate_solid, "gmsh_state", lambda: (False, "no gmsh here"))
    made = board()
    with pytest.raises(MissingError, match="no gmsh here"):
        write_plate(outline_of(made.former, kerf=False), 0.004, tmp_path / "a.step", "facts")
    assert list(tmp_path.glob("*.step")) == []


TETRAHEDRON = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])


@pytest.mark.parametrize("flipped", range(16))
def test_triangles_are_turned_outward_however_they_come(flipped: int) -> None:
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    mixed = np.array([face[::-1] if flipped >> i & 1 else face for i, face in enumerate(faces)])
    turned = outward(TETRAHEDRON, mixed)
    assert volume_of(TETRAHEDRON, turned) == pytest.approx(1 / 6)
    assert set(edge_counts(turned).values()) == {1}


def test_stl_has_its_counts() -> None:
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])
    content = stl_bytes(Skin(TETRAHEDRON, outward(TETRAHEDRON, faces)), "é")
    assert len(content) == 84 + 4 * 50
    assert content[:10] == b"fieldrun ?"
    assert int.from_bytes(content[80:84], "little") == 4
