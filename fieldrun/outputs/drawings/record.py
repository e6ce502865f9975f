"""A drawing in millimetres, whatever it will be written as: lines, arcs, circles and texts on three layers.

x to the right, y up, angles in degrees counterclockwise from x. `cut` is what a saw or laser follows, `mark` what is
engraved or pricked into the board, `note` what only paper needs.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

Layer = Literal["cut", "mark", "note"]
LAYERS: tuple[Layer, ...] = ("cut", "mark", "note")

Pen = Literal["plain", "dashed", "dotted", "faint"]
"""Style of a line; phases A, B and C are plain, dashed and dotted."""

PHASE_PENS: tuple[Pen, ...] = ("plain", "dashed", "dotted")

Anchor = Literal["start", "middle", "end"]

Point = tuple[float, float]


@dataclass(frozen=True)
class Line:
    """A straight line."""

    layer: Layer
    start: Point
    end: Point
    pen: Pen = "plain"
    phase: int | None = None
    name: str = ""


@dataclass(frozen=True)
class Arc:
    """Part of a circle, counterclockwise from one angle to the other, by less than a whole turn."""

    layer: Layer
    centre: Point
    radius: float
    start_deg: float
    end_deg: float
    pen: Pen = "plain"
    phase: int | None = None

    def point(self, angle_deg: float) -> Point:
        """Point of the circle."""
        angle = math.radians(angle_deg)
        return self.centre[0] + self.radius * math.cos(angle), self.centre[1] + self.radius * math.sin(angle)

    @property
    def turn_deg(self) -> float:
        """How far it goes, above 0 and up to 360."""
        turn = (self.end_deg - self.start_deg) % 360
        return turn if turn > 0 else 360.0


@dataclass(frozen=True)
class Circle:
    """A whole circle."""

    layer: Layer
    centre: Point
    radius: float
    pen: Pen = "plain"
    phase: int | None = None


@dataclass(frozen=True)
class Label:
    """One line of text; `at` is on its base line, `height` the size of its letters as fonts count it."""

    layer: Layer
    at: Point
    height: float
    text: str
    anchor: Anchor = "start"
    bold: bool = False
    phase: int | None = None


Shape = Line | Arc | Circle | Label


@dataclass(frozen=True)
class Drawing:
    """Shapes inside a box from `low` to `high`, a title, and facts that every file carries."""

    title: str
    shapes: tuple[Shape, ...]
    low: Point
    high: Point
    facts: tuple[tuple[str, str], ...] = field(default=())

    @property
    def width(self) -> float:
        """Width of the box."""
        return self.high[0] - self.low[0]

    @property
    def height(self) -> float:
        """Height of the box."""
        return self.high[1] - self.low[1]


def chained(shapes: Iterable[Shape]) -> Iterator[Shape | list[Line]]:
    """Shapes in their order, with lines of one pen that go on from each other as one list: dashes then run on."""
    chain: list[Line] = []
    for shape in shapes:
        follows = bool(chain) and isinstance(shape, Line) and _goes_on(chain[-1], shape)
        if chain and not follows:
            yield chain if len(chain) > 1 else chain[0]
            chain = []
        if isinstance(shape, Line):
            chain.append(shape)
        else:
            yield shape
    if chain:
        yield chain if len(chain) > 1 else chain[0]


def _goes_on(line: Line, following: Line) -> bool:
    alike = (line.layer, line.pen, line.phase) == (following.layer, following.pen, following.phase)
    return alike and not (line.name or following.name) and line.end == following.start


def moved(shape: Shape, dx: float, dy: float) -> Shape:
    """The same shape somewhere else."""
    if isinstance(shape, Line):
        return replace(shape, start=_shift(shape.start, dx, dy), end=_shift(shape.end, dx, dy))
    if isinstance(shape, Label):
        return replace(shape, at=_shift(shape.at, dx, dy))
    return replace(shape, centre=_shift(shape.centre, dx, dy))


def _shift(point: Point, dx: float, dy: float) -> Point:
    return point[0] + dx, point[1] + dy


def beside(left: Drawing, right: Drawing, title: str, between: float = 10.0) -> Drawing:
    """Two drawings in one, side by side, their boxes' feet on one line."""
    dx, dy = left.high[0] + between - right.low[0], left.low[1] - right.low[1]
    shapes = (*left.shapes, *(moved(shape, dx, dy) for shape in right.shapes))
    high = right.high[0] + dx, max(left.high[1], right.high[1] + dy)
    return Drawing(title, shapes, left.low, high, left.facts)
