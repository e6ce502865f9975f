"""`results.csv` and `sweep.json`: every point of a sweep, for spreadsheets and for programs."""

import csv
import io
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.errors import FieldrunError
from fieldrun.outputs.file_names import SWEEP_FILE, SWEEP_TABLE
from fieldrun.outputs.folder import comment_lines
from fieldrun.studies.sweep.record import Row, Sweep
from fieldrun.studies.sweep.task import Status

STATUSES: tuple[Status, ...] = ("ok", "infeasible", "failed")

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""


def columns_of(sweep: Sweep) -> tuple[str, ...]:
    """Columns of both files; the keys carry their units."""
    return ("index", *sweep.keys, *sweep.picks, "status", "reason")


def csv_text(sweep: Sweep) -> str:
    """The table, with version, design, mesh and plan in comments at its top; what does not apply is empty."""
    out = io.StringIO()
    facts = facts_of(sweep) | {"plan": json.dumps(sweep.plan.facts, ensure_ascii=False)}
    kept = {"kept": json.dumps(sweep.kept)} if sweep.kept else {}
    out.writelines(comment_lines(facts | kept))
    table = csv.writer(out, lineterminator="\n")
    table.writerow(columns_of(sweep))
    table.writerows([shown_cell(cell) for cell in row_cells(row)] for row in sweep.rows)
    return out.getvalue()


def shown_cell(cell: Any) -> str:
    """A cell of a table; what does not apply is empty."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return f"{cell:.12g}" if isinstance(cell, float) else str(cell)


def row_cells(row: Row) -> list[Any]:
    """One point, in the order of `columns_of`."""
    return [row.index, *row.values, *row.picked, row.status, row.reason]


def facts_of(sweep: Sweep) -> dict[str, str]:
    """What every file of a sweep says of itself."""
    return {"fieldrun": __version__, "design": sweep.name, "design_hash": sweep.design_hash, **sweep.facts}


def sweep_text(sweep: Sweep, more: Mapping[str, Any] | None = None) -> str:
    """The JSON file: one object, one line for each point; `more` stands between head and rows.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    content = {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": sweep.name,
        "design": json.loads(sweep.design.written),
        "design_hash": sweep.design_hash,
        **sweep.facts,
        "plan": sweep.plan.facts,
        "kept": sweep.kept,
        "counts": {"points": len(sweep.rows)} | {status: len(sweep.of_status(status)) for status in STATUSES},
        **(more or {}),
        "columns": columns_of(sweep),
    }
    head = json.dumps(content, indent=1, allow_nan=False, ensure_ascii=False).removesuffix("\n}")
    rows = ",\n".join("  " + json.dumps(row_cells(row), allow_nan=False, ensure_ascii=False) for row in sweep.rows)
    return f'{head},\n "rows": [\n{rows}\n ]\n}}\n'


def write_sweep(sweep: Sweep, folder: Path, more: Mapping[str, Any] | None = None) -> None:
    """Write both files into a folder, each whole or not at all; the journal beside them stays where it is.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    for name, text in ((SWEEP_FILE, sweep_text(sweep, more)), (SWEEP_TABLE, csv_text(sweep))):
        replace_text(folder / name, text)


def replace_text(path: Path, text: str) -> None:
    """Write UTF-8 beside a file and put it in its place by a rename: no moment without one, none with half of one.

    Raises
    ------
    FieldrunError
        If the file cannot be written.
    """
    part = path.with_name(path.name + ".part")
    try:
        with part.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise FieldrunError(f"cannot write {path}: {error.strerror or error}") from error
