"""The sheet that all pictures of a sweep share: panels in rows, a head that says what is best, a legend."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats
from fieldrun.outputs.colours import INK, QUIET
from fieldrun.outputs.style import BASE_SIZE, new_figure

LETTERS_PER_IN = 10.4
"""Of ordinary text: where lines are broken."""

MOST_TICKS = 6
"""Whole numbers written out along an axis at most."""

HEAD_IN, LINE_IN, NOTE_IN, FOOT_IN, LEGEND_IN = 0.62, 0.26, 0.222, 0.2, 0.38


@dataclass(frozen=True)
class Sheet:
    """Sizes of a figure [in].

    Parameters
    ----------
    panels, columns : how many there are, and how many stand beside each other
    wide, tall : of a panel's frame
    left, below : room for its numbers and labels
    right : room at the right end of each row, for a colour bar
    above : room for a panel's title
    """

    panels: int
    columns: int
    wide: float
    tall: float
    left: float = 0.95
    below: float = 0.66
    right: float = 0.3
    above: float = 0.45

    @property
    def width_in(self) -> float:
        """Of the whole figure."""
        return max(self.columns * (self.left + self.wide) + self.right, 7.5)

    @property
    def rows(self) -> int:
        """Rows of panels."""
        return -(-self.panels // self.columns)

    @property
    def panels_in(self) -> float:
        """Height of all rows."""
        return self.rows * (self.above + self.tall + self.below)


@dataclass(frozen=True)
class Words:
    """What stands around the panels.

    Parameters
    ----------
    title : of the figure
    said : sentences under it
    notes : small print at the foot
    """

    title: str
    said: Sequence[str]
    notes: Sequence[str] = ()


def new_sheet(sheet: Sheet, words: Words, marks: Sequence[Artist]) -> tuple[Figure, list[Axes]]:
    """Start a figure with empty panels, in reading order, and everything around them.

    Parameters
    ----------
    sheet : its sizes
    words : head and foot
    marks : one for each sign that is drawn, with its label: the legend
    """
    title, said = _broken([words.title], sheet.width_in, 1.62), _broken(words.said, sheet.width_in)
    notes = _broken(words.notes, sheet.width_in, 0.85)
    head = HEAD_IN + 0.38 * (len(title) - 1) + LINE_IN * len(said)
    rows = -(-sum(len(str(mark.get_label())) + 8 for mark in marks) // int(11 * sheet.width_in))
    legend = LEGEND_IN * rows
    height = head + sheet.panels_in + FOOT_IN + legend + NOTE_IN * len(notes)
    figure = new_figure(sheet.width_in, height, " ".join([words.title + ".", *words.said, *words.notes]))
    _write_head(figure, title, said, height)
    foot: dict[str, Any] = {"color": QUIET, "size": BASE_SIZE - 2, "va": "bottom", "linespacing": 1.4}
    figure.text(0.2 / sheet.width_in, 0.12 / height, "\n".join(notes), **foot)
    if marks:
        _legend(figure, marks, rows, (0.08 / sheet.width_in, (0.06 + NOTE_IN * len(notes)) / height))
    return figure, [_panel(figure, sheet, number, head, height) for number in range(sheet.panels)]


def _write_head(figure: Figure, title: Sequence[str], said: Sequence[str], height: float) -> None:
    width = figure.get_size_inches()[0]
    figure.text(0.2 / width, 1 - 0.15 / height, "\n".join(title), size=BASE_SIZE + 5, weight="bold", va="top")
    top = 1 - (0.55 + 0.38 * (len(title) - 1)) / height
    figure.text(0.2 / width, top, "\n".join(said), color=QUIET, va="top", linespacing=1.35)


def _legend(figure: Figure, marks: Sequence[Artist], rows: int, corner: tuple[float, float]) -> None:
    columns = -(-len(marks) // max(rows, 1))
    figure.legend(
        handles=list(marks), loc="lower left", bbox_to_anchor=corner, ncols=columns, frameon=False, borderaxespad=0.0,
        fontsize=BASE_SIZE - 1, handletextpad=0.6, columnspacing=1.6, labelcolor=INK,
    )  # fmt: skip


def _panel(figure: Figure, sheet: Sheet, number: int, head: float, height: float) -> Axes:
    row, column = divmod(number, sheet.columns)
    left = column * (sheet.left + sheet.wide) + sheet.left
    bottom = height - head - row * (sheet.above + sheet.tall + sheet.below) - sheet.above - sheet.tall
    width = sheet.width_in
    return figure.add_axes((left / width, bottom / height, sheet.wide / width, sheet.tall / height))


def fitted(label: str, length_in: float) -> str:
    """A label in as many lines as an axis of that length needs."""
    letters = int(LETTERS_PER_IN * length_in)
    words, comma, unit = label.rpartition(", ")
    parts = [label] if len(label) <= letters or len(words) >= letters or not comma else [f"{words},", unit]
    return "\n".join(line for part in parts for line in textwrap.wrap(part, letters))


def whole_ticks(axes: Axes, levels: Floats) -> None:
    """Nobody lays half a sheet: few whole numbers, levels (k,) in the axis' unit, are written one by one."""
    if len(levels) <= MOST_TICKS and bool(np.all(levels == np.round(levels))):
        axes.set_xticks(levels)


def _broken(lines: Sequence[str], width_in: float, larger: float = 1.0) -> list[str]:
    letters = int((width_in - 0.4) * LETTERS_PER_IN / larger)
    return [part for line in lines for part in textwrap.wrap(line, letters)]
