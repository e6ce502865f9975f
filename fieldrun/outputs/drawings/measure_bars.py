"""Bars of known length, so that a print or an import that has changed its size shows at once."""

from fieldrun.outputs.drawings.record import Drawing, Label, Line, Shape

BAR_MM, TWO_INCHES_MM = 100.0, 50.8

TICK_MM, TEXT_MM = 2.0, 3.0

APART_MM = 6.0
"""From one bar's end to the other's: a tick of one must not look like a part of the other."""


def level_bar(x: float, y: float, length: float, text: str, name: str = "") -> list[Shape]:
    """A bar to the right of a point, ticks at its ends, its length written above it."""
    ticks = [Line("note", (at, y - TICK_MM), (at, y + TICK_MM)) for at in (x, x + length)]
    words = Label("note", (x + length / 2, y + 1.2), TEXT_MM, text, "middle")
    return [Line("note", (x, y), (x + length, y), name=name), *ticks, words]


def upright_bar(x: float, y: float, length: float, text: str, name: str = "") -> list[Shape]:
    """A bar upward from a point; text stands beside its middle."""
    ticks = [Line("note", (x - TICK_MM, at), (x + TICK_MM, at)) for at in (y, y + length)]
    words = Label("note", (x + 1.5, y + length / 2 - 1.0), TEXT_MM, text)
    return [Line("note", (x, y), (x, y + length), name=name), *ticks, words]


def with_bars(drawing: Drawing) -> Drawing:
    """A drawing with both bars at its lower left corner, its box grown to hold them."""
    (x, y), top = drawing.low, max(drawing.high[1], drawing.low[1] + BAR_MM + APART_MM)
    left, foot = x - 16.0, y - 9.0
    bars = [
        *level_bar(left + 4, foot + 4, BAR_MM, "100 mm", "bar-x"),
        *level_bar(left + 10 + BAR_MM, foot + 4, TWO_INCHES_MM, "2 inches", "bar-inch"),
        *upright_bar(left + 4, foot + 4 + APART_MM, BAR_MM, "100 mm", "bar-y"),
    ]
    right = max(drawing.high[0], left + 14 + BAR_MM + TWO_INCHES_MM)
    return Drawing(drawing.title, (*drawing.shapes, *bars), (left, foot), (right, top), drawing.facts)
