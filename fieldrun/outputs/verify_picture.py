"""All ways side by side: how far each is off, and where along the radius it goes wrong."""

import textwrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.units import MM
from fieldrun.outputs.colours import FAINT, INK, NORTH_FILL, PAPER, PHASE_COLOURS, QUIET, STEEL_FILL
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, PHASE_DASHES, in_house_style, new_figure
from fieldrun.outputs.verify_table import signed, verdict
from fieldrun.studies.verify import Absence, Answer, Comparison, difference_percent

LOOKS: dict[str, dict[str, Any]] = {
    "solid": {"color": STEEL_FILL, "linewidth": 8, "zorder": 2, "solid_capstyle": "butt"},
    "rings": {"color": PHASE_COLOURS[0], "linestyle": PHASE_DASHES[0], "linewidth": 2.4, "zorder": 4},
    "sections": {"color": PHASE_COLOURS[1], "linestyle": PHASE_DASHES[1], "linewidth": 2.4, "zorder": 3},
    "k1": {"color": PHASE_COLOURS[2], "linestyle": PHASE_DASHES[2], "linewidth": 3.2, "zorder": 5},
}
"""Curves of the ways that know the field over the radius: those that agree lie on each other, so widths differ too."""

PLAIN_BAR = {"facecolor": "none", "edgecolor": QUIET, "hatch": "////"}
"""Bars of the ways that have no curve."""

KEY: dict[str, Any] = {
    "frameon": False,
    "fontsize": BASE_SIZE - 1,
    "handlelength": 2.6,
    "columnspacing": 1.2,
    "handletextpad": 0.5,
    "borderpad": 0.2,
}
"""The curves' key stands in one line above them, where no curve can run through it."""

ENOUGH = 1.6
"""Longest bar that is shown whole, in lengths of the longest among those that are no hand calculation."""

FAR = 30.0
"""Differences beyond `ENOUGH` times this are cut whatever the way [%]."""

VALUES = 1.3
"""Where the column of values ends, in widths of the bars' axis."""


@in_house_style
def verify_picture(comparison: Comparison) -> Figure:
    """Draw bars of each way's EMF beside the best, with the band that is let pass, and B1 over the radius.

    Parameters
    ----------
    comparison : all ways side by side
    """
    told = " ".join(verdict(comparison))
    figure = new_figure(13.0, 6.9, f"Every way to the field held beside the best. {told}")
    figure.text(0.015, 0.94, "EMF by every way", size="x-large", weight="bold")
    figure.text(0.015, 0.895, _below_bars(comparison), color=QUIET)
    _draw_bars(figure.add_axes((0.155, 0.11, 0.255, 0.745)), comparison)
    figure.text(0.53, 0.94, "Field over the radius", size="x-large", weight="bold")
    figure.text(0.53, 0.895, _below_curves(comparison), color=QUIET)
    _draw_curves(figure.add_axes((0.585, 0.11, 0.4, 0.705)), comparison)
    return figure


def _below_bars(comparison: Comparison) -> str:
    return f"above or below {comparison.best.name}, the best; shaded: the {comparison.allowed_percent:g} % allowed"


def _below_curves(comparison: Comparison) -> str:
    return f"main wave of B, {plain(comparison.height_m / MM, 'mm')} above the lower magnets"


def _draw_bars(axes: Axes, comparison: Comparison) -> None:
    low, high = _limits(comparison)
    for row, found in enumerate(comparison.rows):
        if isinstance(found, Absence):
            _write_absence(axes, row, found, (low, high))
        else:
            _draw_bar(axes, row, found, comparison)
    names = [found.name for found in comparison.rows]
    axes.set_yticks(range(len(names)), names)
    default = names.index(comparison.default.name)
    axes.get_yticklabels()[default].set_fontweight("bold")
    axes.set(xlim=(low, high), ylim=(len(names) - 0.5, -0.5), xlabel="per cent of the EMF; bold: the default")
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.spines["left"].set_visible(False)


def _offs(comparison: Comparison) -> dict[str, float]:
    """Difference of every answer's EMF to the best [%]; 0 where there is none to compare with."""
    best = comparison.best.emf_per_round_v_s_per_rad
    return {a.key: difference_percent(a.emf_per_round_v_s_per_rad, best) or 0.0 for a in comparison.answers}


def _limits(comparison: Comparison) -> tuple[float, float]:
    """Ends of the bars' axis: what is far off is cut, so that the others do not look small beside it."""
    offs = _offs(comparison)
    least = 1.5 * comparison.allowed_percent
    others = max(abs(off) for key, off in offs.items() if key != "hand")
    reach = ENOUGH * max(least, min(others, FAR))
    shown = [min(max(off, -reach), reach) for off in offs.values()]
    return 1.06 * min(-least, *shown), 1.06 * max(least, *shown)


