"""A sweep in the builder's words: what was asked, how far each pick reaches, and what could not be answered."""

from collections import Counter
from collections.abc import Iterator, Sequence

import click
import numpy as np

from fieldrun.outputs.screen import print_parts
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.sweep_best_told import best_lines, best_parts
from fieldrun.outputs.sweep_words import short
from fieldrun.studies.sweep.choice import Choice
from fieldrun.studies.sweep.record import Row, Sweep
from fieldrun.studies.sweep.values import Value

SHOWN_REASONS = 5
"""Reasons shown at most, the most frequent first; all are in the table."""


def show_sweep(sweep: Sweep, detail: int = 0, choice: Choice | None = None) -> None:
    """Print title, sentences, what is best and, unless `detail` is below 0, the best few, reaches, what is missing."""
    lines = [sweep.design.title, counted(sweep), *(best_lines(sweep, choice) if choice else [])]
    click.echo("\n".join(lines))
    if detail >= 0:
        print_parts(best_parts(sweep, choice) if choice else [])
        told = list(reaches(sweep))
        click.echo("\n".join([*([""] if told else []), *told, *left_out(sweep)]))


def counted(sweep: Sweep) -> str:
    """How many points there are, and what became of them, in one sentence."""
    answered, infeasible, failed = (len(sweep.of_status(s)) for s in ("ok", "infeasible", "failed"))
    parts = [f"{answered:,} answered"]
    parts += [f"{infeasible:,} cannot be built"] if infeasible else []
    parts += [f"{failed:,} failed"] if failed else []
    return f"{_points(len(sweep.rows))} over {', '.join(sweep.keys)}: {', '.join(parts)}."


def _points(count: int) -> str:
    return "1 point" if count == 1 else f"{count:,} points"


def reaches(sweep: Sweep) -> Iterator[str]:
    """Least and most of every pick that is a number, each with where it is; and which picks no point has."""
    width = max((len(key) for key in sweep.picks), default=0)
    for key in sweep.picks:
        if sweep.is_numeric(key):
            yield f"{key:{width}}  {_reach(sweep, key)}"
        elif sweep.of_status("ok") and all(cell is None for cell in sweep.cells(key)):
            yield f"{key:{width}}  at no point: none of these machines has it"


def _reach(sweep: Sweep, key: str) -> str:
    column = sweep.column(key)
    low, high = int(np.ma.argmin(column)), int(np.ma.argmax(column))
    if column[low] == column[high]:
        having, answered = int(column.count()), len(sweep.of_status("ok"))
        # steel that only some of the points have
        where = "everywhere" if having == answered else f"wherever it is found: {having:,} of {answered:,} points"
        return f"{plain(float(column[low]))} {where}"
    return " to ".join(f"{plain(float(column[at]))} ({_where(sweep, sweep.rows[at])})" for at in (low, high))


def _where(sweep: Sweep, row: Row) -> str:
    pairs = zip(sweep.keys, row.values, strict=True)
    return ", ".join(f"{key.partition('.')[2]} {_value(value)}" for key, value in pairs)


def _value(cell: Value | None) -> str:
    return "as it stands" if cell is None else short(cell)


def left_out(sweep: Sweep) -> Iterator[str]:
    """Why points have no answer: each reason once, with how many share it and where the first one is."""
    rows: Sequence[Row] = [row for row in sweep.rows if row.status != "ok"]
    counts = Counter(_blamed(row) for row in rows)
    if counts:
        yield ""
    for (status, key), count in counts.most_common(SHOWN_REASONS):
        first = next(row for row in rows if _blamed(row) == (status, key))
        yield f"{status}, {_points(count)}, first at index {first.index}: {first.reason}"
    if len(counts) > SHOWN_REASONS:
        yield f"and {len(counts) - SHOWN_REASONS} more reasons; the column reason has them all"


def _blamed(row: Row) -> tuple[str, str]:
    """Status and what its reason starts with: sizes differ from point to point, the key does not."""
    return row.status, row.reason.partition(":")[0]
