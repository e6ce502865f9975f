"""A drawing as DXF of release 12 in millimetres: lines, arcs, circles and texts, which every program reads."""

from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.drawings.record import LAYERS, Arc, Circle, Drawing, Label, Line, Shape

COLOURS = {"cut": 1, "mark": 5, "note": 8}
"""Colour numbers of the layers: red, blue, grey."""

LINE_TYPES = {"plain": "CONTINUOUS", "dashed": "DASHED", "dotted": "DOT", "faint": "DOT"}

PATTERNS = {"CONTINUOUS": (), "DASHED": (2.4, -0.9), "DOT": (0.6, -0.8)}
"""Strokes and gaps [mm]."""

ALIGN = {"start": 0, "middle": 1, "end": 2}

CAP_HEIGHT = 0.72
"""Height of capitals, by which DXF measures letters, over a font's size."""

LONGEST = 120

Pairs = list[tuple[int, str]]


def drawing_dxf(drawing: Drawing) -> str:
    """A drawing as a DXF file; facts and title stand in it as comments.

    Coordinates are the drawing's own, one unit one millimetre ($INSUNITS 4).
    """
    facts: Pairs = [(999, ascii_text(f"{key}: {value}")) for key, value in drawing.facts]
    pairs = [(999, ascii_text(drawing.title)), *facts, *_header(drawing), *_tables(), *_entities(drawing), (0, "EOF")]
    return "".join(f"{code:>3}\n{value}\n" for code, value in pairs)


def _header(drawing: Drawing) -> Pairs:
    low, high = drawing.low, drawing.high
    return [
        (0, "SECTION"),
        (2, "HEADER"),
        (9, "$ACADVER"),
        (1, "AC1009"),
        (9, "$INSUNITS"),
        (70, "4"),
        (9, "$EXTMIN"),
        *_point(10, low),
        (9, "$EXTMAX"),
        *_point(10, high),
        (0, "ENDSEC"),
    ]


def _tables() -> Pairs:
    types = [pair for name, pattern in PATTERNS.items() for pair in _line_type(name, pattern)]
    layers = [pair for layer in LAYERS for pair in _layer(layer)]
    style: Pairs = [(0, "STYLE"), (2, "STANDARD"), (70, "0"), (40, "0"), (41, "1"), (50, "0"), (71, "0"), (42, "2.5")]
    style += [(3, "txt"), (4, "")]
    return [
        (0, "SECTION"),
        (2, "TABLES"),
        *_table("LTYPE", len(PATTERNS), types),
        *_table("LAYER", len(LAYERS), layers),
        *_table("STYLE", 1, style),
        (0, "ENDSEC"),
    ]


def _table(name: str, count: int, rows: Pairs) -> Pairs:
    return [(0, "TABLE"), (2, name), (70, str(count)), *rows, (0, "ENDTAB")]


def _line_type(name: str, pattern: tuple[float, ...]) -> Pairs:
    length = sum(map(abs, pattern))
    strokes: Pairs = [(49, number(stroke)) for stroke in pattern]
    head: Pairs = [(0, "LTYPE"), (2, name), (70, "0"), (3, ""), (72, "65"), (73, str(len(pattern)))]
    return [*head, (40, number(length)), *strokes]


def _layer(layer: str) -> Pairs:
    colour = COLOURS[layer]
    return [(0, "LAYER"), (2, layer.upper()), (70, "0"), (62, str(colour)), (6, "CONTINUOUS")]


def _entities(drawing: Drawing) -> Pairs:
    inside = [pair for shape in drawing.shapes for pair in _entity(shape)]
    return [(0, "SECTION"), (2, "ENTITIES"), *inside, (0, "ENDSEC")]


def _entity(shape: Shape) -> Pairs:
    if isinstance(shape, Line):
        return [*_head("LINE", shape, shape.pen), *_point(10, shape.start), *_point(11, shape.end)]
    if isinstance(shape, Circle):
        return [*_head("CIRCLE", shape, shape.pen), *_point(10, shape.centre), (40, number(shape.radius))]
    if isinstance(shape, Arc):
        angles = (50, number(shape.start_deg % 360)), (51, number(shape.end_deg % 360))
        return [*_head("ARC", shape, shape.pen), *_point(10, shape.centre), (40, number(shape.radius)), *angles]
    return _text(shape)


def _text(label: Label) -> Pairs:
    head = _head("TEXT", label, "plain")
    size: Pairs = [(40, number(CAP_HEIGHT * label.height)), (1, ascii_text(label.text))]
    end: Pairs = [] if label.anchor == "start" else [(72, str(ALIGN[label.anchor])), *_point(11, label.at)]
    return [*head, *_point(10, label.at), *size, *end]


def _head(kind: str, shape: Shape, pen: str) -> Pairs:
    return [(0, kind), (8, shape.layer.upper()), (6, LINE_TYPES[pen])]


def _point(code: int, point: tuple[float, float]) -> Pairs:
    return [(code, number(point[0])), (code + 10, number(point[1])), (code + 20, "0.0")]


def number(value: float) -> str:
    """A number to nine decimals: a picometre, and angles as fine as that on any board."""
    text = f"{value + 0.0:.9f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def ascii_text(text: str) -> str:
    """Text for a DXF: one line, other letters by number as CAD programs read them, no control codes by accident."""
    plain = one_line(text, LONGEST).replace("%%", "% %").replace("\\", "/")
    return "".join(_ascii(letter) for letter in plain)


def _ascii(letter: str) -> str:
    number_ = ord(letter)
    return letter if 32 <= number_ < 127 else f"\\U+{number_:04X}" if number_ <= 0xFFFF else "?"
