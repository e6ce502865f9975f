"""A drawing on pages, full size: as many sheets as it takes, never shrunk, with bars to check the print by."""

import math
from collections.abc import Iterable
from typing import Any

from fieldrun.outputs.colours import INK, PHASE_COLOURS, QUIET
from fieldrun.outputs.drawings.measure_bars import APART_MM, BAR_MM, TWO_INCHES_MM, level_bar, upright_bar
from fieldrun.outputs.drawings.pdf_page import Book, Paper, fitted
from fieldrun.outputs.drawings.record import Arc, Circle, Drawing, Label, Line, Point, Shape, chained
from fieldrun.outputs.drawings.svg_file import COLOURS, WIDTHS

MARGIN_MM, TOP_MM, FOOT_MM, SIDE_MM = 6.0, 12.0, 20.0, 10.0
"""White edge that printers need; strips for the title, for the level bars and for the upright one."""

OVERLAP_MM = 12.0
"""Shared by two sheets, to glue one on the other."""

DASHES = {"plain": (), "dashed": (2.4, 0.9), "dotted": (0.6, 0.8), "faint": (0.3, 1.2)}

Piece = Shape | list[Line]
"""What is drawn in one go: a shape, or lines that go on from each other."""

Box = tuple[Point, Point]

SPILL_MM = 2.0
"""Pens and letters reach a little beyond what their measures say."""

HOW = 'Print at 100 % ("actual size"); both bars must measure 100 mm.'


def window_mm(paper: Paper) -> Point:
    """Width and height of the part of a sheet that holds the drawing."""
    return paper.width - 2 * MARGIN_MM - SIDE_MM, paper.height - 2 * MARGIN_MM - TOP_MM - FOOT_MM


def tiles(drawing: Drawing, paper: Paper) -> tuple[Point, ...]:
    """Lower left corners of the windows that cover a drawing, row by row from the top left.

    One window is centred on what it holds; more of them share OVERLAP_MM and cover a little more than the drawing.
    """
    columns, rows = _counts(drawing, paper)
    width, height = window_mm(paper)
    across, up = columns * (width - OVERLAP_MM) + OVERLAP_MM, rows * (height - OVERLAP_MM) + OVERLAP_MM
    left = (drawing.low[0] + drawing.high[0] - across) / 2
    foot = (drawing.low[1] + drawing.high[1] - up) / 2
    places = [
        (left + c * (width - OVERLAP_MM), foot + r * (height - OVERLAP_MM)) for r in range(rows) for c in range(columns)
    ]
    return tuple(sorted(places, key=lambda place: (-place[1], place[0])))


def _counts(drawing: Drawing, paper: Paper) -> tuple[int, int]:
    sizes = zip((drawing.width, drawing.height), window_mm(paper), strict=True)
    columns, rows = (max(1, math.ceil((size - OVERLAP_MM) / (window - OVERLAP_MM) - 1e-9)) for size, window in sizes)
    return columns, rows


def add_drawing(book: Book, drawing: Drawing) -> int:
    """Add a drawing to a PDF; number of sheets it took."""
    places, pieces = tiles(drawing, book.paper), [(piece, _box(piece)) for piece in chained(drawing.shapes)]
    columns, _ = _counts(drawing, book.paper)
    for i, place in enumerate(places):
        canvas = book.begin()
        _tile(canvas, pieces, place, book.paper)
        if len(places) > 1:
            _joints(canvas, places, place, book.paper)
        _strips(canvas, book.paper, _heading(drawing, i, len(places), columns))
        book.end()
    return len(places)


def _heading(drawing: Drawing, number: int, count: int, columns: int) -> tuple[str, str]:
    if count == 1:
        return drawing.title, "full size"
    row, column = divmod(number, columns)
    return drawing.title, f"full size, sheet {number + 1} of {count}: row {row + 1}, column {column + 1}"


def _tile(canvas: Any, pieces: list[tuple[Piece, Box]], place: Point, paper: Paper) -> None:
    """What a window shows of a drawing; pieces outside are left out, or large rings would take ages and megabytes."""
    width, height = window_mm(paper)
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(_left(), _foot(), width, height)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.translate(_left() - place[0], _foot() - place[1])
    _draw(canvas, (piece for piece, box in pieces if _meet(box, (place, (place[0] + width, place[1] + height)))))
    canvas.restoreState()


def _meet(one: Box, other: Box) -> bool:
    return all(one[0][k] <= other[1][k] and other[0][k] <= one[1][k] for k in (0, 1))


def _box(piece: Piece) -> Box:
    """A box around a piece, never too small."""
    if isinstance(piece, list):
        places = [piece[0].start, *(line.end for line in piece)]
        return _around(places, SPILL_MM)
    if isinstance(piece, Line):
        return _around([piece.start, piece.end], SPILL_MM)
    if isinstance(piece, Label):
        return _around([piece.at], SPILL_MM + piece.height * (1 + len(piece.text)))
    if isinstance(piece, Circle):
        return _around([piece.centre], SPILL_MM + piece.radius)
    half = math.radians(piece.turn_deg) / 2  # no point of an arc is farther from its middle than half its length
    return _around([piece.point(piece.start_deg + math.degrees(half))], SPILL_MM + piece.radius * half)


