"""The best points of a sweep in words and in a short table."""

import textwrap
from collections.abc import Sequence

from rich.console import RenderableType

from fieldrun.outputs.screen import WIDE, headed_table, told
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.sweep_words import axis_label, named, short, words_of
from fieldrun.studies.sweep.best import spread
from fieldrun.studies.sweep.choice import FEW, Best, Choice
from fieldrun.studies.sweep.picks import Picked
from fieldrun.studies.sweep.record import Row, Sweep

NUMBER = "#"

HEADING = 16
"""Letters of a heading's line."""


def best_sentence(sweep: Sweep, best: Best) -> str:
    """Name the best point: `Best of 900: gap 7.5 mm, magnet thickness 8 mm: 34.1 V per 1000 rpm (most ...)`."""
    equals = f", and so at {best.equals - 1:,} more" if best.equals > 1 else ""
    where = point_told(sweep, sweep.rows[best.index])
    words, unit = words_of(best.goal.key)
    which = "most" if best.goal.largest else "least"
    return f"Best of {best.among:,}: {where}: {plain(best.value, unit)} ({which} {words}){equals}."


def moving(sweep: Sweep) -> list[str]:
    """Keys that take more than one value; all of them if none does."""
    return [key for key in sweep.keys if len(set(sweep.cells(key))) > 1] or list(sweep.keys)


def point_told(sweep: Sweep, row: Row) -> str:
    """Keys and values of a point; what a table leaves to the design, and what no point changes, is left out."""
    keys = moving(sweep)
    pairs = [(k, value) for k, value in zip(sweep.keys, row.values, strict=True) if value is not None and k in keys]
    return ", ".join(named(key, value) for key, value in pairs) or "the design as it stands"


def best_lines(sweep: Sweep, choice: Choice) -> list[str]:
    """A sentence for each goal, or why there is none, and for two goals how many points none betters."""
    found = {best.goal.key: best_sentence(sweep, best) for best in choice.best}
    lines = [found.get(goal.key, f"No best {goal.key}: no point has one.") for goal in choice.goals]
    if choice.pareto:
        lines.append(_front_told(choice))
    return lines


def _front_told(choice: Choice) -> str:
    one, two = (words_of(goal.key)[0] for goal in choice.goals)
    count = len(choice.pareto)
    if count == 1:
        return f"One point is the best in both {one} and {two}."
    return f"{count:,} points are not bettered by any other in both {one} and {two}: choose among them."


def listed_points(choice: Choice) -> tuple[int, ...]:
    """Points in the table: of two goals the front, thinned out evenly if it is long, else the best few."""
    if choice.pareto:
        return tuple(choice.pareto[place] for place in spread(len(choice.pareto), FEW))
    return choice.few


def best_parts(sweep: Sweep, choice: Choice) -> list[RenderableType]:
    """The table, with a line above that says what it lists; nothing where nothing is best."""
    places = listed_points(choice)
    if not places:
        return []
    headings, rows = best_table(sweep, choice)
    words = {head for head, key in zip(headings[1:], moving(sweep), strict=False) if not sweep.is_numeric(key)}
    return ["", told(_caption(choice, len(places))), headed_table(headings, rows, words=words)]


def _caption(choice: Choice, shown: int) -> str:
    if not choice.pareto:
        return "The best:" if shown == 1 else f"The best {shown}:"
    of = f", {shown} of {len(choice.pareto):,} shown" if shown < len(choice.pareto) else ""
    return f"Not bettered in both{of}:"


def best_table(sweep: Sweep, choice: Choice) -> tuple[list[str], list[list[str]]]:
    """Headings and rows: number, what varies, goals, then as many other picks that change as the screen takes."""
    goals = [goal.key for goal in choice.goals]
    places = listed_points(choice)
    others = [key for key in sweep.picks if key not in goals and len(set(sweep.cells(key)) - {None}) > 1]
    keys = moving(sweep)
    columns = [*keys, *goals, *others]
    cells = [[str(n), *(_cell(sweep, key, place) for key in columns)] for n, place in enumerate(places, start=1)]
    headings = [NUMBER, *("\n".join(textwrap.wrap(axis_label(key), HEADING)) for key in columns)]
    kept = _fitting(headings, cells, 1 + len(keys) + len(goals))
    return headings[:kept], [row[:kept] for row in cells]


def _fitting(headings: Sequence[str], rows: Sequence[Sequence[str]], least: int) -> int:
    """How many columns the screen takes, but never fewer than `least`."""
    lines = [[line for row in (headings, *rows) for line in row[n].split("\n")] for n in range(len(headings))]
    widths = [max(map(len, column)) + 2 for column in lines]
    fitting = [n for n in range(1, len(widths) + 1) if sum(widths[:n]) <= WIDE]
    return max([least, *fitting])


def _cell(sweep: Sweep, key: str, place: int) -> str:
    row = sweep.rows[place]
    if key in sweep.keys:
        return _told(row.values[sweep.keys.index(key)], "as it stands")
    cell = row.picked[sweep.picks.index(key)]
    return plain(float(cell)) if isinstance(cell, int | float) and not isinstance(cell, bool) else _told(cell, "-")


def _told(cell: Picked, none: str) -> str:
    return none if cell is None else short(cell)