def _draw_bar(axes: Axes, row: int, answer: Answer, comparison: Comparison) -> None:
    off, limits = _offs(comparison)[answer.key], _limits(comparison)
    end = min(max(off, limits[0]), limits[1])
    look = {"color": LOOKS[answer.key]["color"]} if answer.key in LOOKS else PLAIN_BAR
    allowed = comparison.allowed_percent
    axes.barh(row, 2 * allowed, left=-allowed, height=1.0, color=FAINT, alpha=0.55, linewidth=0, zorder=0)
    axes.plot([0, 0], [row - 0.5, row + 0.5], color=INK, linewidth=1.2, zorder=3)
    axes.barh(row, end, height=0.56, zorder=2, gid=f"bar-{answer.key}", **look)
    if end != off:
        _break_bar(axes, row, 0.9 * end, 0.015 * (limits[1] - limits[0]))
    text = "best" if answer is comparison.best else signed(off).replace("-", "\N{MINUS SIGN}")
    beside: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "right", "va": "center_baseline"}
    axes.text(VALUES, row, text, color=INK, weight=_weight(answer, comparison), **beside)


def _break_bar(axes: Axes, row: int, at: float, slant: float) -> None:
    """Draw a slanted gap across a bar: it is longer than it looks."""
    axes.plot([at - slant, at + slant], [row + 0.42, row - 0.42], color=PAPER, linewidth=5, zorder=3)


def _weight(answer: Answer, comparison: Comparison) -> str:
    return "bold" if answer is comparison.default else "normal"


def _write_absence(axes: Axes, row: int, absence: Absence, limits: tuple[float, float]) -> None:
    text = "\n".join(textwrap.wrap(absence.reason, 54))
    small: dict[str, Any] = {"size": BASE_SIZE - 2.5, "va": "center", "color": QUIET}
    axes.annotate(text, (limits[0], row), (4, 0), textcoords="offset points", **small)


def _draw_curves(axes: Axes, comparison: Comparison) -> None:
    inner, outer = (radius / MM for radius in comparison.magnet_radii_m)
    axes.axvspan(inner, outer, color=NORTH_FILL, linewidth=0, zorder=0)
    curves = [answer for answer in comparison.answers if answer.key in LOOKS]
    for answer in curves:
        named: dict[str, Any] = {"label": answer.name, "gid": f"curve-{answer.key}"}
        axes.plot(answer.radii_m / MM, answer.b1_over_radius_t, **named, **LOOKS[answer.key])
    strongest = max(float(answer.b1_over_radius_t.max()) for answer in curves)
    weakest = min(float(answer.b1_over_radius_t.min()) for answer in curves)
    top, bottom = (strongest or 1.0) * 1.15, min(0.0, weakest * 1.05)
    ends = [float(answer.radii_m[end]) / MM for answer in curves for end in (0, -1)]
    axes.set(ylim=(bottom - 0.14 * (top - bottom), top), xlim=(min(ends), max(ends)))
    axes.set(xlabel="radius, mm", ylabel="B1, tesla")
    axes.axhline(0, color=FAINT, linewidth=1, zorder=1)
    axes.set_yticks([tick for tick in axes.get_yticks() if bottom <= tick <= top])
    middle: dict[str, Any] = {"ha": "center", "color": QUIET}
    above: dict[str, Any] = {"textcoords": "offset points", "va": "top"}
    axes.annotate("magnets", ((inner + outer) / 2, top), (0, -6), **above, **middle)
    _mark_winding(axes, comparison, bottom - 0.05 * (top - bottom))
    axes.legend(loc="lower left", bbox_to_anchor=(-0.15, 1.0), ncols=len(curves), **KEY)


def _mark_winding(axes: Axes, comparison: Comparison, height: float) -> None:
    """A bar under the curves where the legs lie, with a tick at their mean radius."""
    inner, outer = (radius / MM for radius in comparison.winding_radii_m)
    mean = comparison.mean_radius_m / MM
    bar: dict[str, Any] = {"color": INK, "linewidth": 2.5, "solid_capstyle": "butt", "zorder": 6}
    axes.plot([inner, outer], [height, height], gid="winding", **bar)
    axes.plot([inner, mean, outer], [height] * 3, linestyle="none", marker="|", markersize=13, color=INK, zorder=6)
    below: dict[str, Any] = {"textcoords": "offset points", "ha": "center", "va": "top"}
    axes.annotate(f"winding, mean {plain(mean, 'mm')}", (mean, height), (0, -8), color=INK, **below)
