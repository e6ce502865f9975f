"""The field in an unrolled section: where the flux runs, and how dense it is."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from fieldrun.design.arrays import Floats
from fieldrun.design.units import MM
from fieldrun.outputs.colours import INK, PAPER, QUIET
from fieldrun.outputs.section_mirror import Part, SectionDrawing, whole_pole_pair
from fieldrun.outputs.section_smooth import smooth_inside_parts, triangle_areas
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import STRENGTH, in_house_style, new_figure

LINES = 24
"""Flux lines from the most negative potential to the most positive one."""

CROWDED = 0.995
"""Part of the drawn area that the colour scale must cover; the rest is sharp corners, where the field has no bound."""

WIDTH_IN, FRAME_IN = 12.0, (0.85, 0.75, 1.55, 1.55)
"""Width of the figure; room left, below, right and above of the section [in]."""

TALLEST_IN = 8.0
"""The section's largest height on paper [in]."""

HEAD_SHARE = 0.5
"""The most of an arrow that its head may take."""

DIRECTION = {"magnet up": math.pi / 2, "magnet down": -math.pi / 2}


@in_house_style
def section_picture(
    drawing: SectionDrawing,
    pole_pitch_m: float,
    gap_middle_m: float | None = None,
    mean_radius_m: float | None = None,
    top_t: float | None = None,
) -> Figure:
    """Draw flux lines over flux density for one whole pole pair, true to scale.

    Parameters
    ----------
    drawing : the solved part, half a pole pitch or a whole one, completed by `whole_pole_pair`
    pole_pitch_m : tau [m]
    gap_middle_m : middle of the gap if only its lower half was solved [m]
    mean_radius_m : the magnets' mean radius, at which the section was unrolled, to be named [m]
    top_t : end of the colour scale [T]; None for what all but sharp corners stay under
    """
    whole = whole_pole_pair(drawing, pole_pitch_m, gap_middle_m)
    top = top_t or scale_top_t(whole)
    low, high = float(whole.points_m[:, 1].min()) / MM, float(whole.points_m[:, 1].max()) / MM
    pitch = pole_pitch_m / MM
    figure, axes = _paper(2 * pitch, high - low, _says(whole, pitch, top))
    mesh = Triangulation(*(whole.points_m.T / MM), whole.triangles)
    colours = _fill_strength(axes, whole_pole_pair(smooth_inside_parts(drawing), pole_pitch_m, gap_middle_m), top)
    step = _draw_flux_lines(axes, mesh, whole.potential_wb_per_m)
    _draw_borders(axes, whole.parts)
    axes.set(xlim=(-pitch / 2, 1.5 * pitch), ylim=(low, high), aspect="equal")
    axes.set(xlabel="mm along the motion", ylabel="mm above the magnets")
    for group in _joined(whole.parts):
        _label(axes, group, 2 * pitch)
    _write_titles(figure, step, _flat(mean_radius_m, steel=any(part.kind == "steel" for part in whole.parts)))
    _draw_scale(figure, axes, colours, beyond=bool(whole.strength_t.max() > top))
    return figure


def _paper(wide_mm: float, high_mm: float, says: str) -> tuple[Figure, Axes]:
    """A figure whose section fills the width, or the height if it is a tall one."""
    left, below, right, above = FRAME_IN
    room = WIDTH_IN - left - right
    height = min(TALLEST_IN, room * high_mm / wide_mm)
    total = height + below + above
    figure = new_figure(WIDTH_IN, total, says)
    box = (left / WIDTH_IN, below / total, room / WIDTH_IN, height / total)
    return figure, figure.add_axes(box, anchor="W")


def scale_top_t(whole: SectionDrawing) -> float:
    """|B| that all but the sharp corners stay under, weighted by area, rounded up to 0.1 T: the end of the scale."""
    area, strength = triangle_areas(whole.points_m, whole.triangles), whole.strength_t
    by_triangle = strength if len(strength) == len(area) else strength[whole.triangles].max(axis=1)
    order = np.argsort(by_triangle)
    share = np.cumsum(area[order]) / area.sum()
    return math.ceil(10 * by_triangle[order][np.searchsorted(share, CROWDED)] - 1e-9) / 10 or 0.1


def _says(whole: SectionDrawing, pitch_mm: float, top: float) -> str:
    names = ", ".join(dict.fromkeys(part.name for part in whole.parts))
    return (
        f"Flux lines and flux density from 0 to {plain(top, 'T')} in one pole pair, {plain(2 * pitch_mm, 'mm')} along "
        f"the motion, cut and unrolled at one radius. Shown: {names}."
    )


def _fill_strength(axes: Axes, smooth: SectionDrawing, top: float) -> Any:
    mesh = Triangulation(*(smooth.points_m.T / MM), smooth.triangles)
    look: dict[str, Any] = {"cmap": STRENGTH, "vmin": 0.0, "vmax": top, "shading": "gouraud", "gid": "flux-density"}
    return axes.tripcolor(mesh, smooth.strength_t, rasterized=True, **look)


def _draw_flux_lines(axes: Axes, mesh: Triangulation, potential: Floats) -> float:
    """Contours of A at equal steps; return the step [Wb/m], the flux between two lines per metre of radius."""
    largest = float(np.max(np.abs(potential)))
    if largest == 0:
        return 0.0
    step = 2 * largest / LINES
    levels = step * (np.arange(LINES) - (LINES - 1) / 2)
    axes.tricontour(mesh, potential, levels=levels, colors=INK, linewidths=0.9, linestyles="solid", alpha=0.8)
    return step


def _edges(part: Part) -> list[frozenset[tuple[float, float]]]:
    corners = [(round(x / MM, 6), round(z / MM, 6)) for x, z in part.polygon_m]
    return [frozenset(pair) for pair in pairwise([*corners, corners[0]])]


