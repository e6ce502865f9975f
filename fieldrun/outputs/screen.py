"""A run on the screen: sentences first, then the table, and the details a curious user asked for."""

import os
import sys
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from typing import Any

from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from fieldrun.generator.result import RunResult
from fieldrun.outputs.changes_told import CAPTION as ONE_AT_A_TIME
from fieldrun.outputs.changes_told import advice_lines, changes_table
from fieldrun.outputs.load_told import load_caption, load_table
from fieldrun.outputs.meter_sheet import meter_caption, meter_table
from fieldrun.outputs.summary import cautions, changes, sentences, table_rows
from fieldrun.outputs.tolerance_told import CAPTION, band_rows, band_sentence
from fieldrun.studies.changes.study import Changes
from fieldrun.studies.tolerance import ToleranceBand

WIDE = 110
"""Columns where the terminal does not tell, and the most that a table takes."""

WORDS = ("change", "in the design file", "takes")
"""Columns of the table of changes that hold words."""


def show_run(
    result: RunResult,
    content: dict[str, Any],
    earlier: dict[str, Any] | None,
    detail: int,
    band: ToleranceBand | None = None,
    *,
    advice: Changes | None = None,
) -> None:
    """Print a run to standard output.

    Parameters
    ----------
    result : the answer
    content : the same as the result file's content
    earlier : the result of the same design that lay in the folder before, if any
    detail : -1 sentences only, 0 the table too, 1 harmonics too
    band : what machines built to the tolerances give, if that was asked
    advice : what single changes do, if they were tried
    """
    parts: list[RenderableType] = [Text(safe(result.design.title), "bold"), *map(told, sentences(result))]
    changed = changes(earlier, content) if earlier else ""
    if changed:
        parts.append(told(f"Since the last run: {changed}."))
    if advice is not None:
        parts += map(told, advice_lines(advice))
    if detail >= 0:
        parts += ["", _table(table_rows(result, content["field"])), *_load(result), *_meter(result)]
    if detail > 0:
        parts += ["", _harmonics(content)]
    if advice is not None and detail >= 0:
        parts += ["", headed_table(*changes_table(advice), words=WORDS), told(ONE_AT_A_TIME)]
    if band is not None:
        parts += ["", told(band_sentence(band, result.design))]
        parts += [told(CAPTION), _table(band_rows(band))] if detail >= 0 else []
    if detail >= 0:
        parts += [item for text in cautions(result) for item in ("", told(text))]
    print_parts(parts)


def print_parts(parts: list[RenderableType]) -> None:
    """Write to standard output, without the blanks that fill up a table's lines."""
    console = Console(highlight=False, color_system=None if os.environ.get("NO_COLOR") else "auto")
    console.width = min(WIDE, console.width) if console.is_terminal else WIDE
    with console.capture() as captured:
        for part in parts:
            console.print(part)
    sys.stdout.write("".join(line.rstrip() + "\n" for line in captured.get().splitlines()))
    sys.stdout.flush()


def safe(text: str) -> str:
    """A title is text: no character in it may steer the terminal."""
    return "".join(" " if unicodedata.category(letter) in {"Cc", "Cf", "Zl", "Zp"} else letter for letter in text)


def told(text: str) -> Text:
    """Text for `print_parts`, taken as it is: no markup in it, nothing that steers the terminal."""
    return Text(safe(text))


def _table(rows: list[tuple[str, str, str]]) -> Table:
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for row in rows:
        table.add_row(*map(told, row))
    return table


def headed_table(headings: Sequence[str], rows: Iterable[Sequence[str]], *, words: Collection[str] = ()) -> Table:
    """A table under headings: columns of `words` to the left and broken if long, all others to the right and whole."""
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in headings:
        table.add_column(heading, justify="left" if heading in words else "right", no_wrap=heading not in words)
    for row in rows:
        table.add_row(*map(told, row))
    return table


def _load(result: RunResult) -> list[RenderableType]:
    """The load by speed, if there is one."""
    table, caption = load_table(result), load_caption(result)
    return [] if table is None else ["", headed_table(*table), *([told(caption)] if caption else [])]


def _meter(result: RunResult) -> list[RenderableType]:
    """What to read on the bench."""
    headings, rows = meter_table(result)
    return ["", headed_table(headings, rows, words={headings[0]}), told(meter_caption(result))]


def _harmonics(content: dict[str, Any]) -> Table:
    emf = content["emf"]["harmonics_v_s_per_rad"]
    rows = [(order, f"{field:.5f}", f"{emf[order]:.6f}") for order, field in content["field"]["harmonics_t"].items()]
    return headed_table(("harmonic", "field, T", "EMF, V s/rad"), rows)
