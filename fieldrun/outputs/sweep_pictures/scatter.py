"""Scattered points: over two numbers in colour; over many keys the first quantity against each of them."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fieldrun.outputs.colours import FAINT, INK, QUIET
from fieldrun.outputs.style import in_house_style
from fieldrun.outputs.sweep_pictures.colour import colour_bar, colour_scale, range_note
from fieldrun.outputs.sweep_pictures.head import fixed_note, words_for
from fieldrun.outputs.sweep_pictures.marks import (
    FAILED,
    GROUPS,
    SCALE,
    base_mark,
    best_mark,
    dot_size,
    draw_base,
    draw_base_line,
    draw_best,
    draw_failed,
    failed_mark,
)
from fieldrun.outputs.sweep_pictures.page import Sheet, fitted, new_sheet, whole_ticks
from fieldrun.outputs.sweep_pictures.view import Varied, View
from fieldrun.outputs.sweep_words import axis_label, words_of

MOST_KEYS = 12
"""Keys drawn at most."""

VECTORS = 1000
"""More points than this become pixels in the SVG: it stays small."""

MOST_NAMES = 16
"""Names of a key written out at most."""


@in_house_style
def scatter_picture(view: View, across: Varied, up: Varied) -> Figure:
    """Draw each point where its two keys put it, in the colour of the first quantity."""
    sheet = Sheet(1, 1, 6.6, 5.0, right=1.7, above=0.2)
    values = view.values(view.drawn)
    scale = colour_scale(values)
    words = words_for(view, range_note(scale, words_of(view.drawn)[1]), fixed_note(view), quantity=view.drawn)
    inside = across.holds_base and up.holds_base
    figure, (axes,) = new_sheet(sheet, words, list(_marks(view, base=[base_mark()] if inside else [])))
    known = ~np.ma.getmaskarray(values)
    shut = view.status("infeasible")
    axes.plot(across.at[shut], up.at[shut], **_RING, rasterized=shut.sum() > VECTORS, gid="not-built")
    axes.scatter(across.at[known], up.at[known], c=values[known].data, cmap=SCALE, norm=scale.norm, s=_size(known),
                 edgecolors=INK, linewidths=0.4, zorder=3, gid="quantity",
                 rasterized=known.sum() > VECTORS)  # fmt: skip
    failed = view.status("failed")
    draw_failed(axes, across.at[failed], up.at[failed])
    if across.base is not None and up.base is not None and inside:
        draw_base(axes, across.base, up.base)
    if view.best is not None:
        draw_best(axes, across.at[view.best], up.at[view.best])
    axes.set(xlabel=across.label, ylabel=up.label)
    axes.grid(color=FAINT, lw=0.6)
    axes.set_axisbelow(True)
    colour_bar(figure, sheet, scale, view.drawn, banded=False)
    return figure


_RING: dict[str, Any] = {"marker": "o", "ls": "none", "mfc": "none", "mec": QUIET, "ms": 4, "alpha": 0.6, "zorder": 2}


def _size(known: Any) -> float:
    return float(np.clip(12_000 / max(known.sum(), 1), 8, 60))


def _marks(view: View, base: Sequence[Artist], *more: Artist) -> Iterator[Artist]:
    yield from more
    if view.best is not None:
        yield best_mark()
    yield from base
    if view.status("infeasible").any():
        yield Line2D([], [], label="cannot be built", **_RING)
    if view.status("failed").any():
        yield failed_mark()


@in_house_style
def matrix_picture(view: View) -> Figure:
    """Draw the first quantity of all points against each key, with the best that each value of a grid allows."""
    shown = view.varied[:MOST_KEYS]
    columns = min(len(shown), 3)
    wide = 7.0 if columns == 1 else 3.6
    named = max((len(name) for one in shown for name in one.names), default=0)
    leaning = any(_leans(one, wide) for one in shown)
    sheet = Sheet(len(shown), columns, wide, 2.9, left=1.1, below=0.66 + (0.075 * min(named, 20) if leaning else 0.0))
    left = len(view.varied) - len(shown)
    lines = list(_reach_marks(view))
    notes = (
        f"{left} more keys vary; they are in results.csv." if left > 0 else "",
        "Every dot is a point, whatever the other keys are there.",
        fixed_note(view),
    )
    base = [base_mark(line=True)] if any(one.holds_base for one in shown) else []
    words = words_for(view, *notes, quantity=view.drawn)
    figure, frames = new_sheet(sheet, words, list(_marks(view, base, *lines)))
    for number, (axes, one) in enumerate(zip(frames, shown, strict=True)):
        _against(axes, view, one)
        _name(axes, one, leaning=_leans(one, wide))
        axes.set_ylabel("" if number % columns else fitted(axis_label(view.drawn), sheet.tall))
    return figure


def _reach_marks(view: View) -> Iterator[Artist]:
    if view.is_grid:
        told = {True: "most at each value", False: "least at each value", None: "most and least at each value"}
        yield Line2D([], [], color=GROUPS[0], lw=2.2, label=told[view.largest])


def _against(axes: Axes, view: View, one: Varied) -> None:
    values = view.values(view.drawn)
    known = ~np.ma.getmaskarray(values) & ~np.isnan(one.at)
    across = one.at + (_jitter(len(one.at)) if one.names else 0.0)
    axes.plot(across[known], values[known].data, ls="none", marker=".", ms=dot_size(known.sum()), mew=0,
              color=GROUPS[5], alpha=0.6, zorder=2, rasterized=known.sum() > VECTORS, gid="points")  # fmt: skip
    if view.is_grid:
        for most in (True, False) if view.largest is None else (view.largest,):
            axes.plot(*_reach(one, known, values, largest=most), color=GROUPS[0], lw=2.2, marker="o", ms=4,
                      ls="none" if one.names else "solid", zorder=3, gid="reach")  # fmt: skip
    _rug(axes, view, across)
    if one.base is not None and one.holds_base:
        draw_base_line(axes, one.base)
    if view.best is not None:
        draw_best(axes, one.at[view.best], float(values[view.best]))
    axes.margins(y=0.1)
    if not one.names:
        whole_ticks(axes, one.levels)
    axes.set_xlabel(one.label)
    axes.grid(color=FAINT, lw=0.6)
    axes.set_axisbelow(True)


def _jitter(count: int) -> Any:
    """Sideways steps that keep points of one name apart, the same every time: a golden section's remainders."""
    return 0.5 * ((np.arange(count) * 0.6180339887498949) % 1.0 - 0.5)


