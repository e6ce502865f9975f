"""Notches stand in the same places in every format, and those are vertices of the wire's path: within a micrometre."""

import ctypes
import math
import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import ezdxf
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from fieldrun.outputs.drawings.dxf_file import drawing_dxf
from fieldrun.outputs.drawings.pdf_drawing import add_drawing
from fieldrun.outputs.drawings.pdf_page import Book, Paper
from fieldrun.outputs.drawings.plate_solid import write_plate
from fieldrun.outputs.drawings.skin import stl_bytes
from fieldrun.outputs.drawings.svg_file import drawing_svg
from fieldrun.winding.former_outline import outline_of

MICROMETRE = 1e-3  # in mm

CASES = {
    "zigzag": {},
    "kerf": {"former.kerf_mm": 0.15, "winding.start_deg": 3.7},
    "serpentine": {"winding.shape": "serpentine"},
    "rhomboid, closed slots": {"winding.shape": "rhomboid", "rotor.spins": "coil"},
    "diamond": {"winding.shape": "diamond"},
    "hexagon of pins": {"winding.shape": "hexagon", "former.ends": "pins"},
}


def vertices(board) -> np.ndarray:
    """Ends of the path's pieces, straight from the lay [mm]."""
    start = board.laid.pieces.start
    return 1000 * np.stack([start[:, 0] * np.cos(start[:, 1]), start[:, 0] * np.sin(start[:, 1])], axis=1)


def farthest(wanted: np.ndarray, found: np.ndarray) -> float:
    """Largest distance from a wanted place to the nearest found one [mm]."""
    return float(np.max(np.min(np.hypot(*(wanted[:, None] - found[None, :]).transpose(2, 0, 1)), axis=1)))


def stations(board) -> np.ndarray:
    return 1000 * np.array([station.xy_m for station in board.former.stations])


@pytest.mark.parametrize("case", CASES)
def test_stations_are_vertices(case: str, board: Callable) -> None:
    made = board(CASES[case])
    assert farthest(stations(made), vertices(made)) < MICROMETRE


@pytest.mark.parametrize("case", CASES)
def test_in_svg(case: str, board: Callable) -> None:
    made = board(CASES[case])
    root = ET.fromstring(drawing_svg(made.drawing))  # noqa: S314 - our own file
    (cut,) = (group for group in root.iter("{http://www.w3.org/2000/svg}g") if group.get("id") == "cut")
    places = [(float(c.get("cx")), float(c.get("cy"))) for c in cut if c.tag.endswith("circle")]
    for path in cut:
        arc = re.fullmatch(r"M (\S+) (\S+) A (\S+) \S+ 0 \d 0 (\S+) (\S+)", path.get("d") or "")
        if arc:
            x0, y0, radius, x1, y1 = map(float, arc.groups())
            if math.isclose(math.hypot(x1 - x0, y1 - y0), 2 * radius, rel_tol=1e-4):  # half a circle: a notch's end
                places.append(((x0 + x1) / 2, (y0 + y1) / 2))
    (x0, y1) = made.drawing.low[0], made.drawing.high[1]
    found = np.array([(x + x0, y1 - y) for x, y in places])
    assert farthest(stations(made), found) < MICROMETRE


@pytest.mark.parametrize("case", CASES)
def test_in_dxf(case: str, board: Callable, tmp_path: Path) -> None:
    made = board(CASES[case])
    (tmp_path / "former_mm.dxf").write_text(drawing_dxf(made.drawing), encoding="ascii")
    space = ezdxf.readfile(tmp_path / "former_mm.dxf").modelspace()
    found = np.array([tuple(e.dxf.center)[:2] for e in space.query('ARC CIRCLE[layer=="CUT"]')])
    assert farthest(stations(made), found) < MICROMETRE


