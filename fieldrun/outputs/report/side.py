"""A cut from the shaft outwards, to scale: which layer lies where, how thick it is, and how far it reaches."""

from dataclasses import dataclass

from markupsafe import Markup

from fieldrun.design.model import Plate
from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.magnet_bodies import reach_mm
from fieldrun.outputs.report import svg
from fieldrun.outputs.sentences import plain

LEFT, ACROSS, RIGHT, TOP = 26.0, 430.0, 178.0, 30.0
"""Room left of the shaft's axis, length from it to the largest radius, room for names, and room above [units]."""

ROW, LINE = 34.0, 22.0
"""From one row of radii to the next; least distance of two names [units]."""

IDEAL_MM = 2.0
"""How thick an ideal plate, which has no end, is drawn."""

TALLEST = 330.0
"""The stack's largest height [units]: a tall one is drawn smaller."""


@dataclass(frozen=True)
class Layer:
    """A part of the stack: its name, its tone, and the rectangle it fills [mm]."""

    name: str
    tone: str
    inner: float
    outer: float
    low: float
    high: float
    ideal: bool = False

    @property
    def told(self) -> str:
        """Name and thickness."""
        return self.name if self.ideal else f"{self.name} {plain(self.high - self.low, 'mm')}"


def layers_of(result: RunResult) -> list[Layer]:
    """All parts, from the lowest to the highest."""
    magnets, rotor = result.design.magnets, result.design.rotor
    inner, outer = reach_mm(magnets.outline)
    thick = magnets.thickness_m / MM
    parts = [_plate(result, rotor.backing, -thick, -1, "steel"), Layer("magnets", "north", inner, outer, -thick, 0.0)]
    parts.append(_winding(result))
    if rotor.gap_m is not None:
        gap = rotor.gap_m / MM
        if rotor.faces == 2:
            parts.append(Layer("magnets", "north", inner, outer, gap, gap + thick))
        over = rotor.return_plate if rotor.faces == 1 else rotor.backing
        parts.append(
            _plate(
                result,
                over,
                gap + (thick if rotor.faces == 2 else 0),
                1,
                "steel" if rotor.faces == 2 else "return plate",
            )
        )
    return [part for part in parts if part is not None]


def _plate(result: RunResult, plate: Plate | None, face: float, side: int, name: str) -> Layer | None:
    if plate is None:
        return None
    rotor = result.design.rotor
    thick = IDEAL_MM if plate.steel is None else plate.thickness_m / MM
    low, high = (face, face + thick) if side > 0 else (face - thick, face)
    reach = rotor.steel_inner_radius_m / MM, rotor.steel_outer_radius_m / MM
    return Layer("ideal steel" if plate.steel is None else name, "plate", *reach, low, high, plate.steel is None)


def _winding(result: RunResult) -> Layer:
    laid = result.lay
    middle = float(laid.sheet_heights_m.min() + laid.sheet_heights_m.max()) / 2 / MM
    half = laid.thickness_m / 2 / MM
    return Layer("winding", "copper", laid.inner_radius_m / MM, laid.outer_radius_m / MM, middle - half, middle + half)


@dataclass(frozen=True)
class Cut:
    """How millimetres fall on paper: units to a millimetre, the lowest height [mm], and where it lies on paper."""

    scale: float
    low: float
    foot: float

    def x(self, radius: float) -> float:
        """From the left edge of the paper."""
        return LEFT + radius * self.scale

    def y(self, height: float) -> float:
        """From the top edge of the paper."""
        return self.foot - (height - self.low) * self.scale


def side_drawing(anchor: str, result: RunResult) -> Markup:
    """Draw the cut."""
    layers = layers_of(result)
    outer, low, high = max(p.outer for p in layers), min(p.low for p in layers), max(p.high for p in layers)
    scale = min(ACROSS / outer, TALLEST / (high - low))
    cut = Cut(scale, low, TOP + (high - low) * scale)
    edge = cut.x(outer)
    names, rows = _names(layers, cut, edge), _rows(layers, cut)
    lowest = max(cut.foot + ROW * (len(_reaches(layers)) + 0.6), _places(layers, cut)[-1][0] + 12)
    inside = [*_shaft(cut), *(_rectangle(part, cut) for part in layers), *names, *rows]
    return svg.drawing(anchor, (0.0, 0.0, edge + RIGHT, lowest), says(result), inside, class_="chart side")


def says(result: RunResult) -> str:
    """The drawing in words."""
    gap = result.design.rotor.gap_m
    space = "open above" if gap is None else f"gap {plain(gap / MM, 'mm')}"
    parts = ", ".join(part.told for part in layers_of(result))
    return f"A cut from the shaft outwards, to scale, from bottom to top: {parts}; {space}."


def _shaft(cut: Cut) -> list[Markup]:
    middle = (TOP + cut.foot) / 2
    turned = f"rotate(-90 {svg.number(LEFT - 8)} {svg.number(middle)})"
    axis = svg.line((LEFT, TOP - 18), (LEFT, cut.foot + 18), class_="shaft")
    return [axis, svg.text((LEFT - 8, middle), "shaft", class_="tick mid", transform=turned)]


def _rectangle(part: Layer, cut: Cut) -> Markup:
    wide, tall = (part.outer - part.inner) * cut.scale, (part.high - part.low) * cut.scale
    return svg.box(cut.x(part.inner), cut.y(part.high), wide, tall, class_=f"part {part.tone}")


def _places(layers: list[Layer], cut: Cut) -> list[tuple[float, Layer]]:
    """Where names stand, from the top down, none nearer to another than a line."""
    placed: list[tuple[float, Layer]] = []
    for part in sorted(layers, key=lambda p: -(p.low + p.high)):
        wanted = cut.y((part.low + part.high) / 2)
        placed.append((max(wanted, placed[-1][0] + LINE) if placed else wanted, part))
    return placed


def _names(layers: list[Layer], cut: Cut, edge: float) -> list[Markup]:
    out = []
    for y, part in _places(layers, cut):
        ends = [(cut.x(part.outer) + 2, cut.y((part.low + part.high) / 2)), (edge + 14, y)]
        out.append(svg.path(svg.through(ends), class_="leader"))
        out.append(svg.text((edge + 18, y + 5), part.told, class_="tick"))
    return out


def _reaches(layers: list[Layer]) -> dict[str, tuple[float, float]]:
    """From which radius to which everything reaches, parts of one name once."""
    return {part.name: (part.inner, part.outer) for part in layers}


def _rows(layers: list[Layer], cut: Cut) -> list[Markup]:
    out = []
    for row, (name, (inner, outer)) in enumerate(_reaches(layers).items(), 1):
        y, left, right = cut.foot + ROW * row, cut.x(inner), cut.x(outer)
        out.append(svg.line((left, y), (right, y), class_="measure"))
        out += [svg.line((x, y - 5), (x, y + 5), class_="measure") for x in (left, right)]
        out.append(svg.text((left - 6, y + 5), plain(inner), class_="tick end"))
        out.append(svg.text((right + 6, y + 5), f"{plain(outer, 'mm')}, {name}", class_="tick"))
    return out
