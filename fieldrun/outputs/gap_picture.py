"""A cut through the gap along the motion, rolled flat and to scale: every wire between magnets and steel."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from fieldrun.design.model import Magnets, Plate, Rotor
from fieldrun.design.units import MM
from fieldrun.field.outline import covered_half_angles, mean_radius_m, radial_breaks_m
from fieldrun.outputs.colours import INK, NORTH_FILL, PAPER, PHASE_COLOURS, QUIET, SOUTH_FILL, STEEL_FILL
from fieldrun.outputs.gap_measures import Measure, draw_measures, least_height_in, measures_of
from fieldrun.outputs.magnet_bodies import bodies_of
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import in_house_style, new_figure, nice_length
from fieldrun.winding.crossings import Crossings, crossings
from fieldrun.winding.lay import Lay

WIDTH_IN, MARGIN_IN, TITLES_IN, KEY_IN = 10.5, 0.35, 0.95, 0.75
"""Width of the figure; room beside the drawing, above it and below it [in]."""

NOTES_SHARE = 0.24
"""Share of the drawing's width on its right that is kept for measures."""

TALLEST_IN = 7.5
"""The drawing's largest height on paper [in]."""

WIRES_ACROSS = 110
"""Wires side by side that can still be told apart on the page; a wider cut is shown in part."""

IDEAL_MM = 2.0
"""How thick an ideal plate, which has no end, is drawn."""


OPEN_SHARE = 0.04
"""Air shown above the winding of an open face, as a share of the stretch shown."""

NAMED_IN = 0.24
"""Thickness on paper from which a plate has room for its name; thinner ones have it beside them [in]."""

DRAWING_IN = (WIDTH_IN - 2 * MARGIN_IN) * (1 - NOTES_SHARE)
"""The drawing's width on paper [in]."""


@dataclass(frozen=True)
class Cut:
    """What is cut: the radius [m], the stretch of circle shown, the heights it spans [mm], and its size on paper."""

    radius_m: float
    along_mm: tuple[float, float]
    heights_mm: tuple[float, float]

    @property
    def span_mm(self) -> float:
        """Length of the stretch."""
        return self.along_mm[1] - self.along_mm[0]

    @property
    def rise_mm(self) -> float:
        """From the lowest height to the highest."""
        return self.heights_mm[1] - self.heights_mm[0]

    @property
    def inch_per_mm(self) -> float:
        """Scale on paper."""
        return min(DRAWING_IN / self.span_mm, TALLEST_IN / self.rise_mm)


@in_house_style
def gap_picture(laid: Lay, magnets: Magnets, rotor: Rotor, wire_m: float, clearance_m: float) -> Figure:
    """Draw the cut.

    Parameters
    ----------
    laid : the winding
    magnets, rotor : what stands on either side of it
    wire_m : diameter over everything [m]
    clearance_m : air that is wanted on either side [m]
    """
    radius = _radius_m(laid, magnets)
    wires, measures = crossings(laid.pieces, radius), measures_of(laid, rotor, clearance_m)
    along = _along_mm(wires, magnets, wire_m, radius)
    cut = Cut(radius, along, _heights_mm(laid, magnets, rotor, along[1] - along[0]))
    height = max(cut.rise_mm * cut.inch_per_mm, least_height_in(measures))
    says = f"A cut through the gap {plain(cut.radius_m / MM, 'mm')} from the axis, rolled flat, to scale"
    figure = new_figure(WIDTH_IN, height + TITLES_IN + KEY_IN, says)
    total = height + TITLES_IN + KEY_IN
    left = MARGIN_IN / WIDTH_IN
    figure.text(left, 1 - 0.38 / total, "Through the gap", size="x-large", weight="bold")
    gap = "" if rotor.gap_m is None else f"; gap {plain(rotor.gap_m / MM, 'mm')}"
    below = f"rolled flat {plain(cut.radius_m / MM, 'mm')} from the axis, to scale{gap}"
    figure.text(left, 1 - 0.7 / total, below, color=QUIET)
    box = (left, KEY_IN / total, cut.span_mm * cut.inch_per_mm / WIDTH_IN, height / total)
    axes = figure.add_axes(box)
    axes.set_axis_off()
    axes.set(xlim=cut.along_mm, ylim=cut.heights_mm, aspect="equal")
    named = _draw_rotor(axes, cut, magnets, rotor)
    _draw_wires(axes, wires, cut, wire_m)
    _draw_scale(axes, cut)
    draw_measures(axes, [*measures, *named], cut.inch_per_mm)
    _draw_key(figure, laid, KEY_IN / total)
    return figure


