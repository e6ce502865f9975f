"""Windings side by side: each drawn small over its magnets, beside what it gives in the space and for its copper."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.units import RPM
from fieldrun.outputs.colours import INK, PHASE_COLOURS, QUIET
from fieldrun.outputs.compare_told import (
    PER_KG,
    POWER,
    Count,
    counted_phases,
    marked,
    per_kg,
    power,
    ranked,
    speed_of,
    verdict,
    winners,
)
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.shape_drawing import draw_shape
from fieldrun.outputs.style import BASE_SIZE, in_house_style, new_figure
from fieldrun.studies.compare import AS_THEY_STAND, EQUAL_SPACE, OWN_BEST, WindingComparison
from fieldrun.studies.wound import NotWound, Row, Wound

WIDE_IN, ROW_IN, HEAD_IN, FOOT_IN = 13.0, 0.82, 1.95, 0.5
"""The figure's width, and the heights of a row, of what stands above all rows and below them [in]."""

BEST, OTHER = PHASE_COLOURS[0], "#B9C6D0"
"""The bars of a column that the sentence names as giving the most, and all others."""

DIGIT_SHARE = 0.04
"""Digits nearer to each other than this share of the longest bar would print over each other."""

NAMES, BARS = 0.185, ((0.345, 0.28), (0.695, 0.28))
"""Where names start; left edge and width of the two columns of bars, in widths of the figure."""

Column = tuple[str, str, Count, list[Wound]]
"""Title and unit, figure per speed squared, and the windings that give the most."""


@dataclass(frozen=True)
class Page:
    """Rows from the top, in heights of the figure."""

    rows: int

    @property
    def height_in(self) -> float:
        """Height of the whole figure."""
        return HEAD_IN + ROW_IN * self.rows + FOOT_IN

    def below_top(self, inches: float) -> float:
        """Where something so far below the top stands."""
        return 1 - inches / self.height_in

    def row(self, number: float) -> float:
        """Where a row begins; half a row further is its middle."""
        return self.below_top(HEAD_IN + ROW_IN * number)


@in_house_style
def compare_picture(comparison: WindingComparison) -> Figure:
    """Draw a row for each winding: its shape, EMF^2/R in the space, EMF^2/(R kg); other numbers of phases as digits.

    Parameters
    ----------
    comparison : at least one winding of it laid
    """
    rows = comparison.shown_first or comparison.wound
    absent = _absent(comparison, rows)
    page = Page(len(rows) + len(absent))
    figure = new_figure(WIDE_IN, page.height_in, verdict(comparison))
    _write_head(figure, page, comparison)
    for place, (title, unit, count, best) in zip(BARS, _columns(comparison), strict=True):
        axes = figure.add_axes((place[0], page.row(len(rows)), place[1], ROW_IN * len(rows) / page.height_in))
        axes.set_ylim(len(rows) - 0.5, -0.5)
        _draw_bars(axes, rows, comparison, _counted(count, comparison), best)
        figure.text(place[0], page.below_top(HEAD_IN - 0.36), title, weight="bold")
        figure.text(place[0], page.below_top(HEAD_IN - 0.1), unit, color=QUIET, size=BASE_SIZE - 1)
    shown: list[Row] = [*rows, *absent]
    for number, row in enumerate(shown):
        figure.text(NAMES, page.row(number + 0.5), "\n".join(textwrap.wrap(marked(row, comparison), 18)), va="center")
        _draw_left(figure, page, number, row)
    figure.text(0.015, 0.17 / page.height_in, _key(comparison), color=QUIET, size=BASE_SIZE - 2)
    return figure


def _absent(comparison: WindingComparison, rows: Sequence[Wound]) -> list[NotWound]:
    """Those that cannot be laid, among as many phases as what is shown, and paths of the user's own."""
    if comparison.terms == AS_THEY_STAND:
        return list(comparison.not_wound)
    phases = {row.candidate.winding.phases for row in rows}
    return [row for row in comparison.not_wound if row.candidate.winding.phases in phases or row.candidate.own]


