"""A chart's frame: where numbers fall on the paper, round ticks, axes and their names."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from fieldrun.design.arrays import Floats
from fieldrun.outputs.report import svg
from fieldrun.outputs.sentences import plain

WIDTH, LEFT, RIGHT, TOP, BOTTOM = 560.0, 62.0, 18.0, 34.0, 52.0
"""Width of a chart and its margins, in units of the drawing: text has 15 of them."""


@dataclass(frozen=True)
class Frame:
    """Ranges of both axes, and the rectangle they fill on paper."""

    across: tuple[float, float]
    up: tuple[float, float]
    left: float
    top: float
    width: float
    height: float

    def x(self, value: float) -> float:
        """From the left edge of the paper."""
        low, high = self.across
        return self.left + self.width * (value - low) / (high - low)

    def y(self, value: float) -> float:
        """From the top edge of the paper."""
        low, high = self.up
        return self.top + self.height * (high - value) / (high - low)

    def points(self, across: Floats, up: Floats) -> Floats:
        """(n, 2) places on paper, in units of the drawing, of values (n,) across and up, in the units of the axes."""
        (x0, x1), (y0, y1) = self.across, self.up
        x = self.left + self.width * (np.asarray(across) - x0) / (x1 - x0)
        return np.column_stack([x, self.top + self.height * (y1 - np.asarray(up)) / (y1 - y0)])

    def as_data(self) -> dict[str, float]:
        """What a script needs to find the same places."""
        return {
            "left": self.left,
            "top": self.top,
            "width": self.width,
            "height": self.height,
            "low": self.across[0],
            "high": self.across[1],
            "floor": self.up[0],
            "ceiling": self.up[1],
        }


def frame(across: tuple[float, float], up: tuple[float, float], height: float, top: float = TOP) -> Frame:
    """A frame that leaves the usual margins."""
    return Frame(across, up, LEFT, top, WIDTH - LEFT - RIGHT, height)


def ticks(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Round numbers in a range, about so many."""
    if not high > low:
        return (low,)
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = min((m * power for m in (1, 2, 2.5, 5, 10)), key=lambda s: abs(math.log(s / raw)))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(step * k for k in range(first, last + 1))


def up_axis(at: Frame, values: Sequence[float], unit: str) -> list[Markup]:
    """Hairlines across, their numbers, and the unit over them."""
    lines = [svg.line((at.left, at.y(v)), (at.left + at.width, at.y(v)), class_="hair") for v in values]
    numbers = [svg.text((at.left - 8, at.y(v) + 5), plain(v), class_="tick end") for v in values]
    return [*lines, *numbers, svg.text((at.left - 8, at.top - 14), unit, class_="tick end")]


def across_axis(at: Frame, values: Sequence[float], name: str = "", *, numbers: bool = True) -> list[Markup]:
    """Small marks below, their numbers, and the axis' name under them."""
    foot = at.top + at.height
    marks = [svg.line((at.x(v), foot), (at.x(v), foot + 5), class_="mark") for v in values]
    base = svg.line((at.left, foot), (at.left + at.width, foot), class_="base")
    told = [svg.text((at.x(v), foot + 21), plain(v), class_="tick mid") for v in values] if numbers else []
    below = [svg.text((at.left + at.width / 2, foot + 43), name, class_="axis mid")] if name else []
    return [base, *marks, *told, *below]


def cursor(at: Frame, value: float) -> Markup:
    """A line that a script moves: where a value is read off."""
    x = at.x(value)
    return svg.line((x, at.top), (x, at.top + at.height), class_="cursor")