def _radius_m(laid: Lay, magnets: Magnets) -> float:
    """Cut at the winding's mean radius if magnets are there, else at theirs."""
    breaks, middle = radial_breaks_m(magnets), (laid.inner_radius_m + laid.outer_radius_m) / 2
    return middle if breaks[0] < middle < breaks[-1] else mean_radius_m(magnets)


def _along_mm(wires: Crossings, magnets: Magnets, wire_m: float, radius_m: float) -> tuple[float, float]:
    """A stretch about the line between two poles: both of them whole, or as much as can be shown.

    Where the poles are too long for that, it reaches into the magnets and to the nearest wires of both directions all
    the same.
    """
    pitch_mm = math.pi / magnets.pole_pairs * radius_m / MM
    half = max(pitch_mm / 4, WIRES_ACROSS * wire_m / MM / 2)
    if magnets.pattern == "alternating":
        half = max(half, pitch_mm / 2 - float(covered_half_angles(magnets, radius_m)[1]) * radius_m / MM / 2)
    circle, line = 2 * math.pi * radius_m / MM, pitch_mm / 2
    away = np.abs((wires.theta_rad * radius_m / MM - line + circle / 2) % circle - circle / 2)
    nearest = [float(np.min(away[wires.outwards == way], initial=np.inf)) for way in (0, 1)]
    reached = [distance for distance in nearest if math.isfinite(distance)]
    half = min(pitch_mm, max([half, *(1.1 * distance + 4 * wire_m / MM for distance in reached)]))
    return line - half, line + half


def _heights_mm(laid: Lay, magnets: Magnets, rotor: Rotor, span_mm: float) -> tuple[float, float]:
    """From under the lowest part to above the highest one."""
    below = magnets.thickness_m / MM + _thickness_mm(rotor.backing)
    if rotor.gap_m is None:
        top = float(laid.sheet_heights_m.min() + laid.sheet_heights_m.max() + laid.thickness_m) / 2 / MM
        return -below - 0.5, top + OPEN_SHARE * span_mm
    over = rotor.return_plate if rotor.faces == 1 else rotor.backing
    above = rotor.gap_m / MM + _thickness_mm(over) + (magnets.thickness_m / MM if rotor.faces == 2 else 0)
    return -below - 0.5, above + 0.5


def _thickness_mm(plate: Plate | None) -> float:
    return 0.0 if plate is None else IDEAL_MM if plate.steel is None else plate.thickness_m / MM


def _draw_rotor(axes: Axes, cut: Cut, magnets: Magnets, rotor: Rotor) -> list[Measure]:
    """Draw magnets and plates; return the names of plates too thin to bear them."""
    h, gap = magnets.thickness_m / MM, None if rotor.gap_m is None else rotor.gap_m / MM
    _draw_row(axes, cut, magnets, -h, 1)
    named = _draw_plate(axes, cut, rotor.backing, -h, -1)
    if gap is not None and rotor.faces == 2:
        _draw_row(axes, cut, magnets, gap, -1)
        named += _draw_plate(axes, cut, rotor.backing, gap + h, 1)
    elif gap is not None:
        named += _draw_plate(axes, cut, rotor.return_plate, gap, 1)
    return named


def _draw_plate(axes: Axes, cut: Cut, plate: Plate | None, face_mm: float, side: int) -> list[Measure]:
    if plate is None:
        return []
    thickness, (left, right) = _thickness_mm(plate), cut.along_mm
    low = face_mm if side > 0 else face_mm - thickness
    look: dict[str, Any] = {
        "facecolor": STEEL_FILL,
        "edgecolor": PAPER,
        "linewidth": 0,
        "zorder": 0.5,
    }  # magnets' edges stay on top
    hatch = "////" if plate.steel is None else None
    axes.add_patch(Rectangle((left, low), right - left, thickness, hatch=hatch, **look))
    name = "ideal steel" if plate.steel is None else "steel"
    if thickness * cut.inch_per_mm < NAMED_IN:
        return [Measure(low, low + thickness, name, bar=False)]
    ground = {"facecolor": STEEL_FILL, "edgecolor": "none", "pad": 1.5}
    place = (left + 0.02 * (right - left), low + thickness / 2)
    axes.text(*place, name, va="center", color=INK, size="small", bbox=ground)
    return []


