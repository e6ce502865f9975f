"""Error maps of all quick estimates, small multiples: a column for each, a row for each magnet share."""

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from fieldrun.design.arrays import Floats
from fieldrun.outputs.colours import FAINT, INK, PAPER, QUIET
from fieldrun.outputs.estimates_told import arrangement, gap_word, missing
from fieldrun.outputs.screen import safe
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, in_house_style, new_figure
from fieldrun.outputs.verify_table import signed
from fieldrun.studies.estimates_map.judge import Outcome
from fieldrun.studies.estimates_map.study import EstimatesMap

ERROR = ("#0B3C6F", "#3F78A8", "#86B0CF", "#C9DCE8", "#FFFFFF", "#F7DFC0", "#E9AE6B", "#C8742A", "#7F3E0C")
"""From too low, blue, through right, white, to too high, brown: apart for the three kinds of colour blindness."""

STEPS = (1.0, 2.0, 4.0, 8.0)
"""Edges of the bands of colour, in allowed errors; beyond the last the colour stays."""

TICKS = (0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2)
"""Ratios that may be written at the axes."""

LEFT, RIGHT, TOP, BOTTOM = 0.105, 0.99, 0.77, 0.185
"""Where the maps stand in the figure."""

LONGEST = 40
"""Letters of a title that have room above the maps."""

BETWEEN = 0.022
"""Room between the maps of the field and those of the EMF, in widths of the figure."""


@in_house_style
def estimates_picture(found: EstimatesMap) -> Figure:
    """Draw each estimate's error over gap and thickness, the contour of the allowed error, and the design's place.

    Parameters
    ----------
    found : the study
    """
    allowed = f"{found.allowed_percent:g} %"
    says = f"Error of quick estimates against finite elements in three dimensions; white is within {allowed}."
    figure = new_figure(16.0, 9.0, says)
    figure.text(0.015, 0.945, "Where quick estimates hold", size=BASE_SIZE + 9, weight="bold")
    figure.text(0.015, 0.905, _below(found), color=QUIET)
    rows = found.outcomes
    edges = _edges(found.allowed_percent)
    for column, row in enumerate(rows):
        _head(figure, _left(rows, column), _width(rows), row)
        for line in range(len(found.axes.shares)):
            _map(figure.add_axes(_place(found, column, line)), found, (column, line), edges)
    for line, share in enumerate(found.axes.shares):
        _, bottom, _, height = _place(found, 0, line)
        lines: dict[str, Any] = {"va": "center", "weight": "bold", "size": BASE_SIZE - 1, "linespacing": 1.25}
        figure.text(0.015, bottom + height / 2, f"share\n{plain(share)}", **lines)
    for quantity, words in (("field", "Field: main wave B1"), ("emf", "EMF of one round")):
        _bracket(figure, rows, quantity, words)
    _key(figure, found, edges)
    return figure


def _below(found: EstimatesMap) -> str:
    allowed = f"{found.allowed_percent:g} %"
    return f"{_cut(safe(found.design.title))}: {arrangement(found)} White: within {allowed} of finite elements in 3D."


def _cut(title: str) -> str:
    return title if len(title) <= LONGEST else f"{title[: LONGEST - 1]}\N{HORIZONTAL ELLIPSIS}"


def _edges(allowed: float) -> list[float]:
    """Where the colours change [%]."""
    steps = [allowed * step for step in STEPS]
    return [-step for step in reversed(steps)] + steps


def _width(rows: tuple[Outcome, ...]) -> float:
    return (RIGHT - LEFT - BETWEEN) / len(rows) - 0.012


def _left(rows: tuple[Outcome, ...], column: int) -> float:
    step = (RIGHT - LEFT - BETWEEN) / len(rows)
    return LEFT + column * step + (BETWEEN if rows[column].label.quantity == "emf" else 0.0)


def _place(found: EstimatesMap, column: int, line: int) -> tuple[float, float, float, float]:
    rows, lines = found.outcomes, len(found.axes.shares)
    step = (TOP - BOTTOM) / lines
    return _left(rows, column), TOP - (line + 1) * step + 0.012, _width(rows), step - 0.024


def _head(figure: Figure, left: float, width: float, row: Outcome) -> None:
    name = "\n".join(textwrap.wrap(row.label.name, 15))
    middle: dict[str, Any] = {"ha": "center", "va": "bottom", "linespacing": 1.05}
    figure.text(left + width / 2, TOP + 0.022, name, weight="bold", size=BASE_SIZE - 1, **middle)
    figure.text(
        left + width / 2, TOP - 0.003, f"median {row.median_percent:.0f} %", color=QUIET, size=BASE_SIZE - 2, **middle
    )