def _around(places: list[Point], reach: float) -> Box:
    xs, ys = zip(*places, strict=True)
    return (min(xs) - reach, min(ys) - reach), (max(xs) + reach, max(ys) + reach)


def _left() -> float:
    return MARGIN_MM + SIDE_MM


def _foot() -> float:
    return MARGIN_MM + FOOT_MM


def _joints(canvas: Any, places: tuple[Point, ...], place: Point, paper: Paper) -> None:
    """The window's frame, and a cross at both ends of every overlap: those of neighbours come to lie together."""
    width, height = window_mm(paper)
    canvas.setStrokeColor(QUIET)
    canvas.setLineWidth(0.1)
    canvas.setDash(0.3, 1.2)
    canvas.rect(_left(), _foot(), width, height)
    canvas.setDash()
    crosses = [(x + dx, y + dy) for x, y in places for dx in _ends(width) for dy in _ends(height)]
    for x, y in dict.fromkeys((round(x, 6), round(y, 6)) for x, y in crosses):
        u, v = x - place[0], y - place[1]
        if 0 < u < width and 0 < v < height:
            _cross(canvas, _left() + u, _foot() + v)


def _ends(size: float) -> tuple[float, float]:
    return OVERLAP_MM / 2, size - OVERLAP_MM / 2


def _cross(canvas: Any, x: float, y: float) -> None:
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.2)
    canvas.line(x - 4, y, x + 4, y)
    canvas.line(x, y - 4, x, y + 4)
    canvas.circle(x, y, 2.2)


def _strips(canvas: Any, paper: Paper, heading: tuple[str, str]) -> None:
    """Title above, level bars below, the upright one on the left."""
    top = paper.height - MARGIN_MM
    canvas.setFillColor(INK)
    canvas.setFont("house", 3.2)
    right = paper.width - MARGIN_MM
    canvas.drawRightString(right, top - 4.5, heading[1])
    canvas.setFont("house-bold", 4.2)
    room = right - MARGIN_MM - canvas.stringWidth(heading[1], "house", 3.2) - 4
    canvas.drawString(MARGIN_MM, top - 4.5, fitted(heading[0], 4.2, room, bold=True))
    left, foot = MARGIN_MM + 2.5, MARGIN_MM + 10.0
    bars = [
        *level_bar(left, foot, BAR_MM, "100 mm"),
        *level_bar(left + BAR_MM + 8, foot, TWO_INCHES_MM, "2 inches"),
        *upright_bar(left, foot + APART_MM, BAR_MM, ""),
    ]
    draw_shapes(canvas, bars)
    canvas.setFillColor(INK)
    canvas.setFont("house", 3.0)
    canvas.drawString(left, MARGIN_MM + 3.6, HOW)
    canvas.saveState()
    canvas.translate(left + 4.0, foot + APART_MM + BAR_MM / 2)
    canvas.rotate(90)
    canvas.drawCentredString(0, 0, "100 mm")
    canvas.restoreState()


def draw_shapes(canvas: Any, shapes: tuple[Shape, ...] | list[Shape]) -> None:
    """Draw shapes on a canvas whose unit is a millimetre."""
    _draw(canvas, chained(shapes))


def _draw(canvas: Any, pieces: Iterable[Piece]) -> None:
    for shape in pieces:
        if isinstance(shape, Label):
            _write(canvas, shape)
            continue
        first = shape[0] if isinstance(shape, list) else shape
        colour = COLOURS[first.layer] if first.phase is None else PHASE_COLOURS[first.phase]
        canvas.setStrokeColor(colour)
        canvas.setLineWidth(WIDTHS[first.layer])
        canvas.setDash(*(([*DASHES[first.pen]],) if DASHES[first.pen] else ()))
        canvas.drawPath(_path(canvas, shape), stroke=1, fill=0)
    canvas.setDash()


def _path(canvas: Any, shape: Line | Arc | Circle | list[Line]) -> Any:
    path = canvas.beginPath()
    if isinstance(shape, Line | list):
        lines = shape if isinstance(shape, list) else [shape]
        path.moveTo(*lines[0].start)
        for line in lines:
            path.lineTo(*line.end)
    elif isinstance(shape, Circle):
        path.circle(*shape.centre, shape.radius)
    else:
        (x, y), r = shape.centre, shape.radius
        path.arc(x - r, y - r, x + r, y + r, startAng=shape.start_deg, extent=shape.turn_deg)
    return path


def _write(canvas: Any, label: Label) -> None:
    canvas.setFillColor(INK if label.phase is None else PHASE_COLOURS[label.phase])
    canvas.setFont("house-bold" if label.bold else "house", label.height)
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[label.anchor]
    draw(*label.at, label.text)