def _write_head(figure: Figure, page: Page, comparison: WindingComparison) -> None:
    title = "Designs side by side"
    if comparison.terms != AS_THEY_STAND:
        title = f"{comparison.designs[0].title}: what to wind {counted_phases(comparison)}"
    figure.text(0.015, page.below_top(0.42), title, size="x-large", weight="bold")
    said = "\n".join(textwrap.wrap(verdict(comparison), 128))
    figure.text(0.015, page.below_top(0.62), said, color=QUIET, va="top", linespacing=1.4)


def _columns(comparison: WindingComparison) -> list[Column]:
    """Title, unit, figure and winners; none from equal copper where each was moved to its best in the space."""
    speed, rows = speed_of(comparison), ranked(comparison)
    title, beside, cheapest = comparison.terms, "from equal copper", winners(rows, per_kg)
    if comparison.terms == EQUAL_SPACE:
        title = f"in {EQUAL_SPACE}"
    if comparison.terms == OWN_BEST:
        beside, cheapest = "the same per weight of copper", []
    return [
        (title, f"{POWER} at {speed:g} rpm, W", power, winners(rows, power)),
        (beside, f"{PER_KG} at {speed:g} rpm, W/kg", per_kg, cheapest),
    ]


def _counted(count: Count, comparison: WindingComparison) -> Count:
    """A figure at the speed told about."""
    squared = (speed_of(comparison) * RPM) ** 2
    return lambda row: count(row) * squared


def _key(comparison: WindingComparison) -> str:
    drawn = "Drawn: one round of the first phase, dashed that of its second belt; all rounds of a path file."
    if comparison.terms == AS_THEY_STAND:
        return drawn
    others = len(comparison.shown_first) > len(ranked(comparison))
    dark = f"Dark: the most {counted_phases(comparison)}.\n" if others else ""
    return f"{dark}Digits: the same with one, two or three phases instead. {drawn}"


def _draw_left(figure: Figure, page: Page, number: int, row: Row) -> None:
    if isinstance(row, Wound):
        tall = ROW_IN / page.height_in
        draw_shape(figure.add_axes((0.012, page.row(number + 0.96), 0.16, 0.92 * tall)), row)
        return
    why = "\n".join(textwrap.wrap(f"cannot be laid: {row.reason}", 92)[:3])
    figure.text(BARS[0][0], page.row(number + 0.5), why, va="center", color=QUIET, size=BASE_SIZE - 3)


def _draw_bars(
    axes: Axes, rows: Sequence[Wound], comparison: WindingComparison, count: Count, best: Sequence[Wound]
) -> None:
    most = max(count(row) for row in rows)
    beside: dict[str, Any] = {"xytext": (6, 0), "textcoords": "offset points", "va": "center_baseline"}
    for number, row in enumerate(rows):
        value = count(row)
        wins = any(row is other for other in best)
        axes.barh(number, value, height=0.5, color=BEST if wins else OTHER, gid=f"bar-{number}", zorder=2)
        axes.annotate(plain(value), (value, number), weight="bold" if wins else "normal", **beside)
        places = [(count(other), other.candidate.winding.phases) for other in _others(row, comparison)]
        _draw_digits(axes, number, places, DIGIT_SHARE * most)
    axes.set(xlim=(0, 1.18 * most or 1.0), xticks=[], yticks=[])
    axes.spines["bottom"].set_visible(False)
    axes.spines["left"].set_color(INK)


def _others(row: Wound, comparison: WindingComparison) -> list[Wound]:
    """The same shape and belts with other numbers of phases."""
    phases = row.candidate.winding.phases
    return [o for o in comparison.wound if _kind(o) == _kind(row) and o.candidate.winding.phases != phases]


def _draw_digits(axes: Axes, number: int, places: Sequence[tuple[float, int]], near: float) -> None:
    """Numbers of phases as digits under the bar; those that would print over each other stand side by side."""
    small: dict[str, Any] = {"size": BASE_SIZE - 4, "ha": "center", "va": "center", "color": QUIET}
    groups: list[list[tuple[float, int]]] = []
    for place in sorted(places):
        if groups and place[0] - groups[-1][-1][0] <= near:
            groups[-1].append(place)
        else:
            groups.append([place])
    for group in groups:
        middle = sum(value for value, _ in group) / len(group)
        axes.text(middle, number + 0.38, ",".join(sorted(str(phases) for _, phases in group)), **small)


def _kind(row: Wound) -> tuple[str, str, int]:
    return row.candidate.name, row.candidate.winding.file, row.candidate.winding.belts
