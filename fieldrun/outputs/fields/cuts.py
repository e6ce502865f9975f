"""Line cuts of the field in the gap: along the shaft's component over angle, over radius and over height."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.units import DEGREE, MM
from fieldrun.generator.machine import middle_height_m
from fieldrun.generator.result import RunResult
from fieldrun.outputs.colours import FAINT, NORTH_FILL, PHASE_COLOURS, QUIET
from fieldrun.outputs.fields.asked import Places
from fieldrun.outputs.fields.gap_map import shown_heights
from fieldrun.outputs.fields.grid import near_face_m
from fieldrun.outputs.fields.looks import range_told, write_heading
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, PHASE_DASHES, in_house_style, new_figure

MOST_CURVES = 3
"""Curves in one cut: more cannot be told apart."""

POINTS, HEIGHTS = 241, 121
"""Places along a curve, and along one over height, where each costs splines of its own."""

OPEN_REACH = 2.0
"""Over an open face the cut over height ends at so many times the highest height of interest."""


@dataclass(frozen=True, eq=False)
class Cut:
    """Curves over one axis: its places, B_z of each curve (c, x) [T], and what each curve is taken at."""

    places: Floats
    b_z_t: Floats
    names: tuple[str, ...]

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "places", frozen_array(self.places))
        object.__setattr__(self, "b_z_t", frozen_array(self.b_z_t))


@dataclass(frozen=True, eq=False)
class Cuts:
    """The three cuts; where they are taken in words; and the heights near faces that are less sure [m]."""

    over_angle: Cut
    over_radius: Cut
    over_height: Cut
    captions: tuple[str, str, str]
    unsure_m: tuple[tuple[float, float], ...]
    winding_m: tuple[float, float]

    @property
    def largest_t(self) -> float:
        """Largest |B_z| at the heights of interest [T]; near a face it may be more."""
        return max(float(np.abs(cut.b_z_t).max()) for cut in (self.over_angle, self.over_radius))


def cuts_of(result: RunResult, places: Places, map_radii_m: Floats) -> Cuts:
    """Take the cuts at up to three of the radii and heights of a grid, over a pole's centre.

    Parameters
    ----------
    result : the answer
    places : of the grid; the curves over angle run from its first angle to its last
    map_radii_m : (r,) radii of the gap's map, whose ends are those of the cut over radius [m]
    """
    heights, radii = _cut_heights(result, places), places.radii_m[shown_radii(places.radii_m)]
    mid_height = heights[len(heights) // 2]
    angle = _span(places.angles_rad, 2 * math.pi / result.field_map.pole_pairs)
    radius = np.linspace(map_radii_m[0], map_radii_m[-1], POINTS)
    low, high = _height_ends(result, float(heights[-1]))
    height = np.linspace(low, high, HEIGHTS)
    at_radii, at_heights = (tuple(plain(one / MM, "mm") for one in some) for some in (radii, heights))
    return Cuts(
        over_angle=Cut(angle / DEGREE, np.stack([_b_z(result, r, angle, mid_height) for r in radii]), at_radii),
        over_radius=Cut(radius / MM, np.stack([_b_z(result, radius, 0.0, z) for z in heights]), at_heights),
        over_height=Cut(height / MM, _b_z(result, radii[:, None], 0.0, height), at_radii),
        captions=(
            f"round the shaft at height {plain(mid_height / MM, 'mm')}; radius",
            "along the radius over a north pole's centre; height",
            f"{'up' if result.design.rotor.gap_m is None else 'across the gap'} over a north pole's centre; radius",
        ),
        unsure_m=_unsure(result, high),
        winding_m=(result.lay.inner_radius_m, result.lay.outer_radius_m),
    )


def shown_radii(radii_m: Floats) -> list[int]:
    """Numbers of the radii (r,) [m] to show: all, or of more those at a quarter, half and three quarters of the way."""
    count = len(radii_m)
    return list(range(count)) if count <= MOST_CURVES else [count // 4, count // 2, count - 1 - count // 4]


def _cut_heights(result: RunResult, places: Places) -> Floats:
    """Up to three asked heights; if only copper mid-height is, the lowest and the highest layer of wire too."""
    heights = places.heights_m[shown_heights(places.heights_m)]
    if len(heights) > 1 or heights[0] != middle_height_m(result.lay):
        return heights
    return np.unique(np.concatenate([heights, result.lay.sheet_heights_m[[0, -1]]]).clip(0, _top_m(result)))


def _top_m(result: RunResult) -> float:
    gap = result.design.rotor.gap_m
    return math.inf if gap is None else gap


def _b_z(result: RunResult, r: Any, theta: Any, z: Any) -> Floats:
    return np.asarray(result.field_at(r, theta, z)[2])


def _span(values: Floats, pole_pair_rad: float) -> Floats:
    """From the first angle to the last; a pole pair from the only one."""
    last = values[-1] if len(values) > 1 else values[0] + pole_pair_rad
    return np.linspace(values[0], last, POINTS)


def _height_ends(result: RunResult, highest_m: float) -> tuple[float, float]:
    """The whole gap; over an open face up to twice the highest height, as far as the map reaches."""
    gap = result.design.rotor.gap_m
    return (0.0, gap) if gap is not None else (0.0, OPEN_REACH * max(highest_m, 1 * MM))


def _unsure(result: RunResult, top_m: float) -> tuple[tuple[float, float], ...]:
    near = near_face_m(result)
    upper = ((top_m - near, top_m),) if result.design.rotor.faces == 2 else ()
    return ((0.0, near), *upper)


@in_house_style
def cuts_picture(cuts: Cuts, top_t: float, height_top_t: float | None = None) -> Figure:
    """Draw the three cuts on one scale.

    Parameters
    ----------
    cuts : what `cuts_of` took
    top_t : end of the scale on either side of zero [T]
    height_top_t : that of the cut over height if it is another one [T]
    """
    height_top = height_top_t or top_t
    figure = new_figure(11.0, 10.9, f"Axial flux density over angle, radius and height, {range_told(top_t)}.")
    write_heading(
        figure,
        "Cuts through the field",
        f"Flux density along the shaft, positive upwards, {_ends(top_t, height_top)}.",
    )
    high, wide = 0.195, 0.84
    boxes = [(0.1, low, wide, high) for low in (0.683, 0.383, 0.084)]
    axes = [figure.add_axes(box) for box in boxes]
    three = (cuts.over_angle, cuts.over_radius, cuts.over_height)
    tops = (top_t, top_t, height_top)
    for one, cut, caption, top in zip(axes, three, cuts.captions, tops, strict=True):
        _draw(one, cut, caption, top)
    axes[0].set_xlabel("degrees from a north pole's centre")
    axes[1].set_xlabel("radius, mm")
    axes[2].set_xlabel("mm above the lower magnets; shaded: nearer to a face than the sum of harmonics is good for")
    axes[1].axvspan(*(radius / MM for radius in cuts.winding_m), color=NORTH_FILL, zorder=0, linewidth=0)
    axes[1].annotate(
        "winding",
        (cuts.winding_m[0] / MM, 0.02),
        (6, 4),
        xycoords=axes[1].get_xaxis_transform(),
        textcoords="offset points",
        color=QUIET,
        size="small",
    )
    for low, top in cuts.unsure_m:
        axes[2].axvspan(low / MM, top / MM, color=FAINT, alpha=0.5, zorder=0, linewidth=0)
    return figure


def _ends(top_t: float, height_top_t: float) -> str:
    own = "" if height_top_t == top_t else f" and, over height, {plain(height_top_t)}"
    return f"scales to {plain(top_t)}{own} T"


def _draw(axes: Axes, cut: Cut, caption: str, top_t: float) -> None:
    lowest = float(cut.b_z_t.min())
    for k, (values, name) in enumerate(zip(cut.b_z_t, cut.names, strict=True)):
        look: dict[str, Any] = {"color": PHASE_COLOURS[k], "linestyle": PHASE_DASHES[k], "linewidth": 2.2}
        axes.plot(cut.places, values, label=name, **look)
    axes.axhline(0, color=QUIET, linewidth=0.8, zorder=1)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set(ylim=(-top_t if lowest < -1e-3 * top_t else 0, top_t), ylabel="tesla")
    axes.set_xlim(cut.places[0], cut.places[-1])
    axes.set_title(caption, size="medium", weight="normal", pad=10)
    axes.legend(**_key(cut.names))


def _key(names: Sequence[str]) -> dict[str, Any]:
    """In one line at the right end above the curves."""
    return {
        "loc": "lower right",
        "bbox_to_anchor": (1.0, 0.99),
        "ncols": len(names),
        "frameon": False,
        "fontsize": BASE_SIZE - 1,
        "handlelength": 2.2,
        "columnspacing": 1.0,
        "borderpad": 0.1,
    }