def _reach(one: Varied, known: Any, values: Any, *, largest: bool) -> tuple[Any, Any]:
    """Best value that a quantity has at each level of a key."""
    levels = np.unique(one.at[known])
    best = np.full(len(levels), -np.inf if largest else np.inf)
    (np.maximum if largest else np.minimum).at(best, np.searchsorted(levels, one.at[known]), values[known].data)
    return levels, best


def _rug(axes: Axes, view: View, across: Any) -> None:
    """Along the lower edge, points that have no value: those that cannot be built, and those that failed."""
    shut, failed = view.status("infeasible"), view.status("failed")
    low = axes.get_xaxis_transform()
    axes.plot(across[shut], np.full(shut.sum(), 0.025), transform=low, **_RING,
              rasterized=shut.sum() > VECTORS, gid="not-built")  # fmt: skip
    axes.plot(across[failed], np.full(failed.sum(), 0.07), transform=low, ls="none", marker="x", color=FAILED, mew=1.8,
              ms=7, zorder=6, rasterized=failed.sum() > VECTORS, gid="failed")  # fmt: skip


_LEANING: dict[str, Any] = {"rotation": 35, "ha": "right", "rotation_mode": "anchor"}


def _leans(one: Varied, wide: float) -> bool:
    """Whether names are too long to stand beside each other."""
    return sum(len(name) + 2 for name in one.names) > 9 * wide


def _name(axes: Axes, one: Varied, *, leaning: bool) -> None:
    if not one.names:
        return
    shown = one.names[:MOST_NAMES]
    axes.set_xticks(range(len(shown)), [name[:20] for name in shown], **(_LEANING if leaning else {}))
    axes.set_xlim(-0.6, len(one.names) - 0.4)
