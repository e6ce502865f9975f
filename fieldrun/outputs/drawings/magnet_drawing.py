"""Where the magnets go, full size, with the pole that faces the winding: each disc as its maker sees it."""

import math
from dataclasses import dataclass
from typing import assert_never

from fieldrun.design.model import Arc as Sector
from fieldrun.design.model import Block, Design, Disc, Magnets
from fieldrun.design.outlines import corners_m
from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.drawings.record import Arc, Circle, Drawing, Label, Layer, Line, Pen, Point, Shape, beside
from fieldrun.outputs.drawings.words import LINE_MM, cross, written
from fieldrun.outputs.magnet_bodies import Body, bodies_of, reach_mm

AROUND = 1.0
"""Paper left around the discs [mm]."""

AXIAL = 0.99
"""A body whose magnetisation points along the shaft by more than this has a letter, any other an arrow."""


Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Look:
    """How magnets are drawn: layer and line, and the letters' size, weight and place between inner and outer end."""

    layer: Layer
    pen: Pen
    letters: float
    bold: bool
    share: float


OWN, UNDER = Look("mark", "plain", 7.0, bold=True, share=0.5), Look("note", "faint", 3.6, bold=False, share=0.86)
"""A drawing of their own, and under a winding's wires."""


def magnet_drawings(design: Design, facts: Facts = ()) -> tuple[Drawing, ...]:
    """One drawing for each face, lower first, both seen from the winding.

    The upper disc is turned over about the line from its middle to magnet 1, as one turns a page: its magnets run
    clockwise, and each faces its own across the gap with the other pole.
    """
    return tuple(_face(design, facts, upper=upper) for upper in (False, True)[: design.rotor.faces])


def both_faces(design: Design, facts: Facts = ()) -> Drawing:
    """All faces in one drawing."""
    faces = magnet_drawings(design, facts)
    return faces[0] if len(faces) == 1 else beside(faces[0], faces[1], f"{design.title}: magnets")


def magnet_marks(magnets: Magnets, look: Look, *, upper: bool = False) -> list[Shape]:
    """Outlines and letters of one face."""
    bodies = bodies_of(magnets)
    shapes: list[Shape] = []
    for body in bodies:
        angle = -body.angle_rad if upper else body.angle_rad
        shapes += [*_outline(magnets, angle, len(bodies), look), *_pole(magnets, body, angle, look, upper=upper)]
    return shapes


def _face(design: Design, facts: Facts, *, upper: bool) -> Drawing:
    rotor, magnets = design.rotor, design.magnets
    inner, outer = reach_mm(magnets.outline)
    steel = rotor.backing is not None and rotor.backing.steel is not None
    rims = [rotor.steel_inner_radius_m / MM, rotor.steel_outer_radius_m / MM] if steel else []
    reach = max([outer, *rims]) + AROUND
    shapes: list[Shape] = [Circle("note", (0.0, 0.0), rim, "faint") for rim in rims if rim > 0]
    shapes += [*magnet_marks(magnets, OWN, upper=upper), *cross(), *_first(inner)]
    words = _words(design, upper=upper, steel=steel)
    shapes += written(words, -reach - 4.0)
    low = (-max(reach, 45.0), -reach - LINE_MM * len(words) - 2)
    which = "upper disc" if upper else "lower disc" if rotor.faces == 2 else "disc"
    return Drawing(f"{design.title}: magnets of the {which}", tuple(shapes), low, (-low[0], reach), facts)


def _words(design: Design, *, upper: bool, steel: bool) -> list[tuple[str, bool]]:
    heading = "upper disc" if upper else "lower disc" if design.rotor.faces == 2 else "magnet disc"
    words = [(f"{heading}, seen from the winding", True), ("letters: the pole that faces the winding", False)]
    if design.rotor.faces == 2:
        words.append(("1 stands over 1 of the other disc: N over S", False))
    return [*words, ("dotted circles: the steel disc", False)] if steel else words


def _first(inner: float) -> list[Shape]:
    """Which magnet is number 1, on the line by which both discs are set to each other."""
    return [
        Line("mark", (max(inner - 9.0, 0.0), 0.0), (max(inner - 1.5, 0.5), 0.0)),
        Label("mark", (max(inner - 5.0, 0.5), 1.0), 3.4, "1", "middle", bold=True),
    ]


