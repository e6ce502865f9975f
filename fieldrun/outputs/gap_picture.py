"""A cut through the gap along the motion, rolled flat and to scale: every wire between magnets and steel."""

import math
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from fieldrun.design.model import Magnets, Plate, Rotor
from fieldrun.design.units import MM
from fieldrun.field.outline import covered_half_angles, mean_radius_m, radial_breaks_m
from fieldrun.outputs.magnet_shapes import bodies_of
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import (
    INK,
    NORTH_FILL,
    PAPER,
    PHASE_COLOURS,
    QUIET,
    SOUTH_FILL,
    STEEL_FILL,
    in_house_style,
    new_figure,
    nice_length,
)
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


@dataclass(frozen=True)
class Cut:
    """What is cut: the radius [m], the stretch of circle shown and the heights it spans [mm]."""

    radius_m: float
    along_mm: tuple[float, float]
    heights_mm: tuple[float, float]


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
    cut = _cut(laid, magnets, rotor, wire_m)
    width = WIDTH_IN - 2 * MARGIN_IN
    span, rise = cut.along_mm[1] - cut.along_mm[0], cut.heights_mm[1] - cut.heights_mm[0]
    scale = min(width * (1 - NOTES_SHARE) / span, TALLEST_IN / rise)
    height = rise * scale
    says = f"A cut through the gap {plain(cut.radius_m / MM, 'mm')} from the axis, rolled flat, to scale"
    figure = new_figure(WIDTH_IN, height + TITLES_IN + KEY_IN, says)
    total = height + TITLES_IN + KEY_IN
    left = MARGIN_IN / WIDTH_IN
    figure.text(left, 1 - 0.38 / total, "Through the gap", size="x-large", weight="bold")
    gap = "" if rotor.gap_m is None else f"; gap {plain(rotor.gap_m / MM, 'mm')}"
    below = f"rolled flat {plain(cut.radius_m / MM, 'mm')} from the axis, to scale{gap}"
    figure.text(left, 1 - 0.7 / total, below, color=QUIET)
    axes = figure.add_axes((left, KEY_IN / total, span * scale / WIDTH_IN, height / total))
    axes.set_axis_off()
    axes.set(xlim=cut.along_mm, ylim=cut.heights_mm, aspect="equal")
    _draw_rotor(axes, cut, magnets, rotor)
    _draw_wires(axes, crossings(laid.pieces, cut.radius_m), cut, wire_m)
    _draw_scale(axes, cut)
    _draw_measures(axes, cut, _layers(laid, rotor), clearance_m)
    _draw_key(figure, laid, KEY_IN / total)
    return figure


def _cut(laid: Lay, magnets: Magnets, rotor: Rotor, wire_m: float) -> Cut:
    """Cut at the winding's mean radius if magnets are there, else at theirs; two poles, or as much as can be shown."""
    breaks, middle = radial_breaks_m(magnets), (laid.inner_radius_m + laid.outer_radius_m) / 2
    radius = middle if breaks[0] < middle < breaks[-1] else mean_radius_m(magnets)
    pitch = math.pi / magnets.pole_pairs * radius / MM
    span = max(pitch / 2, min(2 * pitch, WIRES_ACROSS * wire_m / MM))
    below = magnets.thickness_m / MM + _thickness_mm(rotor.backing)
    above = max(pitch / 3, (laid.sheet_heights_m.max() + 2 * wire_m) / MM)
    if rotor.gap_m is not None:
        over = rotor.return_plate if rotor.faces == 1 else rotor.backing
        above = rotor.gap_m / MM + _thickness_mm(over) + (magnets.thickness_m / MM if rotor.faces == 2 else 0)
    return Cut(radius, (-span / 4, 3 * span / 4), (-below - 0.5, above + 0.5))


def _thickness_mm(plate: Plate | None) -> float:
    return 0.0 if plate is None else IDEAL_MM if plate.steel is None else plate.thickness_m / MM


def _draw_rotor(axes: Axes, cut: Cut, magnets: Magnets, rotor: Rotor) -> None:
    h, gap = magnets.thickness_m / MM, None if rotor.gap_m is None else rotor.gap_m / MM
    _draw_plate(axes, cut, rotor.backing, -h, -1)
    _draw_row(axes, cut, magnets, -h, 1)
    if gap is not None and rotor.faces == 2:
        _draw_row(axes, cut, magnets, gap, -1)
        _draw_plate(axes, cut, rotor.backing, gap + h, 1)
    elif gap is not None:
        _draw_plate(axes, cut, rotor.return_plate, gap, 1)


