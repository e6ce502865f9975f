"""DXF as another program reads it: no fault found by its audit, millimetres, four kinds of entity, plain letters."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf import units

from fieldrun.outputs.drawings.dxf_file import ascii_text, drawing_dxf, number
from fieldrun.outputs.drawings.magnet_drawing import both_faces
from fieldrun.outputs.drawings.record import Drawing

BOARDS = {
    "zigzag": {},
    "spiral": {"winding.leg": "spiral", "winding.belts": 2},
    "serpentine": {"winding.shape": "serpentine", "rotor.spins": "coil"},
    "hexagon": {"winding.shape": "hexagon", "former.ends": "pins"},
}


def read(drawing: Drawing, folder: Path) -> ezdxf.document.Drawing:
    file = folder / "drawing_mm.dxf"
    file.write_text(drawing_dxf(drawing), encoding="ascii")
    return ezdxf.readfile(file)


@pytest.mark.parametrize("case", BOARDS)
def test_audit_finds_nothing_and_the_unit_is_the_millimetre(case: str, board: Callable, tmp_path: Path) -> None:
    made = board(BOARDS[case])
    for drawing in (made.drawing, both_faces(made.design)):
        document = read(drawing, tmp_path)
        audit = document.audit()
        assert (audit.errors, audit.fixes) == ([], [])
        assert document.dxfversion == "AC1009"
        assert document.units == units.MM
        assert {entity.dxftype() for entity in document.modelspace()} <= {"LINE", "ARC", "CIRCLE", "TEXT"}
        assert {entity.dxf.layer for entity in document.modelspace()} <= {"CUT", "MARK", "NOTE"}


def test_sizes_and_line_types(board: Callable, tmp_path: Path) -> None:
    document = read(board({"former.ends": "pins"}).drawing, tmp_path)
    space = document.modelspace()
    assert max(circle.dxf.radius for circle in space.query("CIRCLE")) == 85
    legs = {line.dxf.linetype for line in space.query('LINE[layer=="MARK"]')}
    assert legs == {"CONTINUOUS", "DASHED", "DOT"}
    assert len(space.query('TEXT[layer=="MARK"]')) == 48


def test_cut_lines_close(board: Callable, tmp_path: Path) -> None:
    """Every end of a cut line or arc is another one's end too, to a nanometre."""
    space = read(board({"rotor.spins": "coil", "former.kerf_mm": 0.2}).drawing, tmp_path).modelspace()
    ends = []
    for entity in space.query('LINE[layer=="CUT"]'):
        ends += [entity.dxf.start, entity.dxf.end]
    for entity in space.query('ARC[layer=="CUT"]'):
        ends += [entity.start_point, entity.end_point]
    places = np.array([(p.x, p.y) for p in ends])
    apart = np.hypot(*(places[:, None] - places[None, :]).transpose(2, 0, 1))
    assert np.all(np.count_nonzero(apart < 1e-6, axis=1) == 2)


def test_titles_in_any_letters_do_no_harm(board: Callable, tmp_path: Path) -> None:
    title = 'Gerät <b> "x" %%c \\P {a} \U0001f525\n0\nSECTION ' + "y" * 200
    design = replace(board().design, title=title)
    document = read(both_faces(design), tmp_path)
    assert document.audit().errors == []
    comment = drawing_dxf(both_faces(design)).splitlines()[1]
    assert comment.startswith('Ger\\U+00E4t <b> "x" % %c /P {a} ? 0 SECTION yyy')
    assert len(comment) < 140


@pytest.mark.parametrize(
    ("text", "plain"),
    [("A1", "A1"), ("ø 3", "\\U+00F8 3"), ("%%d", "% %d"), ("a\\b", "a/b"), ("a\r\n\tb", "a b"), ("", "")],
)
def test_text(text: str, plain: str) -> None:
    assert ascii_text(text) == plain


@pytest.mark.parametrize(("value", "text"), [(0.0, "0.0"), (-0.0, "0.0"), (2.5, "2.5"), (1 / 3, "0.333333333")])
def test_numbers(value: float, text: str) -> None:
    assert number(value) == text
