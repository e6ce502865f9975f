"""PDF as it is printed: bars of 100 mm on both axes, never shrunk, tiles that overlap and miss nothing."""

import math
import re
from collections.abc import Callable

import numpy as np
import pypdfium2
import pytest

from fieldrun.outputs.drawings import pdf_drawing
from fieldrun.outputs.drawings.pdf_drawing import OVERLAP_MM, add_drawing, tiles, window_mm
from fieldrun.outputs.drawings.pdf_page import PAPERS_MM, Book, Paper, fitted, text_width, wrapped
from fieldrun.outputs.drawings.record import Arc, Circle, Drawing, Label, Line, Shape

DPI = 600
PIXEL = 25.4 / DPI

LARGE = {"magnets.pitch_diameter_mm": 200, "winding.inner_radius_mm": 85, "winding.outer_radius_mm": 116}


def printed(drawing: Drawing, paper: Paper) -> bytes:
    book = Book(paper, drawing.title, {"fieldrun": "0", "design_hash": "8f3a"})
    add_drawing(book, drawing)
    return book.content()


def ink(content: bytes, page: int = 0) -> np.ndarray:
    """A page as pixels, True where it is dark, upside up."""
    with pypdfium2.PdfDocument(content) as document:
        return document[page].render(scale=DPI / 72, grayscale=True).to_numpy() < 160


def longest_run(row: np.ndarray) -> tuple[int, int]:
    """Start and length of the longest run of dark pixels."""
    edges = np.flatnonzero(np.diff(np.r_[0, row.astype(int), 0]))
    lengths = edges[1::2] - edges[::2]
    return int(edges[::2][np.argmax(lengths)]), int(lengths.max())


def bar_mm(dark: np.ndarray) -> float:
    """Longest level line of the picture's lower fifth [mm], without the half width of its round ends."""
    foot = dark[int(0.8 * len(dark)) :]
    return max(longest_run(row)[1] for row in foot if row.any()) * PIXEL - 0.18


def upright_mm(dark: np.ndarray) -> float:
    left = dark[:, : int(0.1 * dark.shape[1])]
    return max(longest_run(column)[1] for column in left.T if column.any()) * PIXEL - 0.18


@pytest.mark.parametrize("sheet", ["A4", "Letter"])
@pytest.mark.parametrize("changes", [{}, LARGE])
def test_bars_measure_100_mm_on_paper(sheet: str, changes: dict, board: Callable) -> None:
    content = printed(board(changes).drawing, Paper(sheet))
    dark = ink(content)
    wide, high = PAPERS_MM[sheet]
    assert dark.shape == pytest.approx((high / PIXEL, wide / PIXEL), abs=1.01)
    assert bar_mm(dark) == pytest.approx(100, abs=0.1)
    assert upright_mm(dark) == pytest.approx(100, abs=0.1)


def test_a_printer_that_shrinks_is_corrected(board: Callable) -> None:
    """Bars that measured 98 and 101 mm are printed as much longer and shorter the next time."""
    dark = ink(printed(board().drawing, Paper("A4", (100 / 98, 100 / 101))))
    assert bar_mm(dark) * 0.98 == pytest.approx(100, abs=0.1)
    assert upright_mm(dark) * 1.01 == pytest.approx(100, abs=0.1)


def test_the_board_itself_is_as_large_as_it_says(board: Callable) -> None:
    dark = ink(printed(board({"former.ends": "pins"}).drawing, Paper("A4")))
    band = dark[:, int(20 / PIXEL) :]  # right of the upright bar
    rows = np.flatnonzero(band[int(20 / PIXEL) : int(260 / PIXEL)].any(axis=1))
    columns = np.flatnonzero(band[int(20 / PIXEL) : int(200 / PIXEL)].any(axis=0))
    assert (columns[-1] - columns[0] + 1) * PIXEL - 0.2 == pytest.approx(170, abs=0.1)
    assert rows[0] < rows[-1]


@pytest.mark.parametrize("sheet", ["A4", "Letter"])
@pytest.mark.parametrize("size", [(50, 50), (187.9, 247), (188.5, 100), (500, 90), (300, 700), (1000, 1000)])
def test_tiles_cover_everything_and_overlap(sheet: str, size: tuple[float, float]) -> None:
    drawing = Drawing("box", (), (-size[0] / 3, -5.0), (size[0] * 2 / 3, size[1] - 5.0))
    places, (width, height) = tiles(drawing, Paper(sheet)), window_mm(Paper(sheet))
    columns, rows = sorted({x for x, _ in places}), sorted({y for _, y in places})
    assert len(places) == len(columns) * len(rows)
    for starts, window, low, high in (
        (columns, width, drawing.low[0], drawing.high[0]),
        (rows, height, drawing.low[1], drawing.high[1]),
    ):
        assert starts[0] <= low + 1e-9
        assert starts[-1] + window >= high - 1e-9
        assert np.diff(starts) == pytest.approx(window - OVERLAP_MM)
        assert (len(starts) - 1) * (window - OVERLAP_MM) + OVERLAP_MM < high - low or len(starts) == 1
    assert list(places) == sorted(places, key=lambda place: (-place[1], place[0]))


