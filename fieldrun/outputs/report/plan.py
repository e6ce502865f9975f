"""The rotor over the winding, seen along the shaft and to scale: magnets that can be turned, one phase that stays."""

import math
from typing import assert_never

import numpy as np
from markupsafe import Markup

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets
from fieldrun.design.outlines import corners_m
from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.magnet_bodies import Body, bodies_of, reach_mm
from fieldrun.outputs.report import svg
from fieldrun.outputs.wire_lines import phase_pieces, phase_start, plan_points
from fieldrun.winding.pieces import LINE, Pieces

BENDS = 9
"""Points along a curved piece."""

LETTERS, EDGE = 1.085, 1.17
"""Radius of the poles' letters, and half the drawing's width, over the largest radius of magnets, steel and winding."""


def reach_of(result: RunResult) -> tuple[float, float]:
    """Smallest and largest radius of magnets and winding [mm]."""
    pieces = result.paths
    radii = np.concatenate([pieces.start[:, 0], pieces.end[:, 0]]) / MM
    inner, outer = reach_mm(result.design.magnets.outline)
    return min(inner, float(radii.min())), max(outer, float(radii.max()))


def plan_drawing(anchor: str, result: RunResult) -> Markup:
    """Draw it at rotor angle zero; the group of class `rotor` is what turns."""
    (inner, outer), design = reach_of(result), result.design
    edge = EDGE * _steel_mm(result, outer)
    rotor = svg.group(_rotor(result, outer), class_="rotor")
    wire = svg.path(phase_path(result.paths, 0), class_="wire line-1", stroke_width=_stroke(result))
    x, y = phase_start(result.paths, 0, 0.0)
    start = svg.circle((x, -y), 0.022 * outer, class_="start fill-1")
    size = 0.3 * inner
    middle = svg.group(
        [
            svg.text((0.0, -0.02 * inner), "0°", class_="angle", font_size=size),
            svg.text((0.0, 0.3 * inner), "rotor angle", class_="under", font_size=0.42 * size),
        ],
    )
    says = (
        f"{design.magnets.count} magnet poles seen along the shaft, to scale, over phase 1 of the winding, "
        f"which reaches from {result.lay.inner_radius_m / MM:.4g} to {result.lay.outer_radius_m / MM:.4g} mm."
    )
    return svg.drawing(anchor, (-edge, -edge, 2 * edge, 2 * edge), says, [rotor, wire, start, middle], class_="plan")


def _steel_mm(result: RunResult, outer: float) -> float:
    rotor = result.design.rotor
    return max(outer, rotor.steel_outer_radius_m / MM) if rotor.backing is not None else outer


def _stroke(result: RunResult) -> float:
    """Thinner than the wire really is, so that one can see between wires that touch."""
    return 0.6 * result.design.wire.overall_diameter_m / MM


def _rotor(result: RunResult, outer: float) -> list[Markup]:
    magnets, design = result.design.magnets, result.design
    parts = []
    if design.rotor.backing is not None:
        low, high = design.rotor.steel_inner_radius_m / MM, design.rotor.steel_outer_radius_m / MM
        parts.append(svg.circle((0.0, 0.0), (low + high) / 2, class_="plate", stroke_width=high - low))
    bodies = bodies_of(magnets)
    parts += [_body(magnets, body) for body in bodies]
    size = min(0.1 * outer, 3.4 * outer / len(bodies) ** 0.9)
    far = LETTERS * _steel_mm(result, outer)
    parts += [_letter(body, far, size) for body in bodies]
    marked = circle_at(bodies[0].angle_rad, _middle_mm(magnets))
    return [*parts, svg.circle(marked, 0.018 * outer, class_="mark-one")]


def circle_at(angle: float, radius: float) -> tuple[float, float]:
    """A place on paper, where y points down."""
    return radius * math.cos(angle), -radius * math.sin(angle)