def _draw_plate(axes: Axes, cut: Cut, plate: Plate | None, face_mm: float, side: int) -> None:
    if plate is None:
        return
    thickness, (left, right) = _thickness_mm(plate), cut.along_mm
    low = face_mm if side > 0 else face_mm - thickness
    hatch = "////" if plate.steel is None else None
    axes.add_patch(Rectangle((left, low), right - left, thickness, facecolor=STEEL_FILL, edgecolor=PAPER, hatch=hatch))
    name = "ideal steel" if plate.steel is None else "steel"
    ground = {"facecolor": STEEL_FILL, "edgecolor": "none", "pad": 1.5}
    axes.text(
        left + 0.02 * (right - left), low + thickness / 2, name, va="center", color=INK, size="small", bbox=ground
    )


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
            if cut.along_mm[0] < middle < cut.along_mm[1] and outer > 0:
                way = (-side * math.sin(body.turn_rad), up)
                _draw_arrow(axes, (middle, low_mm + h / 2), way, 0.32 * min(h, 2 * outer))


def _draw_arrow(axes: Axes, middle: tuple[float, float], way: tuple[float, float], half: float) -> None:
    x, z = middle
    start, end = (x - half * way[0], z - half * way[1]), (x + half * way[0], z + half * way[1])
    axes.annotate("", end, start, arrowprops={"arrowstyle": "-|>", "color": INK, "shrinkA": 0, "shrinkB": 0})


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
            axes.add_collection(PatchCollection(discs, facecolor=face, edgecolor=colour, linewidth=0.9))


def _draw_scale(axes: Axes, cut: Cut) -> None:
    left, right = cut.along_mm
    length = nice_length((right - left) / 5)
    low = cut.heights_mm[0]
    axes.plot([left, left + length], [low, low], color=INK, linewidth=3, solid_capstyle="butt", clip_on=False)
    label = f"{length:g} mm"
    axes.annotate(
        label, (left, low), (0, -6), textcoords="offset points", va="top", size="small", annotation_clip=False
    )


def _layers(laid: Lay, rotor: Rotor) -> list[tuple[float, float, str]]:
    """Heights between which something lies, and what, from the lower magnets up [mm]."""
    middle = float(laid.sheet_heights_m.min() + laid.sheet_heights_m.max()) / 2 / MM
    low, high = middle - laid.thickness_m / 2 / MM, middle + laid.thickness_m / 2 / MM
    rows = [(0.0, low, "free below"), (low, high, "winding")]
    if rotor.gap_m is not None:
        rows.append((high, rotor.gap_m / MM, "free above"))
    return rows


def _draw_measures(axes: Axes, cut: Cut, rows: list[tuple[float, float, str]], clearance_m: float) -> None:
    """Measures beside the cut, one for each layer of the gap; bold where less is free than is wanted."""
    right, span = cut.along_mm[1], cut.along_mm[1] - cut.along_mm[0]
    for low, high, name in rows:
        tight = name != "winding" and high - low < clearance_m / MM - 1e-9
        _draw_measure(axes, right + 0.02 * span, (low, high), f"{name} {plain(high - low, 'mm')}", bold=tight)


def _draw_measure(axes: Axes, x: float, heights: tuple[float, float], text: str, *, bold: bool) -> None:
    low, high = heights
    arrows = {"arrowstyle": "|-|,widthA=0.25,widthB=0.25", "color": QUIET, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (x, high), (x, low), arrowprops=arrows, annotation_clip=False)
    weight = "bold" if bold else "normal"
    at = (x, (low + high) / 2)
    axes.annotate(text, at, (8, 0), textcoords="offset points", va="center", weight=weight, annotation_clip=False)


def _draw_key(figure: Figure, laid: Lay, bottom: float) -> None:
    phases = sorted({int(phase) for phase in laid.pieces.phase})
    x = 0.22
    for phase in phases:
        figure.text(x, bottom * 0.38, f"phase {phase + 1}", color=PHASE_COLOURS[phase], weight="bold", va="center")
        x += 0.11
    figure.text(x + 0.02, bottom * 0.38, "filled: the wire runs outwards; ring: inwards", color=QUIET, va="center")