def test_neighbouring_sheets_show_the_same_in_their_overlap() -> None:
    """A slanted line over two sheets: laid over each other by the overlap, both pictures are one."""
    shapes = (Line("cut", (-150.0, -40.0), (150.0, 40.0)), Circle("cut", (0.0, 0.0), 100.0))
    drawing = Drawing("two sheets", shapes, (-150.0, -110.0), (150.0, 110.0))
    content = printed(drawing, Paper("A4"))
    (left, _), width = tiles(drawing, Paper("A4"))[0], window_mm(Paper("A4"))[0]
    right = tiles(drawing, Paper("A4"))[1][0]
    assert right - left == pytest.approx(width - OVERLAP_MM)
    pages = [ink(content, i) for i in (0, 1)]
    edge = 16.0  # left margin and side strip
    first = pages[0][:, round((edge + width - OVERLAP_MM + 1) / PIXEL) : round((edge + width - 1) / PIXEL)]
    second = pages[1][:, round((edge + 1) / PIXEL) : round((edge + OVERLAP_MM - 1) / PIXEL)]
    inside = slice(round(30 / PIXEL), round(260 / PIXEL))
    count = min(first.shape[1], second.shape[1])
    a, b = first[inside, :count], second[inside, :count]
    assert a.any()
    assert np.count_nonzero(a != b) < 0.15 * np.count_nonzero(a)  # edges of lines fall between pixels


def test_a_sheet_holds_only_what_it_shows_and_all_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ring of pieces over many sheets: left out or not, pixels are the same, and the file is far smaller."""
    spokes = [(math.cos(a), math.sin(a), math.degrees(a)) for a in np.arange(0, 2 * math.pi, 0.05)]
    shapes: list[Shape] = []
    for c, s, deg in spokes:
        shapes += [
            Line("cut", (300 * c, 300 * s), (330 * c, 330 * s)),
            Arc("cut", (0.0, 0.0), 330.0, deg, deg + 2.0),
            Circle("mark", (290 * c, 290 * s), 3.0),
            Label("note", (270 * c, 270 * s), 3.0, "a long label indeed", "middle"),
        ]
    drawing = Drawing("ring", (*shapes, Arc("note", (0.0, 0.0), 250.0, 10.0, 350.0)), (-335.0, -335.0), (335.0, 335.0))
    lean = printed(drawing, Paper("A4"))
    monkeypatch.setattr(pdf_drawing, "_meet", lambda *_: True)
    whole = printed(drawing, Paper("A4"))
    assert len(lean) < 0.4 * len(whole)
    with pypdfium2.PdfDocument(lean) as few, pypdfium2.PdfDocument(whole) as all_of_them:
        assert len(few) == len(all_of_them) == len(tiles(drawing, Paper("A4")))
        for a, b in zip(few, all_of_them, strict=True):
            assert np.array_equal(a.render(scale=1.5).to_numpy(), b.render(scale=1.5).to_numpy())


def test_no_printer_is_asked_to_scale_and_bytes_are_stable(board: Callable) -> None:
    drawing = board().drawing
    content = printed(drawing, Paper("A4"))
    assert re.search(rb"/PrintScaling\s*/None", content)
    assert content == printed(drawing, Paper("A4"))
    assert b"CreationDate" not in content or b"D:2000" in content


def test_long_titles_are_cut_to_the_page(board: Callable) -> None:
    made = board({"title": "<script>" + "W" * 200})
    with pypdfium2.PdfDocument(printed(made.drawing, Paper("A4"))) as document:
        text = document[0].get_textpage().get_text_bounded()
        assert "<script>WWW" in text
        assert document.get_metadata_dict()["Title"].startswith("<script>W")
        assert len(document.get_metadata_dict()["Title"]) <= 80


def test_text_is_fitted_and_wrapped() -> None:
    assert fitted("short", 3.0, 100.0) == "short"
    cut = fitted("W" * 100, 3.0, 30.0)
    assert cut.endswith("\N{HORIZONTAL ELLIPSIS}")
    assert text_width(cut, 3.0) <= 30.0
    lines = wrapped("one two three four five " * 5 + "W" * 60, 3.0, 40.0)
    assert all(text_width(line, 3.0) <= 40.0 for line in lines)
    assert " ".join(lines[:-1]) == ("one two three four five " * 5).strip()
    assert wrapped("", 3.0, 40.0) == []
