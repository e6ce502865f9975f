"""The field in the gap as a map over angle and radius, one panel for each height; and two designs and what differs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Magnets
from fieldrun.design.units import DEGREE, MM
from fieldrun.field.outline import body_pitch_rad, covered_half_angles, radial_breaks_m
from fieldrun.outputs.colours import INK, PAPER, QUIET
from fieldrun.outputs.fields.grid import FieldGrid
from fieldrun.outputs.fields.looks import draw_scale, fill_bands, range_told, write_heading
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import in_house_style, new_figure

MOST_PANELS = 3
"""Heights shown: the first, the middle and the last of more."""

WIDTH_IN, LEFT_IN, RIGHT_IN, BELOW_IN, ABOVE_IN, BETWEEN_IN = 11.0, 0.95, 1.55, 0.8, 1.45, 0.5
"""The figure's width; room around the panels and between them [in]."""

TALLEST_IN, LOWEST_IN = 4.2, 2.2
"""Largest height of a panel on paper, a little less for several, and least: the scale needs it for its numbers [in]."""

ANGLE = "angle round the shaft, degrees from a north pole's centre"

OUTLINE_POINTS = 400
"""Radii at which a magnet's outline is drawn."""


@dataclass(frozen=True)
class Panel:
    """One map: its caption, B_z (t, r) [T], and whose magnets are drawn over it."""

    caption: str
    values_t: Floats
    magnets: tuple[Magnets, ...]


@dataclass(frozen=True)
class Frame:
    """What panels share: angles (t,) [rad] and radii (r,) [m] of the values, and the winding's two radii [m]."""

    angles_rad: Floats
    radii_m: Floats
    winding_m: tuple[float, float]

    @property
    def shape(self) -> float:
        """Height over width, nearly true to scale: along the mean circle."""
        along = float(np.ptp(self.angles_rad)) * float(self.radii_m.mean())
        return float(np.ptp(self.radii_m)) / along


def shown_heights(heights_m: Floats) -> list[int]:
    """Numbers of the heights (z,) [m] to show: all of them, or the first, the middle and the last."""
    count = len(heights_m)
    return list(range(count)) if count <= MOST_PANELS else [0, count // 2, count - 1]


@in_house_style
def gap_map(grid: FieldGrid, magnets: Magnets, winding_m: tuple[float, float], top_t: float) -> Figure:
    """Draw B_z over angle and radius.

    Parameters
    ----------
    grid : at least two radii and two angles
    magnets : whose outlines are drawn
    winding_m : the winding's two radii [m]
    top_t : end of the colour scale, on either side of zero [T]
    """
    frame = Frame(grid.angles_rad, grid.radii_m, winding_m)
    panels = [
        Panel(f"{_above(grid.heights_m[k])} above the lower magnets", grid.b_t[2, :, :, k].T, (magnets,))
        for k in shown_heights(grid.heights_m)
    ]
    figure, boxes = _paper(
        frame, len(panels), f"Axial flux density in the gap over angle and radius, {range_told(top_t)}."
    )
    more = "" if len(panels) == len(grid.heights_m) else f"; {len(panels)} of {len(grid.heights_m)} heights"
    write_heading(
        figure,
        "The field in the gap",
        f"Flux density along the shaft, positive upwards; {range_told(top_t)}{more}.",
        "Thick line: zero; thin lines between colours, dashed where the flux runs down. Grey: magnets; bar: winding.",
    )
    for panel, box in zip(panels, boxes, strict=True):
        shown = _draw(figure.add_axes(box), panel, frame, top_t)
    figure.axes[-1].set_xlabel(ANGLE)
    draw_scale(figure, _bar(boxes), shown, "B along the shaft, tesla")
    return figure


@in_house_style
def difference_map(
    names: tuple[str, str], panels: Sequence[Panel], frame: Frame, tops_t: tuple[float, float], where: str
) -> Figure:
    """Draw two designs on one scale, and the second less the first on a scale of its own.

    Parameters
    ----------
    names : of the first and the second
    panels : first, second, second less first
    frame : angles and radii of all three
    tops_t : ends of the common scale and of the difference's [T]
    where : the height in words
    """
    first, second = names
    common, own = tops_t
    says = f"Axial flux density of {first} and of {second} on one scale, and what differs."
    figure, boxes = _paper(frame, 3, says)
    write_heading(
        figure,
        f"{second} less {first}",
        f"Flux density along the shaft {where}. The two designs: {range_told(common)};",
        f"the difference: {range_told(own)}. Thick line: zero; dashed: below it. Bar: winding of {first}.",
    )
    shown = [
        _draw(figure.add_axes(box), panel, frame, top)
        for panel, box, top in zip(panels, boxes, (common, common, own), strict=True)
    ]
    figure.axes[-1].set_xlabel(ANGLE)
    draw_scale(figure, _bar(boxes[:2]), shown[0], "tesla, both designs")
    draw_scale(figure, _bar(boxes[2:]), shown[2], "tesla, difference")
    return figure


Box = tuple[float, float, float, float]


def _paper(frame: Frame, panels: int, says: str) -> tuple[Figure, list[Box]]:
    """A figure and the boxes of its panels from the top down."""
    room = WIDTH_IN - LEFT_IN - RIGHT_IN
    tall = min(TALLEST_IN if panels == 1 else TALLEST_IN / 1.35, max(LOWEST_IN, room * frame.shape))
    total = ABOVE_IN + BELOW_IN + panels * tall + (panels - 1) * BETWEEN_IN
    figure = new_figure(WIDTH_IN, total, says)
    lows = [BELOW_IN + (panels - 1 - k) * (tall + BETWEEN_IN) for k in range(panels)]
    return figure, [(LEFT_IN / WIDTH_IN, low / total, room / WIDTH_IN, tall / total) for low in lows]


def _bar(boxes: list[Box]) -> Box:
    """Where the scale of some panels stands: at their right, as high as they are."""
    low, high = boxes[-1][1], boxes[0][1] + boxes[0][3]
    return 1 - (RIGHT_IN - 0.3) / WIDTH_IN, low, 0.22 / WIDTH_IN, high - low


def _draw(axes: Axes, panel: Panel, frame: Frame, top_t: float) -> Any:
    x, y = frame.angles_rad / DEGREE, frame.radii_m / MM
    shown = fill_bands(axes, x, y, panel.values_t.T, top_t)
    for magnets in panel.magnets:
        _outlines(axes, magnets, frame)
    axes.set(xlim=(x[0], x[-1]), ylim=(y[0], y[-1]), ylabel="radius, mm")
    axes.set_title(panel.caption, size="medium", weight="normal", color=INK, pad=6)
    _mark_winding(axes, frame)
    return shown


def _mark_winding(axes: Axes, frame: Frame) -> None:
    """A bar at the right edge over the winding's radii."""
    low, high = (radius / MM for radius in frame.winding_m)
    right: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "clip_on": False, "solid_capstyle": "butt"}
    y0, y1 = axes.get_ylim()
    if min(high, y1) > max(low, y0):
        axes.plot([1.012, 1.012], [max(low, y0), min(high, y1)], color=INK, linewidth=3.5, **right)


