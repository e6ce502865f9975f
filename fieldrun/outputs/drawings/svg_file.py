"""A drawing as SVG in millimetres: one user unit is one millimetre, nothing is transformed, layers are groups."""

from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from fieldrun.outputs.colours import INK, PHASE_COLOURS, QUIET
from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.drawings.record import LAYERS, Arc, Circle, Drawing, Label, Layer, Line, Point, Shape, chained

WIDTHS = {"cut": 0.2, "mark": 0.25, "note": 0.18}
"""Widths of lines [mm]."""

COLOURS = {"cut": "#000000", "mark": INK, "note": QUIET}

DASHES = {"plain": "", "dashed": "2.4 0.9", "dotted": "0.6 0.8", "faint": "0.3 1.2"}

DIGITS = 6
"""Decimals of a coordinate: a nanometre."""


def drawing_svg(drawing: Drawing) -> str:
    """A drawing as an SVG document of its own.

    Width and height are in mm and the view box has the same numbers, so that lasers, browsers and drawing programs
    agree on its size; y runs down as in every SVG.
    """
    width, height = number(drawing.width), number(drawing.height)
    size = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    facts = "; ".join(f"{key}: {value}" for key, value in drawing.facts)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" {size}>',
        f"<title>{escape(one_line(drawing.title))}</title>",
        f"<desc>{escape(facts)}</desc>",
        *(line for layer in LAYERS for line in _group(drawing, layer)),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def _group(drawing: Drawing, layer: Layer) -> list[str]:
    own = [shape for shape in drawing.shapes if shape.layer == layer]
    look = f'fill="none" stroke="{COLOURS[layer]}" stroke-width="{WIDTHS[layer]}" stroke-linecap="round"'
    font = 'font-family="DejaVu Sans, Verdana, sans-serif"'
    inside = [line for _, run in groupby(own, lambda shape: shape.phase) for line in _run(list(run), drawing)]
    return [f'<g id="{layer}" {look} {font}>', *inside, "</g>"] if own else []


def _run(shapes: list[Shape], drawing: Drawing) -> list[str]:
    phase = shapes[0].phase
    drawn = [_chain(s, drawing) if isinstance(s, list) else _element(s, drawing) for s in chained(shapes)]
    if phase is None:
        return drawn
    return [f'<g class="phase-{phase + 1}" stroke="{PHASE_COLOURS[phase]}">', *drawn, "</g>"]


def _element(shape: Shape, drawing: Drawing) -> str:
    if isinstance(shape, Line):
        (x0, y0), (x1, y1) = _place(shape.start, drawing), _place(shape.end, drawing)
        name = f" id={quoteattr(shape.name)}" if shape.name else ""
        return f'<line{name} x1="{x0}" y1="{y0}" x2="{x1}" y2="{y1}"{_dash(shape.pen)}/>'
    if isinstance(shape, Circle):
        x, y = _place(shape.centre, drawing)
        return f'<circle cx="{x}" cy="{y}" r="{number(shape.radius)}"{_dash(shape.pen)}/>'
    if isinstance(shape, Arc):
        return _arc(shape, drawing)
    return _text(shape, drawing)


def _chain(lines: list[Line], drawing: Drawing) -> str:
    points = [_place(point, drawing) for point in (lines[0].start, *(line.end for line in lines))]
    way = " L ".join(f"{x} {y}" for x, y in points)
    return f'<path d="M {way}"{_dash(lines[0].pen)}/>'


def _arc(arc: Arc, drawing: Drawing) -> str:
    (x0, y0), (x1, y1) = (_place(arc.point(angle), drawing) for angle in (arc.start_deg, arc.end_deg))
    radius, large = number(arc.radius), int(arc.turn_deg > 180)
    return f'<path d="M {x0} {y0} A {radius} {radius} 0 {large} 0 {x1} {y1}"{_dash(arc.pen)}/>'


def _text(label: Label, drawing: Drawing) -> str:
    x, y = _place(label.at, drawing)
    colour = INK if label.phase is None else PHASE_COLOURS[label.phase]
    weight = ' font-weight="bold"' if label.bold else ""
    look = f'font-size="{number(label.height)}" text-anchor="{label.anchor}" fill="{colour}" stroke="none"{weight}'
    return f'<text x="{x}" y="{y}" {look}>{escape(one_line(label.text, 200))}</text>'


def _dash(pen: str) -> str:
    return f' stroke-dasharray="{DASHES[pen]}"' if DASHES[pen] else ""


def _place(point: Point, drawing: Drawing) -> tuple[str, str]:
    return number(point[0] - drawing.low[0]), number(drawing.high[1] - point[1])


def number(value: float) -> str:
    """A length to the nanometre, without needless zeros and never minus nothing."""
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
