"""Drawings from numbers: a few SVG elements, everything escaped, nothing in it that a strict page would refuse."""

from collections.abc import Iterable, Sequence

import numpy as np
from markupsafe import Markup, escape

from fieldrun.design.arrays import Floats

Point = tuple[float, float]


def number(value: float, decimals: int = 2) -> str:
    """Coordinates without blanks and noise: `12.5`, `-0.25`, `0`."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in {"-0", ""} else text


def element(name: str, inside: Iterable[Markup | str] = (), /, **attributes: object) -> Markup:
    """One element; `class_`, `stroke_width` become `class`, `stroke-width`; text inside is escaped, Markup is not."""
    listed = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_value(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    content = "".join(escape(part) for part in inside)
    return Markup(f"<{name}{listed}>{content}</{name}>" if content else f"<{name}{listed}/>")  # noqa: S704 - escaped


def _value(value: object) -> str:
    return number(value) if isinstance(value, float) else str(value)


def drawing(
    anchor: str, box: tuple[float, float, float, float], says: str, inside: Iterable[Markup], **more: object
) -> Markup:
    """A whole drawing with its text alternative.

    Parameters
    ----------
    anchor : unique in the page
    box : left, top, width, height
    says : what is seen, in words
    inside : elements
    more : attributes of the drawing's own element
    """
    name = element("title", [says], id=f"{anchor}-says")
    view = " ".join(number(edge) for edge in box)
    look = {"id": anchor, "viewBox": view, "role": "img", "aria_labelledby": f"{anchor}-says"}
    return element("svg", [name, *inside], **look, **more)


def text(place: Point, words: str, **look: object) -> Markup:
    """Words at a place."""
    return element("text", [words], x=float(place[0]), y=float(place[1]), **look)


def line(start: Point, end: Point, **look: object) -> Markup:
    """A straight line."""
    (x1, y1), (x2, y2) = start, end
    return element("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **look)


def box(left: float, top: float, width: float, height: float, **look: object) -> Markup:
    """A rectangle."""
    return element("rect", x=float(left), y=float(top), width=float(width), height=float(height), **look)


def circle(centre: Point, radius: float, **look: object) -> Markup:
    """A circle."""
    return element("circle", cx=float(centre[0]), cy=float(centre[1]), r=float(radius), **look)


def group(inside: Iterable[Markup], **look: object) -> Markup:
    """Elements that belong together."""
    return element("g", inside, **look)


def path(steps: str, **look: object) -> Markup:
    """A path."""
    return element("path", d=steps, **look)


def through(points: Floats | Sequence[Point], *, closed: bool = False, decimals: int = 2) -> str:
    """Path data through (n, 2) points, in units of the drawing, each a step from where rounding left the last one, so
    that errors do not add up.
    """
    ticks = np.round(np.asarray(points, float) * 10**decimals).astype(np.int64)
    steps = np.diff(ticks, axis=0) / 10**decimals
    first = " ".join(number(value / 10**decimals, decimals) for value in ticks[0])
    onwards = " ".join(f"{number(x, decimals)} {number(y, decimals)}" for x, y in steps.tolist())
    return f"M{first}" + (f"l{onwards}" if onwards else "") + ("z" if closed else "")