def _outlines(axes: Axes, magnets: Magnets, frame: Frame) -> None:
    """Every body's edge within the frame, and the pole of upright ones."""
    edge, there = _outline(magnets)
    pitch, m = body_pitch_rad(magnets), magnets.segments_per_pole
    first, last = math.floor(frame.angles_rad[0] / pitch) - 1, math.ceil(frame.angles_rad[-1] / pitch) + 1
    for number in range(first, last + 1):
        place = (number * pitch + edge) / DEGREE
        axes.plot(place, there / MM, color=PAPER, linewidth=3.4, alpha=0.6)
        axes.plot(place, there / MM, color=QUIET, linewidth=1.6)
        if number % m == 0:
            middle = (float(there.min()) + float(there.max())) / 2 / MM
            _name(axes, number * pitch / DEGREE, middle, "NS"[number // m % 2], frame)


def _outline(magnets: Magnets) -> tuple[Floats, Floats]:
    """A closed line round one body: angles from its axis [rad] and radii [m]."""
    breaks = radial_breaks_m(magnets)
    share = (1 - np.cos(np.linspace(0, math.pi, OUTLINE_POINTS))) / 2  # closer together at the ends
    radii = breaks[0] + (breaks[-1] - breaks[0]) * share
    radii[-1] = breaks[-1]
    inner, outer = covered_half_angles(magnets, radii)
    corner = inner > 0  # only at a block's outer corners: the line comes back along its outer end
    back, ends = inner[corner], radii[corner]
    edge = np.concatenate([outer, back[::-1], -back, -outer[::-1], outer[:1]])
    return edge, np.concatenate([radii, ends[::-1], ends, radii[::-1], radii[:1]])


def _name(axes: Axes, angle_deg: float, radius_mm: float, pole: str, frame: Frame) -> None:
    wide = float(np.ptp(frame.angles_rad)) / DEGREE
    low, high = frame.angles_rad[0] / DEGREE + 0.02 * wide, frame.angles_rad[-1] / DEGREE - 0.02 * wide
    if not low <= angle_deg <= high or not frame.radii_m[0] / MM < radius_mm < frame.radii_m[-1] / MM:
        return
    ground = {"boxstyle": "round,pad=0.2", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.75}
    axes.text(angle_deg, radius_mm, pole, ha="center", va="center", weight="bold", bbox=ground)


def _above(height_m: float) -> str:
    return plain(height_m / MM, "mm")