def _alike(one: Part, two: Part) -> bool:
    turned = math.cos(one.direction_rad - two.direction_rad)
    return one.kind == two.kind and (one.kind != "magnet" or turned > 1 - 1e-9)


def _joined(parts: tuple[Part, ...]) -> list[list[Part]]:
    """Copies that touch along an edge and are alike belong to one body."""
    groups: list[list[Part]] = []
    for part in parts:
        edges = set(_edges(part))
        touching = [g for g in groups if any(_alike(part, other) and edges & set(_edges(other)) for other in g)]
        groups = [g for g in groups if g not in touching]
        groups.append([part, *(member for g in touching for member in g)])
    return groups


def _draw_borders(axes: Axes, parts: tuple[Part, ...]) -> None:
    """Outlines of whole bodies: an edge that two copies of one body share is no border."""
    lines = []
    for group in _joined(tuple(part for part in parts if part.kind != "air")):
        edges = [edge for part in group for edge in _edges(part)]
        lines += [sorted(edge) for edge in edges if edges.count(edge) == 1 and len(edge) == 2]
    axes.add_collection(LineCollection(lines, colors=INK, linewidths=1.8, gid="outlines"))


@dataclass(frozen=True)
class _Extent:
    """The box around a body [mm]."""

    left: float
    right: float
    low: float
    high: float

    @property
    def middle(self) -> tuple[float, float]:
        """Centre of the box."""
        return (self.left + self.right) / 2, (self.low + self.high) / 2


def _extent(group: list[Part]) -> _Extent:
    corners = np.array([corner for part in group for corner in part.polygon_m]) / MM
    (left, low), (right, high) = corners.min(axis=0), corners.max(axis=0)
    return _Extent(float(left), float(right), float(low), float(high))


def _label(axes: Axes, group: list[Part], wide_mm: float) -> None:
    """Name a body in its middle; a magnet gets an arrow the way it points, its name beside or under it if it fits."""
    box, part = _extent(group), group[0]
    x, z = box.middle
    if not -wide_mm / 4 < x < 3 * wide_mm / 4:
        return
    look: dict[str, Any] = {"ha": "center", "va": "center", "bbox": _ground(), "zorder": 6}
    if not part.kind.startswith("magnet"):
        axes.text(x, z, part.name, **look)
        return
    broad, tall = box.right - box.left, box.high - box.low
    direction = DIRECTION.get(part.kind, part.direction_rad)
    inch = _inch_per_mm(axes)
    words = 0.13 * len(part.name) + 0.2  # width of the name on paper [in]
    if broad * inch > words + 1.6:
        _arrow(axes, (x - 0.3 * broad, z), direction, 0.6 * min(broad, tall))
        axes.text(x + 0.1 * broad, z, part.name, **look)
    elif broad * inch > words and tall * inch > 1.0:
        _arrow(axes, (x, z + 0.14 * tall), direction, 0.5 * min(broad, tall))
        axes.text(x, z - 0.3 * tall, part.name, **look)
    else:
        _arrow(axes, (x, z), direction, 0.6 * min(broad, tall))


def _inch_per_mm(axes: Axes) -> float:
    """Scale on paper of a drawing whose limits are set."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    box = axes.get_position(original=True).transformed(axes.figure.transSubfigure)  # in dots
    return float(min(box.width / (right - left), box.height / (high - low)) / axes.figure.dpi)


def _arrow(axes: Axes, middle: tuple[float, float], direction: float, length: float) -> None:
    """An arrow about a point, of a length [mm]; a short one has a head as much smaller."""
    dx, dz = length / 2 * math.cos(direction), length / 2 * math.sin(direction)
    look: dict[str, Any] = {"arrowstyle": "simple,head_length=1.1,head_width=1.3,tail_width=0.5", "color": INK}
    look["mutation_scale"] = min(16, HEAD_SHARE / 1.1 * 72 * length * _inch_per_mm(axes))
    (x, z) = middle
    axes.annotate("", (x + dx, z + dz), (x - dx, z - dz), arrowprops={**look, "shrinkA": 0, "shrinkB": 0}, zorder=6)


def _ground() -> dict[str, Any]:
    return {"boxstyle": "round,pad=0.25", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.82}


def _write_titles(figure: Figure, step: float, flat: str) -> None:
    height = figure.get_figheight()
    figure.text(0.02, 1 - 0.45 / height, "The field, cut along the motion and unrolled", size="x-large", weight="bold")
    flux = f"Between two lines run {plain(1000 * step, 'mWb')} for each metre along the radius" if step else "No flux"
    figure.text(0.02, 1 - 0.8 / height, f"{flux}; arrows show which way the magnets point.", color=QUIET)
    figure.text(0.02, 1 - 1.1 / height, flat, color=QUIET)


def _flat(mean_radius_m: float | None, *, steel: bool) -> str:
    """What tells this field from that of whole magnets, which the table has."""
    at = "" if mean_radius_m is None else f" of {plain(mean_radius_m / MM, 'mm')}"
    reads = "steel and gap may read higher than in the table" if steel else "the field may read other than in the table"
    return f"Flat section at the mean radius{at}, magnets as if endless along it: {reads}."


def _draw_scale(figure: Figure, axes: Axes, colours: Any, *, beyond: bool) -> None:
    box = axes.get_position()
    place = figure.add_axes((1 - 1.25 / WIDTH_IN, box.y0, 0.22 / WIDTH_IN, box.height))
    bar = figure.colorbar(colours, cax=place, extend="max" if beyond else "neither")
    bar.set_label("flux density, tesla")
    bar.outline.set_visible(False)
