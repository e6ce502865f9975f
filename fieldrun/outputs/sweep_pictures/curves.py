"""One number varies: a curve for each group, a panel for each quantity; points alone where they are scattered."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fieldrun.design.arrays import Floats
from fieldrun.outputs.colours import FAINT, QUIET
from fieldrun.outputs.style import in_house_style
from fieldrun.outputs.sweep_pictures.head import fixed_note, words_for
from fieldrun.outputs.sweep_pictures.marks import (
    GROUP_DASHES,
    GROUP_MARKERS,
    GROUPS,
    NOT_BUILT,
    base_mark,
    best_mark,
    draw_base_line,
    draw_best,
    draw_failed,
    failed_mark,
    not_built_mark,
)
from fieldrun.outputs.sweep_pictures.page import Sheet, fitted, new_sheet, whole_ticks
from fieldrun.outputs.sweep_pictures.view import Mask, Varied, View
from fieldrun.outputs.sweep_words import axis_label, words_of

MOST_PANELS = 9
"""Quantities, or values of a second group, drawn at most."""

DOTS = 40
"""Points of a curve that are still marked one by one."""


@dataclass(frozen=True, eq=False)
class Panel:
    """One frame: a quantity, and which of the points (points,) belong in it."""

    quantity: str
    points: Mask
    title: str


@in_house_style
def curves_picture(view: View, axis: Varied, groups: Sequence[Varied]) -> Figure:
    """Draw curves over `axis`.

    Parameters
    ----------
    view : what is shown
    axis : a key that varies as a number
    groups : none, one (a curve for each of its values) or two (besides, a panel for each value of the second)
    """
    panels = _panels(view, groups)
    shown = panels[:MOST_PANELS]
    columns = min(len(shown), 3)
    wide = {1: 7.6, 2: 4.6, 3: 3.5}[columns]
    sheet = Sheet(len(shown), columns, wide, 0.72 * wide if columns > 1 else 4.2)
    group = groups[0] if groups else None
    words = words_for(view, _left_out(panels), fixed_note(view), quantity=view.drawn if len(groups) > 1 else "")
    figure, frames = new_sheet(sheet, words, list(_marks(view, axis, group)))
    for frame, panel in zip(frames, shown, strict=True):
        _draw(frame, view, axis, group, panel)
    if len(groups) > 1:
        _share_heights(frames, columns, fitted(axis_label(view.drawn), sheet.tall))
    return figure


def _panels(view: View, groups: Sequence[Varied]) -> list[Panel]:
    everywhere = np.ones(len(view.sweep.rows), bool)
    if len(groups) < 2:
        return [Panel(key, everywhere, "") for key in view.quantities]
    by = groups[1]
    return [Panel(view.drawn, by.at == level, by.named_at(level)) for level in by.levels]


def _left_out(panels: Sequence[Panel]) -> str:
    more = len(panels) - MOST_PANELS
    return f"{more} more are in results.csv." if more > 0 else ""


def _marks(view: View, axis: Varied, group: Varied | None) -> Iterator[Artist]:
    if group is not None:
        for number, level in enumerate(group.levels):
            yield Line2D([], [], label=group.named_at(level), lw=2.2, ms=6, **_style(number))
    if view.best is not None:
        yield best_mark()
    if axis.base is not None and axis.holds_base:
        yield base_mark(line=True)
    if view.status("infeasible").any():
        yield not_built_mark()
    if view.status("failed").any():
        yield failed_mark()


def _style(number: int) -> dict[str, Any]:
    return {"color": GROUPS[number], "ls": GROUP_DASHES[number], "marker": GROUP_MARKERS[number]}


def _draw(axes: Axes, view: View, axis: Varied, group: Varied | None, panel: Panel) -> None:
    values, answered = view.values(panel.quantity), view.status("ok")
    for number, level in enumerate([None] if group is None else group.levels):
        here = panel.points if group is None or level is None else panel.points & (group.at == level)
        _curve(axes, view, axis.at[here], values[here], number)
    _shade(axes, axis, panel.points & ~answered, panel.points & (answered | view.status("failed")))
    _mark(axes, view, axis, panel)
    axes.set_xlim(*_limits(axis.levels))
    axes.margins(y=0.1)
    axes.set_xlabel(axis.label)
    axes.set_ylabel(words_of(panel.quantity)[1])
    whole_ticks(axes, axis.levels)
    axes.set_title(panel.title or words_of(panel.quantity)[0], size=13)
    axes.grid(color=FAINT, lw=0.6)
    axes.set_axisbelow(True)


def _curve(axes: Axes, view: View, at: Floats, values: "np.ma.MaskedArray", number: int) -> None:
    """A line with gaps where there is no answer; points alone where they are scattered."""
    order = np.argsort(at, kind="stable")
    style = _style(number) | ({} if view.is_grid else {"ls": "none"})
    dots = 6.0 if len(at) <= DOTS else 0.0 if view.is_grid else 3.5
    if dots == 0.0 and len(at):
        style |= {"marker": "" if values.mask.sum() == 0 else "."}
        dots = 3.0
    axes.plot(at[order], values[order].filled(np.nan), lw=2.2, ms=dots, gid=f"curve-{number}",
              rasterized=len(at) > 2000, zorder=3, **style)  # fmt: skip


def _shade(axes: Axes, axis: Varied, without: Mask, with_some: Mask) -> None:
    """Hatch values of the axis at which nothing can be built in this panel, half-way to their neighbours."""
    levels = axis.levels
    edges = np.concatenate((levels[:1], (levels[1:] + levels[:-1]) / 2, levels[-1:]))
    blank = set(axis.at[without].tolist()) - set(axis.at[with_some].tolist())
    for number, level in enumerate(levels.tolist()):
        if level in blank:
            axes.axvspan(edges[number], edges[number + 1], facecolor=NOT_BUILT, edgecolor=QUIET, hatch="////", lw=0.0,
                         zorder=0.5, gid="not-built")  # fmt: skip


def _mark(axes: Axes, view: View, axis: Varied, panel: Panel) -> None:
    values, best = view.values(panel.quantity), view.best
    if axis.base is not None and axis.holds_base:
        draw_base_line(axes, axis.base)
    failed = axis.at[view.status("failed") & panel.points]
    draw_failed(axes, failed, np.full(len(failed), 0.03), transform=axes.get_xaxis_transform())
    if best is not None and panel.points[best] and values[best] is not np.ma.masked:
        draw_best(axes, axis.at[best], float(values[best]))


def _limits(levels: Floats) -> tuple[float, float]:
    rim = 0.03 * float(levels[-1] - levels[0])
    return float(levels[0]) - rim, float(levels[-1]) + rim


def _share_heights(frames: Sequence[Axes], columns: int, label: str) -> None:
    """Panels of one quantity are compared with each other."""
    least, most = min(f.get_ylim()[0] for f in frames), max(f.get_ylim()[1] for f in frames)
    for number, frame in enumerate(frames):
        frame.set_ylim(least, most)
        frame.set_ylabel("" if number % columns else label)