def _bracket(figure: Figure, rows: tuple[Outcome, ...], quantity: str, words: str) -> None:
    """A rule over the columns that estimate the same thing."""
    columns = [k for k, row in enumerate(rows) if row.label.quantity == quantity]
    left, right = _left(rows, columns[0]), _left(rows, columns[-1]) + _width(rows)
    rule = figure.add_axes((left, TOP + 0.083, right - left, 0.001))
    rule.set_axis_off()
    rule.axhline(0, color=QUIET, linewidth=1.4)
    figure.text(left, TOP + 0.087, words, color=QUIET, va="bottom", size=BASE_SIZE - 1)


def _map(axes: Axes, found: EstimatesMap, place: tuple[int, int], edges: list[float]) -> None:
    (column, line), grid = place, found.axes
    row = found.outcomes[column]
    errors = row.errors_percent.reshape(grid.shape)[line]
    axes.set(xscale="log", yscale="log")
    axes.contourf(grid.gaps, grid.thicknesses, errors, levels=_closed(edges, errors), colors=ERROR)
    level = found.allowed_percent
    axes.contour(
        grid.gaps, grid.thicknesses, errors, levels=[-level, level], colors=INK, linewidths=1.3, linestyles="solid"
    )
    _frame(axes, found, first=column == 0, last=line == len(grid.shares) - 1)
    if abs(grid.shares[line] - found.own_point.share) < 1e-9:
        _cross(axes, found, row)


def _closed(edges: list[float], errors: Floats) -> list[float]:
    """The bands' edges, with ends that hold every error."""
    far = 1 + max(float(np.max(np.abs(errors))), edges[-1])
    return [-far, *edges, far]


def _frame(axes: Axes, found: EstimatesMap, *, first: bool, last: bool) -> None:
    for axis, lines, shown in ((axes.xaxis, found.axes.gaps, last), (axes.yaxis, found.axes.thicknesses, first)):
        ticks = [tick for tick in TICKS if lines[0] * 0.999 <= tick <= lines[-1] * 1.001]
        axis.set_major_locator(FixedLocator(ticks))
        axis.set_minor_locator(NullLocator())
        axis.set_ticklabels([f"{tick:g}" for tick in ticks] if shown else [])
    axes.tick_params(labelsize=BASE_SIZE - 3, length=3)
    for spine in axes.spines.values():
        spine.set(visible=True, color=QUIET, linewidth=0.8)


def _cross(axes: Axes, found: EstimatesMap, row: Outcome) -> None:
    """The design's place, and its error beside it."""
    point = found.own_point
    axes.plot(point.gap, point.thickness, "x", color=PAPER, markersize=11, markeredgewidth=5, clip_on=False)
    axes.plot(point.gap, point.thickness, "x", color=INK, markersize=10, markeredgewidth=2.2, clip_on=False)
    middle = np.sqrt(found.axes.gaps[0] * found.axes.gaps[-1])
    left = point.gap > middle
    text = signed(row.own_error_percent).replace("-", "\N{MINUS SIGN}")
    box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.2}
    beside: dict[str, Any] = {
        "textcoords": "offset points",
        "ha": "right" if left else "left",
        "va": "center",
        "bbox": box,
    }
    axes.annotate(text, (point.gap, point.thickness), (-9 if left else 9, 0), size=BASE_SIZE - 3, **beside)


def _key(figure: Figure, found: EstimatesMap, edges: list[float]) -> None:
    """The bar of colours, what the axes are, and which estimates are missing."""
    figure.text((LEFT + RIGHT) / 2, BOTTOM - 0.055, f"{gap_word(found)} / pole pitch", ha="center", color=INK)
    figure.text(0.062, (TOP + BOTTOM) / 2, "magnet thickness / pole pitch", rotation=90, va="center", ha="center")
    bar = figure.add_axes((LEFT, 0.075, 0.4, 0.024))
    for number, shade in enumerate(ERROR):
        bar.axvspan(number, number + 1, color=shade, linewidth=0)
    bar.axvline(len(STEPS), color=INK, linewidth=1.3)
    bar.axvline(len(STEPS) + 1, color=INK, linewidth=1.3)
    names = [f"{edge:+g}".replace("-", "\N{MINUS SIGN}") for edge in edges]
    bar.set(xlim=(0, len(ERROR)), ylim=(0, 1), xticks=range(1, len(ERROR)), xticklabels=names, yticks=[])
    bar.tick_params(labelsize=BASE_SIZE - 2, length=0)
    for spine in bar.spines.values():
        spine.set(visible=True, color=FAINT)
    figure.text(
        LEFT,
        0.022,
        "error in per cent: blue too low, brown too high, the darkest also for more",
        color=QUIET,
        size=BASE_SIZE - 2,
    )
    notes = "\N{MULTIPLICATION SIGN} your design, its error beside it. Share: part of its pitch that a magnet covers."
    if texts := missing(found):
        notes += f" Not here: {'; '.join(texts)}."
    small: dict[str, Any] = {"va": "top", "color": QUIET, "size": BASE_SIZE - 3, "linespacing": 1.25}
    figure.text(0.525, 0.102, "\n".join(textwrap.wrap(notes, 98)), **small)
