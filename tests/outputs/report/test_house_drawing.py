"""The house's pictures inside a page: nothing a strict page refuses, ids of their own, and small."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib.figure import Figure

from fieldrun.outputs.report.house import house_drawing, inlined, shorter
from fieldrun.outputs.style import new_figure

DOCUMENT = """<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="20mm"
 viewBox="0 0 20 10"><title>out</title><defs><style>*{stroke:red}</style><clipPath id="c"><path d="M 0 0 L 1 1"/>
</clipPath></defs><g id="a" style="fill: none; font: italic bold 12px 'DejaVu Sans', serif">
<use xlink:href="#a" clip-path="url(#c)"/><text fill="#D9730D">5 &lt; 6</text></g></svg>"""


def test_ids_and_whatever_names_them_get_the_anchor():
    made = inlined("here", DOCUMENT, "words")
    assert 'id="here-a"' in made
    assert 'href="#here-a"' in made
    assert 'clip-path="url(#here-c)"' in made
    assert made.startswith('<svg id="here" viewBox="0 0 20 10" role="img" aria-labelledby="here-says"')
    assert '<title id="here-says">words</title>' in made
    assert "out" not in made


def test_style_becomes_attributes_and_sheets_go():
    made = inlined("here", DOCUMENT, "words")
    assert "style" not in made.replace("font-style", "")
    assert all(
        part in made for part in ('fill="none"', 'font-style="italic"', 'font-weight="bold"', 'font-size="12px"')
    )
    assert "5 &lt; 6" in made
    assert "#D9730D" not in made  # too pale for text


def test_it_is_still_xml():
    root = ET.fromstring(f"<page>{inlined('here', DOCUMENT, 'a < b & c')}</page>")  # noqa: S314 - our own text
    assert root[0][0].text == "a < b & c"


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        ("M 10 20 L 11.5 20 L 11.5 21 ", "M10 20l1.5 0 0 1"),
        ("M 0 0 L 1 1 M 5.123456 5 L 6 6", "M0 0l1 1M5.12 5l0.88 1"),
        ("M 0 0 C 1.23456 2 3 4 5 6.000001 z", "M 0 0 C 1.23 2 3 4 5 6 z"),
        ("M -1e-05 0 L 2 -3", "M0 0l2 -3"),
    ],
)
def test_paths_get_short(steps, found):
    assert shorter(steps) == found


def test_a_long_line_keeps_its_shape():
    x = np.linspace(0, 700, 900)
    y = 200 + 90 * np.sin(x / 50)
    steps = "M " + " L ".join(f"{a:.6f} {b:.6f}" for a, b in zip(x, y, strict=True))
    short = shorter(steps)
    assert len(short) < 0.5 * len(steps)
    first, onwards = short[1:].split("l")
    moves = np.array([float(v) for v in f"{first} {onwards}".split()]).reshape(-1, 2)
    assert np.cumsum(moves, axis=0) == pytest.approx(np.column_stack([x, y]), abs=0.0501)


def picture(hatch: str) -> Figure:
    figure = new_figure(4, 3, "a filled curve")
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    axes.fill_between([0, 1], [0, 1], hatch=hatch, label="filled")
    axes.legend()
    return figure


def test_fills_are_images_and_dense_keys_do_not_weigh():
    made = house_drawing("one", picture("......"))
    assert made.count("data:image/webp;base64,") == 1
    assert "data:image/png" not in made
    assert "filled" in made
    assert len(re.sub('base64,[^"]*', "", made)) < 60_000


def test_two_of_them_share_no_id():
    one, two = (set(re.findall(r' id="([^"]+)"', house_drawing(name, picture("/")))) for name in ("one", "two"))
    assert one
    assert not one & two
