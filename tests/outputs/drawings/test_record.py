"""The neutral record: chains of lines, drawings side by side, titles made harmless."""

import pytest

from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.drawings.record import Arc, Circle, Drawing, Label, Line, beside, chained, moved

A = Line("mark", (0, 0), (1, 0), "dashed", 1)
B = Line("mark", (1, 0), (2, 0), "dashed", 1)
GAP = Line("mark", (3, 0), (4, 0), "dashed", 1)
OTHER = Line("mark", (2, 0), (3, 0), "plain", 1)
ROUND = Circle("cut", (0, 0), 1)


def test_lines_that_go_on_are_one_chain() -> None:
    assert list(chained([A, B, OTHER, GAP, ROUND, A])) == [[A, B], OTHER, GAP, ROUND, A]
    assert list(chained([])) == []


def test_a_named_line_begins_a_chain_of_its_own() -> None:
    named = Line("mark", (1, 0), (2, 0), "dashed", 1, "bar")
    assert list(chained([A, named])) == [A, named]


@pytest.mark.parametrize(
    ("start", "end", "turn"), [(0, 90, 90), (350, 10, 20), (10, 350, 340), (0, 360, 360), (-90, 90, 180)]
)
def test_arcs_run_counterclockwise(start: float, end: float, turn: float) -> None:
    arc = Arc("cut", (1, 2), 3, start, end)
    assert arc.turn_deg == turn
    assert arc.point(90) == pytest.approx((1, 5))


def test_moving_keeps_everything_else() -> None:
    assert moved(A, 2, 3) == Line("mark", (2, 3), (3, 3), "dashed", 1)
    assert moved(ROUND, 2, 3) == Circle("cut", (2, 3), 1)
    assert moved(Label("note", (0, 1), 2, "x", "end"), 1, 1) == Label("note", (1, 2), 2, "x", "end")


def test_side_by_side() -> None:
    left = Drawing("l", (A,), (-5, -5), (5, 5), (("design_hash", "8f3a"),))
    right = Drawing("r", (ROUND,), (-2, -2), (2, 9))
    both = beside(left, right, "both")
    assert both.shapes == (A, Circle("cut", (17, -3), 1))
    assert (both.low, both.high, both.facts) == ((-5, -5), (19, 6), left.facts)
    assert (both.width, both.height) == (24, 11)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("Hut charger", "Hut charger"),
        ("two\nlines\tand \x07a bell", "two lines and a bell"),
        ("\u202eturned\u200b", "turned"),
        ("W" * 90, "W" * 79 + "\N{HORIZONTAL ELLIPSIS}"),
        ("", ""),
    ],
)
def test_one_line(text: str, line: str) -> None:
    assert one_line(text) == line
