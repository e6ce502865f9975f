"""Only names vary: bars, with a panel for each quantity; the values of a second key as bars beside each other."""

from collections.abc import Iterator

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from fieldrun.outputs.colours import FAINT, INK, QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, in_house_style
from fieldrun.outputs.sweep_pictures.head import fixed_note, words_for
from fieldrun.outputs.sweep_pictures.marks import (
    FAILED,
    GROUPS,
    base_mark,
    best_mark,
    draw_base,
    draw_best,
    failed_mark,
)
from fieldrun.outputs.sweep_pictures.page import Sheet, new_sheet
from fieldrun.outputs.sweep_pictures.view import Varied, View
from fieldrun.outputs.sweep_words import words_of

MOST_PANELS = 6
"""Quantities drawn at most."""

MOST_NAMES = 30
"""Bars of one colour in a panel at most."""


@in_house_style
def bars_picture(view: View, names: Varied, group: Varied | None) -> Figure:
    """Draw a bar for each value of `names`, or a bundle of them where `group` has several."""
    shown = view.quantities[:MOST_PANELS]
    columns = min(len(shown), 3)
    bundle = len(group.levels) if group is not None else 1
    tall = max(0.62 + 0.2 * (bundle - 1), 0.3 * bundle) * len(names.levels) + 0.2
    longest = max(len(names.named_at(level)) for level in names.levels)
    sheet = Sheet(
        len(shown), columns, 6.0 if columns == 1 else 3.2, tall, left=0.5 + 0.105 * longest, below=0.5, above=0.75
    )
    more = len(view.quantities) - len(shown)
    notes = (f"{more} more are in results.csv." if more else "", fixed_note(view))
    figure, frames = new_sheet(sheet, words_for(view, *notes), list(_marks(view, names, group)))
    for axes, quantity in zip(frames, shown, strict=True):
        _draw(axes, view, quantity, names, group)
    return figure


def _marks(view: View, names: Varied, group: Varied | None) -> Iterator[Artist]:
    if group is not None:
        for number, level in enumerate(group.levels):
            yield Patch(color=GROUPS[number], label=group.named_at(level))
    if view.best is not None:
        yield best_mark()
    if names.base is not None and (group is None or group.base is not None):
        yield base_mark()
    if view.status("failed").any():
        yield failed_mark()


def _draw(axes: Axes, view: View, quantity: str, names: Varied, group: Varied | None) -> None:
    values = view.values(quantity)
    groups = [None] if group is None else list(group.levels)
    thick = 0.78 / len(groups)
    most = max(float(np.ma.max(abs(values))), 1e-300)
    for place in range(len(view.sweep.rows)):
        number = groups.index(group.at[place]) if group is not None else 0
        at = float(np.searchsorted(names.levels, names.at[place])) + (number - (len(groups) - 1) / 2) * thick
        if values[place] is np.ma.masked:
            _without(axes, view.sweep.rows[place].status, at)
        else:
            _bar(axes, at, float(values[place]), (number, thick))
            if _is_base(names, group, place):
                draw_base(axes, float(values[place]) / 2, at)
            if place == view.best:
                draw_best(axes, float(values[place]), at)
    axes.set_ylim(len(names.levels) - 0.5, -0.5)
    axes.set_yticks(range(len(names.levels)), [names.named_at(level) for level in names.levels], color=INK)
    low, high = float(min(values.min(), 0.0)), float(max(values.max(), 0.0))
    axes.set_xlim(1.25 * low, 1.25 * high if high > 0 else 0.05 * most)
    axes.set_title("\n".join(part for part in words_of(quantity) if part), size=BASE_SIZE)
    axes.grid(axis="x", color=FAINT, lw=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(axis="y", length=0)


def _is_base(names: Varied, group: Varied | None, place: int) -> bool:
    """Whether a point is the design itself."""
    here = names.at[place] == names.base
    return bool(here and (group is None or group.at[place] == group.base))


def _bar(axes: Axes, at: float, value: float, form: tuple[int, float]) -> None:
    number, thick = form
    axes.barh(at, value, 0.86 * thick, color=GROUPS[number], zorder=2, gid="bar")
    side = 1 if value >= 0 else -1
    axes.annotate(plain(value), (value, at), (11 * side, 0), textcoords="offset points", va="center_baseline",
                  ha="left" if side > 0 else "right", size=BASE_SIZE - 2)  # fmt: skip


def _without(axes: Axes, status: str, at: float) -> None:
    told = {"infeasible": "cannot be built", "failed": "× failed"}.get(status, "does not apply")
    axes.annotate(told, (0.0, at), (5, 0), textcoords="offset points", va="center_baseline", size=BASE_SIZE - 2,
                  color=FAILED if status == "failed" else QUIET, style="italic")  # fmt: skip
