"""Two numbers vary: filled contours of one quantity; a panel for each value of a third key."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.outputs.colours import FAINT, INK, QUIET
from fieldrun.outputs.style import in_house_style
from fieldrun.outputs.sweep_pictures.colour import ColourScale, colour_bar, colour_scale, range_note
from fieldrun.outputs.sweep_pictures.head import fixed_note, words_for
from fieldrun.outputs.sweep_pictures.marks import (
    NOT_BUILT,
    SCALE,
    absent_mark,
    base_mark,
    best_mark,
    draw_base,
    draw_best,
    draw_failed,
    failed_mark,
    not_built_mark,
)
from fieldrun.outputs.sweep_pictures.page import Sheet, new_sheet
from fieldrun.outputs.sweep_pictures.view import Mask, Varied, View
from fieldrun.outputs.sweep_words import named, words_of
from fieldrun.studies.sweep.best import spread

MOST_PANELS = 9
"""Values of a third key drawn at most, evenly over it."""

DOTS = 200
"""Points in a panel that are still marked one by one."""


@in_house_style
def contours_picture(view: View, across: Varied, up: Varied, by: Varied | None) -> Figure:
    """Draw the first quantity over two keys, with a panel for each value of `by`."""
    levels = _levels(by)
    columns = min(len(levels), 3)
    wide = {1: 7.2, 2: 4.2, 3: 3.3}[columns]
    sheet = Sheet(len(levels), columns, wide, 0.72 * wide, right=1.7, above=0.2 if by is None else 0.5)
    scale = colour_scale(view.values(view.drawn))
    notes = (range_note(scale, words_of(view.drawn)[1]), _thinned(by, len(levels)), fixed_note(view))
    words = words_for(view, *notes, quantity=view.drawn)
    figure, frames = new_sheet(sheet, words, list(_marks(view, base=_shows_base(across, up, by, levels))))
    for number, (axes, level) in enumerate(zip(frames, levels, strict=True)):
        points = np.ones(len(view.sweep.rows), bool) if by is None or level is None else by.at == level
        _draw(axes, view, (across, up), points, scale)
        _label(axes, across, up, first=number % columns == 0, last=number + columns >= len(levels))
        if by is not None and level is not None:
            axes.set_title(by.name_at(level) if by.names else named(by.key, level), size=13)
            _mark_base(axes, across, up, here=by.base is not None and by.base == level)
        else:
            _mark_base(axes, across, up, here=True)
    colour_bar(figure, sheet, scale, view.drawn, banded=True)
    return figure


def _levels(by: Varied | None) -> list[float | None]:
    if by is None:
        return [None]
    return [float(by.levels[place]) for place in spread(len(by.levels), MOST_PANELS)]


def _thinned(by: Varied | None, shown: int) -> str:
    if by is None or shown == len(by.levels):
        return ""
    return f"{shown} of {len(by.levels)} values of {words_of(by.key)[0]} are drawn; all are in results.csv."


def _marks(view: View, *, base: bool) -> Iterator[Artist]:
    if view.best is not None:
        yield best_mark()
    if base:
        yield base_mark()
    if view.status("infeasible").any():
        yield not_built_mark()
    if view.status("failed").any():
        yield failed_mark()
    if _unanswered(view).any():
        yield absent_mark()


def _unanswered(view: View) -> Mask:
    """Points that could be built and have no value."""
    absent: Mask = np.ma.getmaskarray(view.values(view.drawn)) & ~view.status("infeasible")
    return absent


def _shows_base(across: Varied, up: Varied, by: Varied | None, levels: Sequence[float | None]) -> bool:
    return across.holds_base and up.holds_base and (by is None or by.base in levels)


def _draw(axes: Axes, view: View, keys: tuple[Varied, Varied], points: Mask, scale: ColourScale) -> None:
    values = view.values(view.drawn)
    x, y = (one.levels for one in keys)
    field = _laid_out(keys, points, np.where(np.ma.getmaskarray(values), np.nan, values.data))
    shut = _laid_out(keys, points, view.status("infeasible").astype(float))
    axes.set_facecolor(FAINT)
    if shut.any():
        hatched = {"colors": NOT_BUILT, "hatches": ["////"], "zorder": 1}
        axes.contourf(x, y, shut, levels=[1e-9, 2.0], **hatched).set(edgecolor=QUIET, linewidth=0.0, gid="not-built")
    drawn = np.ma.masked_invalid(field)
    whole = _whole_cells(~np.ma.getmaskarray(drawn))
    if whole.any() and scale.most > scale.least:
        shown: dict[str, Any] = {"levels": scale.steps, "norm": scale.norm}
        axes.contourf(x, y, drawn, cmap=SCALE, zorder=2, **shown).set_gid("quantity")
        axes.contour(x, y, drawn, colors=INK, linewidths=0.5, alpha=0.35, zorder=3, **shown)
    _dots(
        axes,
        keys,
        points & ~np.ma.getmaskarray(values),
        values,
        scale,
        every=not whole.any() or scale.most == scale.least,
    )
    failed = points & view.status("failed")
    draw_failed(axes, keys[0].at[failed], keys[1].at[failed])
    best = view.best
    if best is not None and points[best]:
        draw_best(axes, keys[0].at[best], keys[1].at[best])
    axes.set(xlim=(x[0], x[-1]), ylim=(y[0], y[-1]))


def _laid_out(keys: tuple[Varied, Varied], points: Mask, column: Any) -> Any:
    """A column as a table: (values of the second key, values of the first)."""
    across, up = (np.searchsorted(one.levels, one.at[points]) for one in keys)
    out = np.full((len(keys[1].levels), len(keys[0].levels)), np.nan)
    out[up, across] = column[points]
    return out


def _whole_cells(known: Mask) -> Mask:
    """Cells of the table that contours fill, wholly or by half: three corners known at least."""
    corners = known.astype(int)
    whole: Mask = corners[1:, 1:] + corners[:-1, 1:] + corners[1:, :-1] + corners[:-1, :-1] >= 3
    return whole


def _dots(
    axes: Axes, keys: tuple[Varied, Varied], points: Mask, values: Any, scale: ColourScale, *, every: bool
) -> None:
    """Small dots where a coarse grid was answered; large ones in colour where no contour can reach a point."""
    known = _laid_out(keys, points, np.ones(len(points))) == 1.0
    whole = np.pad(_whole_cells(known), 1)
    reached = whole[1:, 1:] | whole[:-1, 1:] | whole[1:, :-1] | whole[:-1, :-1]
    place = tuple(np.searchsorted(one.levels, one.at) for one in reversed(keys))
    alone = points & (every | ~reached[place])
    if alone.any():
        axes.scatter(keys[0].at[alone], keys[1].at[alone], c=values[alone], cmap=SCALE, norm=scale.norm, s=46,
                     edgecolors=INK, linewidths=0.6, zorder=4, gid="alone")  # fmt: skip
    if points.sum() <= DOTS:
        axes.plot(keys[0].at[points], keys[1].at[points], ls="none", marker=".", ms=2.5, color=INK, alpha=0.5, zorder=4)


def _mark_base(axes: Axes, across: Varied, up: Varied, *, here: bool) -> None:
    if here and across.base is not None and up.base is not None and across.holds_base and up.holds_base:
        draw_base(axes, across.base, up.base)


def _label(axes: Axes, across: Varied, up: Varied, *, first: bool, last: bool) -> None:
    if last:
        axes.set_xlabel(across.label)
    if first:
        axes.set_ylabel(up.label)