def _outline(magnets: Magnets, angle: float, bodies: int, look: Look) -> list[Shape]:
    outline = magnets.outline
    if isinstance(outline, Disc):
        return [Circle(look.layer, _polar(outline.pitch_radius_m / MM, angle), outline.diameter_m / 2 / MM, look.pen)]
    if isinstance(outline, Block):
        return _block(outline, angle, look)
    if isinstance(outline, Sector):
        return _sector(outline, angle, bodies, look)
    assert_never(outline)


def _block(block: Block, angle: float, look: Look) -> list[Shape]:
    cos, sin = math.cos(angle), math.sin(angle)
    corners = [
        ((along * cos - across * sin) / MM, (along * sin + across * cos) / MM) for along, across in corners_m(block)
    ]
    return [Line(look.layer, corners[i - 1], corners[i], look.pen) for i in range(4)]


def _sector(sector: Sector, angle: float, bodies: int, look: Look) -> list[Shape]:
    half = sector.share * math.pi / bodies
    low, high = (angle - half) / DEGREE, (angle + half) / DEGREE
    inner, outer = sector.inner_radius_m / MM, sector.outer_radius_m / MM
    arcs: list[Shape] = [Arc(look.layer, (0.0, 0.0), radius, low, high, look.pen) for radius in (inner, outer)]
    ends = [(_polar(inner, angle + side), _polar(outer, angle + side)) for side in (-half, half)]
    return [*arcs, *(Line(look.layer, start, end, look.pen) for start, end in ends)]


def _pole(magnets: Magnets, body: Body, angle: float, look: Look, *, upper: bool) -> list[Shape]:
    """Letter of the pole towards the winding, or an arrow along the ring for a body that lies."""
    inner, outer = reach_mm(magnets.outline)
    place = _polar(inner + look.share * (outer - inner), angle)
    up, along = math.cos(body.turn_rad), -math.sin(body.turn_rad)
    towards = -up if upper else up
    if abs(up) > AXIAL:
        size = min(look.letters, 0.5 * (outer - inner))
        at = place[0], place[1] - 0.36 * size
        return [Label(look.layer, at, size, "N" if towards > 0 else "S", "middle", look.bold)]
    # lying bodies of both discs point to where north faces the winding; seen turned over, the upper one looks alike
    way = angle + math.copysign(math.pi / 2, along)
    return [*_arrow(place, way, look.layer), *_slant_word(place, math.atan2(towards, abs(along)), look.layer)]


def _slant_word(place: Point, slanted: float, layer: Layer) -> list[Shape]:
    """How far a lying body's north is turned towards the winding, or away from it, in degrees."""
    degrees = round(slanted / DEGREE)
    if degrees == 0:
        return []
    return [Label(layer, (place[0], place[1] + 2.2), 2.4, f"{degrees:+d}\N{DEGREE SIGN}", "middle")]


def _arrow(place: Point, way: float, layer: Layer) -> list[Shape]:
    cos, sin = math.cos(way), math.sin(way)
    tail, tip = (place[0] - 3.0 * cos, place[1] - 3.0 * sin), (place[0] + 3.0 * cos, place[1] + 3.0 * sin)
    barbs = [(tip[0] - 2.0 * math.cos(way + turn), tip[1] - 2.0 * math.sin(way + turn)) for turn in (0.45, -0.45)]
    return [Line(layer, tail, tip), *(Line(layer, barb, tip) for barb in barbs)]


def _polar(radius: float, angle: float) -> Point:
    return radius * math.cos(angle), radius * math.sin(angle)


def with_magnets(board: Drawing, design: Design) -> Drawing:
    """A former's drawing with the lower magnets under its wires."""
    _, outer = reach_mm(design.magnets.outline)
    reach = outer + AROUND
    low = min(board.low[0], -reach), min(board.low[1], -reach)
    high = max(board.high[0], reach), max(board.high[1], reach)
    shapes = (*magnet_marks(design.magnets, UNDER), *board.shapes)
    return Drawing(f"{design.title}: former over the lower magnets", shapes, low, high, board.facts)