def _draw_row(axes: Axes, cut: Cut, magnets: Magnets, low_mm: float, side: int) -> None:
    """One row of magnets; `side` 1 for the lower, -1 for the upper, whose lying magnets are mirrored."""
    inner, outer = (float(angle) * cut.radius_m / MM for angle in covered_half_angles(magnets, cut.radius_m))
    h = magnets.thickness_m / MM
    circle = 2 * math.pi * cut.radius_m / MM
    for body in bodies_of(magnets):
        for turn in (-1, 0):
            middle = body.angle_rad * cut.radius_m / MM + turn * circle
            up = math.cos(body.turn_rad)
            fill = NORTH_FILL if up > 0.5 else SOUTH_FILL if up < -0.5 else PAPER
            for start, end in ((-outer, outer),) if inner == 0 else ((-outer, -inner), (inner, outer)):
                box = Rectangle((middle + start, low_mm), end - start, h, facecolor=fill, edgecolor=QUIET)
                axes.add_patch(box).set_clip_path(axes.patch)
            place, half = _arrow_place(cut, middle, outer), 0.32 * min(h, 2 * outer)
            if place is not None:
                way = (-side * half * math.sin(body.turn_rad), half * up)
                _draw_arrow(axes, (place, low_mm + h / 2), way, 72 * half * cut.inch_per_mm)


def _arrow_place(cut: Cut, middle: float, half: float) -> float | None:
    """The magnet's middle, or that of the piece of it in sight if the piece is long enough to bear an arrow."""
    left, right = max(cut.along_mm[0], middle - half), min(cut.along_mm[1], middle + half)
    if half > 0 and cut.along_mm[0] < middle < cut.along_mm[1]:
        return middle
    return (left + right) / 2 if right - left > cut.span_mm / 25 else None


def _draw_arrow(axes: Axes, middle: tuple[float, float], way: tuple[float, float], head_points: float) -> None:
    (x, z), (dx, dz) = middle, way
    look = {"arrowstyle": "-|>", "color": INK, "shrinkA": 0, "shrinkB": 0, "mutation_scale": min(13, head_points)}
    axes.annotate("", (x + dx, z + dz), (x - dx, z - dz), arrowprops=look)


def _draw_wires(axes: Axes, wires: Crossings, cut: Cut, wire_m: float) -> None:
    """Filled where a wire runs outwards, a ring where it runs inwards; as wide along the cut as its slant makes it."""
    d, (left, right) = wire_m / MM, cut.along_mm
    circle = 2 * math.pi * cut.radius_m / MM
    x = (wires.theta_rad * cut.radius_m / MM - left) % circle + left
    shown = np.flatnonzero(x < right + d)
    for phase in np.unique(wires.phase):
        for outwards in (0, 1):
            own = shown[(wires.phase[shown] == phase) & (wires.outwards[shown] == outwards)]
            discs = [Ellipse((x[i], wires.height_m[i] / MM), d * wires.slant[i], d) for i in own]
            colour = PHASE_COLOURS[phase]
            face = colour if outwards else PAPER
            edge = min(0.9, 0.2 * 72 * d * cut.inch_per_mm)  # a ring of thin wire must stay open
            axes.add_collection(PatchCollection(discs, facecolor=face, edgecolor=colour, linewidth=edge))


def _draw_scale(axes: Axes, cut: Cut) -> None:
    left, right = cut.along_mm
    length = nice_length((right - left) / 5)
    low = cut.heights_mm[0]
    axes.plot([left, left + length], [low, low], color=INK, linewidth=3, solid_capstyle="butt", clip_on=False)
    label = f"{length:g} mm"
    axes.annotate(
        label, (left, low), (0, -6), textcoords="offset points", va="top", size="small", annotation_clip=False
    )


def _draw_key(figure: Figure, laid: Lay, bottom: float) -> None:
    phases = sorted({int(phase) for phase in laid.pieces.phase})
    x = 0.22
    for phase in phases:
        figure.text(x, bottom * 0.38, f"phase {phase + 1}", color=PHASE_COLOURS[phase], weight="bold", va="center")
        x += 0.11
    figure.text(x + 0.02, bottom * 0.38, "filled: the wire runs outwards; ring: inwards", color=QUIET, va="center")
