"""SVG as a browser shows it: true millimetres, layers as groups, no transforms, titles that do no harm."""

import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.outputs.drawings.magnet_drawing import both_faces, with_magnets
from fieldrun.outputs.drawings.measure_bars import with_bars
from fieldrun.outputs.drawings.record import Arc, Circle, Drawing, Label, Line
from fieldrun.outputs.drawings.svg_file import drawing_svg, number

NASTY = "<script>alert(1)</script> \"quoted\" 'single' & ../../etc/passwd \x07\n" + "long " * 40

MM_PER_PIXEL = 25.4 / 96  # CSS: 96 pixels to the inch


def shown(browser, svg: str, tmp_path: Path) -> None:
    file = tmp_path / "drawing.svg"
    file.write_text(svg, encoding="utf-8")
    browser.get(file.as_uri())


def size_mm(browser, name: str) -> tuple[float, float]:
    script = "const r = document.getElementById(arguments[0]).getBoundingClientRect(); return [r.width, r.height];"
    return tuple(MM_PER_PIXEL * length for length in browser.execute_script(script, name))


@pytest.mark.parametrize("what", ["former", "magnets", "overlay"])
def test_bars_measure_what_they_say_in_a_browser(what: str, browser, board: Callable, tmp_path: Path) -> None:
    made = board()
    drawings = {
        "former": made.drawing,
        "magnets": both_faces(made.design),
        "overlay": with_magnets(made.drawing, made.design),
    }
    shown(browser, drawing_svg(with_bars(drawings[what])), tmp_path)
    assert size_mm(browser, "bar-x")[0] == pytest.approx(100, abs=0.02)
    assert size_mm(browser, "bar-y")[1] == pytest.approx(100, abs=0.02)
    assert size_mm(browser, "bar-inch")[0] == pytest.approx(50.8, abs=0.02)


def test_the_board_measures_what_it_is(browser, board: Callable, tmp_path: Path) -> None:
    shown(browser, drawing_svg(board({"former.ends": "pins"}).drawing), tmp_path)
    script = """const r = document.querySelector('#cut circle').getBoundingClientRect(); return [r.width, r.height];"""
    width, height = (MM_PER_PIXEL * length for length in browser.execute_script(script))
    assert (width, height) == pytest.approx((170, 170), abs=0.05)


def test_no_text_leaves_the_drawing_or_lies_on_another(browser, board: Callable, tmp_path: Path) -> None:
    """Of every bundled shape: boxes of all texts, as the browser sets them, apart from each other and inside."""
    script = """const svg = document.documentElement.getBoundingClientRect();
    const boxes = [...document.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
    const out = [];
    boxes.forEach(([a, p], i) => {
      const inside = p.left >= svg.left && p.right <= svg.right && p.top >= svg.top && p.bottom <= svg.bottom;
      if (!inside) out.push(a + ' outside');
      const high = 0.2 * p.height;
      boxes.slice(i + 1).forEach(([b, q]) => {
        if (p.left < q.right && q.left < p.right && p.top + high < q.bottom - high && q.top + high < p.bottom - high)
          out.push(a + ' on ' + b); });
    });
    return out;"""
    for shape in NAMED_SHAPES:
        for ends in ("notches", "pins"):
            made = board({"winding.shape": shape, "former.ends": ends})
            shown(browser, drawing_svg(with_bars(made.drawing)), tmp_path)
            assert browser.execute_script(script) == [], (shape, ends)


def test_layers_are_groups_and_nothing_is_transformed(board: Callable) -> None:
    text = drawing_svg(with_bars(board().drawing))
    root = ET.fromstring(text)  # noqa: S314 - our own file
    groups = [child.get("id") for child in root if child.tag.endswith("}g")]
    assert groups == ["cut", "mark", "note"]
    assert "transform" not in text
    assert re.fullmatch(r"[\d.]+mm", root.get("width"))
    assert root.get("viewBox") == f"0 0 {root.get('width')[:-2]} {root.get('height')[:-2]}"


def test_phases_differ_by_line_and_letter_not_by_colour_alone(board: Callable) -> None:
    root = ET.fromstring(drawing_svg(board().drawing))  # noqa: S314 - our own file
    dashes, letters = {}, {}
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        name = group.get("class")
        if name:
            legs = [e for e in group.iter() if e.tag.endswith(("path", "line"))]
            dashes.setdefault(name, set()).update(e.get("stroke-dasharray") for e in legs[:1] if len(legs) > 3)
            letters.setdefault(name, set()).update((e.text or " ")[0] for e in group.iter() if e.tag.endswith("text"))
    assert letters == {"phase-1": {"A"}, "phase-2": {"B"}, "phase-3": {"C"}}
    assert [len(dashes[f"phase-{k}"]) for k in (1, 2, 3)] == [1, 1, 1]
    assert len(set().union(*dashes.values())) == 3


def test_a_title_does_no_harm(browser, board: Callable, tmp_path: Path) -> None:
    made = board({"title": NASTY})
    text = drawing_svg(made.drawing)
    assert "<script" not in text
    root = ET.fromstring(text)  # noqa: S314 - our own file
    title = root.find("{http://www.w3.org/2000/svg}title").text
    assert title.startswith('<script>alert(1)</script> "quoted"')
    assert len(title) <= 80
    assert "\n" not in title
    shown(browser, text, tmp_path)
    assert browser.execute_script("return document.querySelectorAll('script').length") == 0


def test_every_kind_of_shape() -> None:
    shapes = (
        Line("cut", (0, 0), (10, 0), name="a"),
        Line("mark", (0, 0), (10, 0), "dashed", 1),
        Line("mark", (10, 0), (10, 5), "dashed", 1),
        Arc("cut", (5, 5), 2, 350, 100),
        Arc("cut", (5, 5), 2, 100, 350),
        Circle("note", (5, 5), 1, "faint"),
        Label("note", (1, 2), 3, "a < b", "middle", bold=True),
    )
    lines = drawing_svg(Drawing("shapes", shapes, (0, 0), (10, 10))).splitlines()
    assert '<line id="a" x1="0" y1="10" x2="10" y2="10"/>' in lines
    assert '<path d="M 0 10 L 10 10 L 10 5" stroke-dasharray="2.4 0.9"/>' in lines
    assert '<path d="M 6.969616 5.347296 A 2 2 0 0 0 4.652704 3.030384"/>' in lines
    assert '<path d="M 4.652704 3.030384 A 2 2 0 1 0 6.969616 5.347296"/>' in lines
    assert '<circle cx="5" cy="5" r="1" stroke-dasharray="0.3 1.2"/>' in lines
    assert any(line.endswith('font-weight="bold">a &lt; b</text>') for line in lines)


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (-1e-9, "0"), (1.5, "1.5"), (1 / 3, "0.333333"), (100.0, "100")]
)
def test_numbers(value: float, text: str) -> None:
    assert number(value) == text
