"""Bars of the field's harmonics at a few radii: each as a share of its own fundamental."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.units import MM
from fieldrun.field.field_map import amplitudes_at
from fieldrun.generator.result import RunResult
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET
from fieldrun.outputs.fields.asked import Places
from fieldrun.outputs.fields.cuts import shown_radii
from fieldrun.outputs.fields.looks import write_heading
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, in_house_style, new_figure

MOST_ORDERS = 8
"""Harmonics shown: 1 to 15."""

SMALLEST_PERCENT = 0.01
"""Foot of the bars: what is smaller is none."""

WRITTEN_PERCENT = 0.1
"""Bars from here on have their share written over them."""


@dataclass(frozen=True, eq=False)
class Harmonics:
    """B_z harmonics (r, n) at the pole's centre [T], signed, at radii [m] and one height [m]."""

    radii_m: Floats
    height_m: float
    orders: Ints
    b_z_t: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "b_z_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "orders", frozen_array(self.orders, np.int64))


def harmonics_of(result: RunResult, places: Places) -> Harmonics:
    """Harmonics at up to three radii of a grid and its middle height."""
    radii = places.radii_m[shown_radii(places.radii_m)]
    height = float(places.heights_m[len(places.heights_m) // 2])
    axial = amplitudes_at(result.field_map, radii, np.full(len(radii), height))[2].real.T
    return Harmonics(radii, height, result.field_map.orders[:MOST_ORDERS], axial[:, :MOST_ORDERS])


@in_house_style
def harmonics_picture(found: Harmonics) -> Figure:
    """Draw them on a logarithmic scale; hollow bars run against the fundamental at the pole's centre."""
    figure = new_figure(11.0, 6.2, "Harmonics of the axial flux density, each as a share of the fundamental.")
    write_heading(
        figure,
        "Harmonics of the field",
        f"Flux density along the shaft, {plain(found.height_m / MM, 'mm')} above the lower magnets, per cent of its "
        "main wave at each radius.",
        "Hollow: against the main wave at a pole's centre. Each step up is ten times as much.",
    )
    axes = figure.add_axes((0.085, 0.13, 0.9, 0.575))
    _draw(axes, found)
    return figure


def _draw(axes: Axes, found: Harmonics) -> None:
    axes.set(yscale="log", ylim=(SMALLEST_PERCENT, 260))  # first: where nothing is to be drawn no limits follow
    count = len(found.radii_m)
    wide = 0.84 / count
    for k, (radius, row) in enumerate(zip(found.radii_m, found.b_z_t, strict=True)):
        share = 100 * row / row[0] if row[0] else np.zeros_like(row)
        places = np.arange(len(row)) + (k - (count - 1) / 2) * wide
        colour = PHASE_COLOURS[k]
        against = share < 0
        named = f"{plain(radius / MM, 'mm')}: main wave {plain(abs(float(row[0])), 'T')}"
        look: dict[str, Any] = {"edgecolor": colour, "linewidth": 2.0, "width": wide - 0.06, "zorder": 3}
        heights = np.where(np.abs(share) > SMALLEST_PERCENT, np.abs(share), 0)
        fills = [PAPER if hollow else colour for hollow in against]
        axes.bar(places, heights, color=fills, gid=f"bars-{k}", **look)
        axes.bar([0], [0], color=colour, label=named, width=0)
        for x, size, value in zip(places, heights, share, strict=True):
            _write(axes, float(x), float(size), float(value))
    axes.set(ylim=(SMALLEST_PERCENT, 260), xlim=(-0.6, len(found.orders) - 0.4), ylabel="% of the main wave")
    axes.set_yticks([0.01, 0.1, 1, 10, 100], ["0.01", "0.1", "1", "10", "100"])
    axes.minorticks_off()
    axes.set_xticks(range(len(found.orders)), [str(n) for n in found.orders])
    axes.set_xlabel("harmonic")
    axes.grid(axis="y", color=FAINT, linewidth=0.7)
    axes.set_axisbelow(True)
    key: dict[str, Any] = {"frameon": False, "fontsize": BASE_SIZE - 1, "columnspacing": 1.4, "handlelength": 1.2}
    axes.legend(loc="lower left", bbox_to_anchor=(-0.01, 1.0), ncols=count, borderpad=0.2, **key)


def _write(axes: Axes, x: float, size: float, percent: float) -> None:
    if abs(percent) < WRITTEN_PERCENT:
        return
    text = f"{abs(percent):.0f}" if abs(percent) >= 10 else f"{abs(percent):.1f}"
    colour = INK if percent > 0 else QUIET
    axes.annotate(text, (x, size), (0, 3), textcoords="offset points", ha="center", size=BASE_SIZE - 4, color=colour)
