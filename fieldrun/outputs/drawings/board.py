"""A board's outline and wires as shapes of a drawing."""

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.drawings.record import PHASE_PENS, Arc, Circle, Line, Pen, Point, Shape
from fieldrun.winding.former_outline import Contour, Outline, Round, Stroke
from fieldrun.winding.pieces import ARC, LINE, Pieces, points_along
from fieldrun.winding.sampling import selected

SPIRAL_PARTS = 24
"""Straight parts that a spiral leg is drawn with."""


def outline_shapes(outline: Outline) -> list[Shape]:
    """Every stroke of a board's edge and holes: what is cut."""
    return [shape for contour in (outline.edge, *outline.holes) for shape in _contour(contour)]


def _contour(contour: Contour) -> list[Shape]:
    if isinstance(contour, Round):
        return [Circle("cut", _mm(contour.centre), contour.radius / MM)]
    return [_stroke(stroke) for stroke in contour]


def _stroke(stroke: Stroke) -> Shape:
    if stroke.centre is None:
        return Line("cut", _mm(stroke.start), _mm(stroke.end))
    start, end = (stroke.start, stroke.end) if stroke.left else (stroke.end, stroke.start)
    radius = math.dist(start, stroke.centre) / MM
    return Arc("cut", _mm(stroke.centre), radius, _angle(start, stroke.centre), _angle(end, stroke.centre))


def _angle(point: Point, centre: Point) -> float:
    return math.atan2(point[1] - centre[1], point[0] - centre[0]) / DEGREE


def _mm(point: Point) -> Point:
    return point[0] / MM, point[1] / MM


def wire_shapes(pieces: Pieces, phase: int) -> Iterator[Shape]:
    """Conductors of one phase as marks on the board, in the phase's line style."""
    pen = PHASE_PENS[phase]
    for i in range(pieces.count):
        kind = int(pieces.kind[i])
        if kind == ARC:
            yield from _end_arc(pieces, i, pen, phase)
        else:
            yield from _leg(selected(pieces, np.array([i])), 1 if kind == LINE else SPIRAL_PARTS, pen, phase)


def _end_arc(pieces: Pieces, i: int, pen: Pen, phase: int) -> Iterator[Shape]:
    radius, start, end = pieces.start[i, 0] / MM, pieces.start[i, 1] / DEGREE, pieces.end[i, 1] / DEGREE
    low, high = min(start, end), max(start, end)
    if high - low >= 360:
        yield Circle("mark", (0.0, 0.0), float(radius), pen, phase)
    elif high > low:
        yield Arc("mark", (0.0, 0.0), float(radius), float(low), float(high), pen, phase)


def _leg(piece: Pieces, parts: int, pen: Pen, phase: int) -> Iterator[Shape]:
    places = points_along(piece, np.linspace(0, 1, parts + 1)[None, :])[0]
    x, y = places[:, 0] * np.cos(places[:, 1]) / MM, places[:, 0] * np.sin(places[:, 1]) / MM
    points = [(float(a), float(b)) for a, b in zip(x, y, strict=True)]
    for a, b in pairwise(points):
        if math.dist(a, b) > 1e-6:
            yield Line("mark", a, b, pen, phase)
