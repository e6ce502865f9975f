"""A scan of the field laid over the map: axial field against angle, a panel for every radius and height."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.units import DEGREE, MM
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.outputs.colours import FAINT, INK, PHASE_COLOURS, QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import in_house_style, new_figure
from fieldrun.studies.measured.scan import ScanFit

MOST_PANELS, ACROSS = 9, 3
"""Places that are drawn, those with most points, and how many side by side."""

CURVE = 361
"""Angles along a curve."""

PANEL_IN, MARGIN_IN, HEAD_IN, FOOT_IN, GAP_IN = (3.6, 2.2), 0.95, 1.2, 0.75, 0.5


@in_house_style
def scan_picture(scan: ScanFit, field_map: FieldMap) -> Figure:
    """Draw measured points over the map's curve through the same places.

    Parameters
    ----------
    scan : turned to where it fits
    field_map : the machine as drawn
    """
    places = _places(scan)
    across = min(ACROSS, len(places))
    down = -(-len(places) // across)
    width = max(8.0, across * PANEL_IN[0] + (across - 1) * GAP_IN + MARGIN_IN + 0.3)
    height = down * PANEL_IN[1] + (down - 1) * (GAP_IN + 0.35) + HEAD_IN + FOOT_IN
    told = f"{plain(scan.strength)} times the map, {plain(100 * scan.left_share, '%')} of its largest left"
    figure = new_figure(width, height, f"A scan of the axial field over the map: {told}.")
    figure.text(0.15 / width, 1 - 0.38 / height, "Scanned field over the map", size="x-large", weight="bold")
    key = f"dots: measured, {told}; line: the map as drawn"
    figure.text(0.15 / width, 1 - 0.68 / height, key, color=QUIET)
    limit = 1.08 * max(float(np.max(np.abs(scan.measured))), float(np.max(np.abs(scan.as_drawn))))
    panel = ((width - MARGIN_IN - 0.3 - (across - 1) * GAP_IN) / across, PANEL_IN[1])
    for index, place in enumerate(places):
        column, row = index % across, index // across
        left = MARGIN_IN + column * (panel[0] + GAP_IN)
        top = HEAD_IN + row * (panel[1] + GAP_IN + 0.35)
        box = (left / width, 1 - (top + panel[1]) / height, panel[0] / width, panel[1] / height)
        axes = figure.add_axes(box)
        axes.set_ylim(-limit, limit)
        axes.set_ylabel("axial field, T" if column == 0 else "")
        _draw_panel(axes, scan, field_map, place)
    return figure


def _places(scan: ScanFit) -> list[tuple[float, float]]:
    """Radius and height of the places with most points, from the lowest up [mm]."""
    count: dict[tuple[float, float], int] = {}
    for point in scan.points:
        count[_place(point.r_m, point.z_m)] = count.get(_place(point.r_m, point.z_m), 0) + 1
    most = sorted(count, key=lambda place: (-count[place], place))[:MOST_PANELS]
    return sorted(most, key=lambda place: (place[1], place[0]))


def _place(r_m: float, z_m: float) -> tuple[float, float]:
    return round(r_m / MM, 3), round(z_m / MM, 3)


def _draw_panel(axes: Axes, scan: ScanFit, field_map: FieldMap, place: tuple[float, float]) -> None:
    here = np.array([_place(point.r_m, point.z_m) == place for point in scan.points])
    theta = np.array([point.theta_rad for point in scan.points])[here] / DEGREE
    fine = np.linspace(theta.min(), theta.max(), CURVE)
    highest = np.inf if field_map.open_above else float(field_map.heights_m[-1])
    radius, height = place[0] * MM, min(place[1] * MM, highest)  # the gap's own end may come rounded
    curve = field_at(field_map, radius, fine * DEGREE + scan.turned_rad, height)[2]
    axes.axhline(0, color=FAINT, linewidth=1)
    axes.plot(fine, curve, color=PHASE_COLOURS[1], linewidth=2, zorder=2)
    axes.plot(theta, scan.measured[here], "o", color=PHASE_COLOURS[0], markersize=5, zorder=3)
    axes.set_title(f"r {place[0]:g} mm, z {place[1]:g} mm", fontsize="medium", color=INK)
    axes.set_xlabel("angle as read, degrees")
