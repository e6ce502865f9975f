"""Magnets on paper: which pole faces the winding, on both discs, against the field's own signs."""

import math
from collections.abc import Callable

import pytest

from fieldrun.outputs.drawings.magnet_drawing import both_faces, magnet_drawings, with_magnets
from fieldrun.outputs.drawings.record import Circle, Drawing, Label, Line


def letters(drawing: Drawing) -> dict[int, str]:
    """Pole letters by their place in sixteenths of a turn, counterclockwise on paper."""
    found = {}
    for shape in drawing.shapes:
        if isinstance(shape, Label) and shape.text in {"N", "S"}:
            angle = math.atan2(shape.at[1] + 0.36 * shape.height, shape.at[0])
            found[round(angle / (2 * math.pi) * 16) % 16] = shape.text
    return found


def test_lower_disc_starts_with_a_north_pole_and_alternates(board: Callable) -> None:
    lower, upper = magnet_drawings(board().design)
    assert letters(lower) == {i: "NS"[i % 2] for i in range(16)}
    assert letters(upper) == {i: "SN"[i % 2] for i in range(16)}


def test_discs_laid_on_each_other_have_unlike_poles_facing(board: Callable) -> None:
    """Turned over about the line through magnet 1, place i of the upper disc comes to lie on place -i of the lower."""
    lower, upper = (letters(drawing) for drawing in magnet_drawings(board().design))
    assert all({lower[i], upper[-i % 16]} == {"N", "S"} for i in range(16))


def test_lying_bodies_of_a_halbach_face_point_to_where_north_faces_the_winding(board: Callable) -> None:
    """On the strong side of such a face flux leaves at the poles that its lying magnets point to (Halbach, NIM 169
    (1980) 1, from memory): on either disc, as seen from the winding.
    """
    design = board(example="quiet-halbach").design
    for drawing in magnet_drawings(design):
        poles = [s for s in drawing.shapes if isinstance(s, Label) and s.text in {"N", "S"}]
        lines = [s for s in drawing.shapes if isinstance(s, Line) and math.isclose(math.dist(s.start, s.end), 6.0)]
        assert len(lines) == 16
        for line in lines:
            ahead = (2 * line.end[0] - line.start[0], 2 * line.end[1] - line.start[1])
            nearest = min(poles, key=lambda pole: math.dist((pole.at[0], pole.at[1] + 0.36 * pole.height), ahead))
            assert nearest.text == "N"


def test_outlines_are_to_scale(board: Callable) -> None:
    drawing = magnet_drawings(board().design)[0]
    circles = [s for s in drawing.shapes if isinstance(s, Circle) and s.layer == "mark"]
    assert len(circles) == 16
    assert {round(c.radius, 9) for c in circles} == {10.0}
    assert {round(math.hypot(*c.centre), 9) for c in circles} == {66.0}


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_every_shape_lies_in_its_drawing(example: str, board: Callable) -> None:
    made = board(example=example)
    for drawing in (*magnet_drawings(made.design), both_faces(made.design), with_magnets(made.drawing, made.design)):
        for shape in drawing.shapes:
            for x, y in ends(shape):
                assert drawing.low[0] <= x <= drawing.high[0]
                assert drawing.low[1] <= y <= drawing.high[1]


def ends(shape) -> list[tuple[float, float]]:
    if isinstance(shape, Line):
        return [shape.start, shape.end]
    if isinstance(shape, Label):
        return [shape.at]
    return [shape.centre]


def test_one_face_is_one_drawing(board: Callable) -> None:
    design = board(example="plank-ring").design
    (only,) = magnet_drawings(design)
    assert both_faces(design) == only
    assert any(isinstance(s, Label) and s.text == "magnet disc, seen from the winding" for s in only.shapes)
