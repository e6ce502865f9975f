"""Readings over predictions, row by row, with what the best explanation makes of them."""

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.outputs.colours import FAINT, INK, PHASE_COLOURS, QUIET
from fieldrun.outputs.measured_told import verdict
from fieldrun.outputs.measured_words import explained, reading_name
from fieldrun.outputs.style import BASE_SIZE, in_house_style, new_figure
from fieldrun.studies.measured.study import Measured

NEAR = 1.6
"""Ratios within this factor are drawn on a scale of per cents, others on one of powers."""

ROW_IN, LEAST_IN = 0.36, 2.0
"""Height of a row, and of the axes at least [in]."""

LEFT_IN, RIGHT_IN, TOP_IN, BELOW_IN = 4.0, 0.45, 1.25, 0.85
"""Margins [in]."""

WIDTH_IN = 11.5

TITLE_LETTERS = 105

COARSE = tuple(digit * 10.0**power for power in range(-3, 4) for digit in (1, 2, 5))
FINE = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Ticks of the scale of powers, over many of them and over few."""


@in_house_style
def measured_picture(found: Measured) -> Figure:
    """Draw every reading as a share of its prediction, the band of its error, and the best explanation.

    Parameters
    ----------
    found : the study
    """
    rows = int(np.sum(found.bench.used))
    inner = max(LEAST_IN, ROW_IN * rows)
    height = inner + TOP_IN + BELOW_IN
    figure = new_figure(WIDTH_IN, height, f"Readings beside predictions. {' '.join(verdict(found))}")
    figure.text(0.15 / WIDTH_IN, 1 - 0.4 / height, "Measured against predicted", size="x-large", weight="bold")
    said = "best explanation" if found.best.explains else "nothing explains all of them; nearest"
    told = textwrap.fill(f"{said}: {explained(found.best, found)}", TITLE_LETTERS)
    figure.text(0.15 / WIDTH_IN, 1 - 0.55 / height, told, color=QUIET, va="top")
    place = (LEFT_IN / WIDTH_IN, BELOW_IN / height, 1 - (LEFT_IN + RIGHT_IN) / WIDTH_IN, inner / height)
    _draw_rows(figure.add_axes(place), found)
    return figure


def _draw_rows(axes: Axes, found: Measured) -> None:
    bench, best = found.bench, found.best
    used = np.flatnonzero(bench.used)
    should = np.maximum(bench.as_drawn, bench.floor)
    ratio, there = bench.ratio[used], (best.predicted / should)[used]
    error = np.hypot(bench.sigma, bench.common)[used]
    percent = bool(np.all((ratio > 1 / NEAR) & (ratio < NEAR) & (there > 1 / NEAR) & (there < NEAR)))
    ratio = np.maximum(ratio, 1e-3)
    shown, line = (100 * (ratio - 1), 100 * (there - 1)) if percent else (ratio, np.maximum(there, 1e-3))
    spread = 100 * error if percent else np.array([1 - np.exp(-error), np.exp(error) - 1]) * ratio
    places = np.arange(len(used))
    axes.axvline(0 if percent else 1, color=INK, linewidth=1.2, zorder=1)
    for at, value in zip(places, line, strict=True):
        axes.plot([value, value], [at - 0.42, at + 0.42], color=PHASE_COLOURS[1], linewidth=4, zorder=2, alpha=0.9)
    marks: dict[str, Any] = {"fmt": "o", "color": PHASE_COLOURS[0], "ecolor": QUIET, "capsize": 3, "markersize": 6}
    axes.errorbar(shown, places, xerr=spread, zorder=3, **marks)
    axes.set_yticks(places, [reading_name(bench.rows[i]) for i in used])
    axes.set_ylim(len(used) - 0.5, -0.5)
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.grid(axis="x", color=FAINT, linewidth=0.8, zorder=0)
    axes.spines["left"].set_visible(False)
    key = "dot: measured, with its error; bar: best explanation; line: as drawn"
    if percent:
        reach = 1.15 * max(3.0, float(np.max(np.abs(shown) + spread)), float(np.max(np.abs(line))))
        axes.set_xlim(-reach, reach)
        axes.set_xlabel(f"per cent above or below the prediction\n({key})", fontsize=BASE_SIZE - 1)
        return
    axes.set_xscale("log")
    low, high = axes.get_xlim()
    ticks = FINE if high < 10 * low else COARSE
    axes.set_xticks([tick for tick in ticks if low <= tick <= high], minor=False)
    axes.minorticks_off()
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xlabel(f"times the prediction\n({key})", fontsize=BASE_SIZE - 1)