def pdf_ends(content: bytes) -> np.ndarray:
    """Middles of all half circles and whole circles of a page, in mm from its lower left corner."""
    page = pypdfium2.PdfDocument(content)[0]
    x, y, matrix = ctypes.c_float(), ctypes.c_float(), pdfium.FS_MATRIX()
    places = []
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
        count = pdfium.FPDFPath_CountSegments(item.raw)
        segments = [pdfium.FPDFPath_GetPathSegment(item.raw, i) for i in range(count)]
        if pdfium.FPDF_SEGMENT_BEZIERTO not in {pdfium.FPDFPathSegment_GetType(segment) for segment in segments}:
            continue
        points = []
        for segment in segments:
            assert pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            points.append((x.value, y.value))
        pdfium.FPDFPageObj_GetMatrix(item.raw, matrix)
        a = np.array([[matrix.a, matrix.c], [matrix.b, matrix.d]])
        anchors = (np.array(points)[::3] @ a.T + [matrix.e, matrix.f]) * 25.4 / 72
        whole = np.hypot(*(anchors[0] - anchors[-1])) < 1e-4
        places.append((anchors[0] + anchors[len(anchors) // 2]) / 2 if whole else (anchors[0] + anchors[-1]) / 2)
    return np.array(places)


@pytest.mark.parametrize("case", CASES)
def test_in_pdf(case: str, board: Callable) -> None:
    """Up to where the page puts the shaft, which the mean of all notches gives away: they stand evenly round it."""
    made = board(CASES[case])
    book = Book(Paper("A4"), "former", {})
    assert add_drawing(book, made.drawing) == 1
    found, wanted = pdf_ends(book.content()), stations(made)
    rough = np.array([(p + q) / 2 for p, q in [(found.min(axis=0), found.max(axis=0))]])[0]
    around = found - rough
    nearest = np.argmin(np.hypot(*(wanted[:, None] - around[None, :]).transpose(2, 0, 1)), axis=1)
    shift = np.mean(found[nearest], axis=0) - np.mean(wanted, axis=0)
    assert len(set(nearest.tolist())) == len(wanted)
    assert farthest(wanted, found - shift) < MICROMETRE


def step_axes(text: str) -> np.ndarray:
    """Where the axes of a STEP file's cylinders pass, in its own unit."""
    lines = dict(re.findall(r"#(\d+) = (.*?);", text.replace("\n", ""), re.DOTALL))
    assert re.search(r"LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\(\.MILLI\.,\.METRE\.\)", text)
    axes = [re.match(r"CYLINDRICAL_SURFACE\('',#(\d+),", line) for line in lines.values()]
    places = [re.match(r"AXIS2_PLACEMENT_3D\('',#(\d+)", lines[axis[1]])[1] for axis in axes if axis]
    points = [re.match(r"CARTESIAN_POINT\('',\((.*?)\)\)", lines[place])[1] for place in places]
    return np.array([[float(part) for part in point.split(",")[:2]] for point in points])


@pytest.mark.usefixtures("gmsh_or_skip")
@pytest.mark.parametrize("case", CASES)
def test_in_step_and_stl(case: str, board: Callable, tmp_path: Path) -> None:
    made = board(CASES[case])
    outline = outline_of(made.former, kerf=False)
    skin = write_plate(outline, made.former.thickness_m, tmp_path / "former.step", "no facts")
    assert farthest(stations(made), step_axes((tmp_path / "former.step").read_text())) < MICROMETRE
    content = stl_bytes(skin, "former")
    rows = np.frombuffer(content[84:], np.dtype([("vectors", "<f4", (4, 3)), ("spare", "<u2")]))
    corners = np.unique(rows["vectors"][:, 1:].reshape(-1, 3).astype(float), axis=0)
    centres = [fitted_centre(corners, place, half_width(made, i)) for i, place in enumerate(stations(made))]
    assert farthest(stations(made), np.array(centres)) < MICROMETRE


def half_width(made, index: int) -> float:
    former = made.former
    corner = former.stations[index].kind == "corner"
    return 500 * (former.pin_m if corner else former.notch_m)


def fitted_centre(corners: np.ndarray, near: np.ndarray, radius: float) -> np.ndarray:
    """Centre of the circle through the corners of a round end: x^2 + y^2 = 2 x a + 2 y b + c by least squares."""
    flat = corners[corners[:, 2] == 0][:, :2]
    own = flat[np.abs(np.hypot(*(flat - near).T) - radius) < 2e-3] - near
    assert len(own) >= 6
    matrix = np.column_stack([2 * own, np.ones(len(own))])
    return np.linalg.lstsq(matrix, np.sum(own**2, axis=1), rcond=None)[0][:2] + near