def _middle_mm(magnets: Magnets) -> float:
    low, high = reach_mm(magnets.outline)
    return (low + high) / 2


def magnet_corners(magnets: Magnets, angle: float) -> Floats:
    """(n, 2) outline of one body on paper [mm]."""
    outline = magnets.outline
    if isinstance(outline, Disc):
        around = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        radius, middle = outline.diameter_m / 2 / MM, circle_at(angle, outline.pitch_radius_m / MM)
        return np.column_stack([middle[0] + radius * np.cos(around), middle[1] + radius * np.sin(around)])
    if isinstance(outline, Block):
        return _block(outline, angle)
    if isinstance(outline, Arc):
        half = outline.share * math.pi / len(bodies_of(magnets))
        sweep = angle + np.linspace(-half, half, 13)
        low, high = outline.inner_radius_m / MM, outline.outer_radius_m / MM
        return np.concatenate([_ring(low, sweep), _ring(high, sweep[::-1])])
    assert_never(outline)


def _ring(radius: float, angles: Floats) -> Floats:
    return np.column_stack([radius * np.cos(angles), -radius * np.sin(angles)])


def _block(block: Block, angle: float) -> Floats:
    along, across = np.array(circle_at(angle, 1.0)), np.array(circle_at(angle + math.pi / 2, 1.0))
    return np.array([(radial * along + aside * across) / MM for radial, aside in corners_m(block)])


def _body(magnets: Magnets, body: Body) -> Markup:
    up = math.cos(body.turn_rad)
    tone = "north" if up > 0.1 else "south" if up < -0.1 else "lying"
    if isinstance(magnets.outline, Disc):
        middle = circle_at(body.angle_rad, magnets.outline.pitch_radius_m / MM)
        return svg.circle(middle, magnets.outline.diameter_m / 2 / MM, class_=f"magnet {tone}")
    return svg.path(svg.through(magnet_corners(magnets, body.angle_rad), closed=True), class_=f"magnet {tone}")


def _letter(body: Body, radius: float, size: float) -> Markup:
    """N or S that stays upright at the body's own radius; a lying body gets an arrow along the ring."""
    x, y = circle_at(body.angle_rad, radius)
    up, along = math.cos(body.turn_rad), -math.sin(body.turn_rad)
    if abs(up) > 0.99:
        return svg.text((x, y + 0.36 * size), "N" if up > 0 else "S", class_="pole", font_size=size)
    turn = -math.degrees(body.angle_rad) - math.copysign(90.0, along)
    tip, half = 0.42 * size, 0.22 * size
    shaft = svg.through([(-tip, 0.0), (tip, 0.0)])
    head = svg.through([(tip - half, -half), (tip, 0.0), (tip - half, half)])
    moved = f"translate({svg.number(x)} {svg.number(y)}) rotate({svg.number(turn)})"
    return svg.path(shaft + head, class_="arrow", transform=moved)


def phase_path(pieces: Pieces, phase: int) -> str:
    """Path data of one phase; rounds that lie over each other in the plan are drawn once."""
    own = phase_pieces(pieces, phase)
    places = plan_points(own, np.linspace(0, 1, BENDS), 0.0) * np.array([1.0, -1.0])
    drawn: dict[str, None] = {}
    for loop in np.unique(own.loop):
        for part in _runs(places[own.loop == loop], own.kind[own.loop == loop] == LINE):
            drawn.setdefault(svg.through(part))
    return "".join(drawn)


def _runs(places: Floats, straight: Floats) -> list[Floats]:
    """Points of a loop in rows, broken where the wire jumps; of straight pieces the ends only."""
    runs: list[list[tuple[float, float]]] = []
    for points, is_line in zip(places.tolist(), straight, strict=True):
        kept = [points[0], points[-1]] if is_line else points
        if runs and math.dist(runs[-1][-1], kept[0]) < 1e-6:
            runs[-1] += kept[1:]
        else:
            runs.append(kept)
    return [np.array(run) for run in runs]
