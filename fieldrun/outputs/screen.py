"""A run on the screen: sentences first, then the table, and the details a curious user asked for."""

from typing import Any

from rich.console import Console
from rich.table import Table

from fieldrun.generator.result import RunResult
from fieldrun.outputs.summary import CAUTION, changes, sentences, table_rows

NARROW, WIDE = 80, 110
"""Columns to assume where the terminal does not tell, and the most that a table takes."""


def show_run(result: RunResult, content: dict[str, Any], earlier: dict[str, Any] | None, detail: int) -> None:
    """Print a run to standard output.

    Parameters
    ----------
    result : the answer
    content : the same as the result file's content
    earlier : the result that lay in the folder before, if any
    detail : -1 sentences only, 0 the table too, 1 harmonics too
    """
    console = Console(highlight=False)
    console.width = min(WIDE, console.width) if console.is_terminal else WIDE
    console.print(f"[bold]{_safe(result.design.title)}[/bold]")
    for sentence in sentences(result):
        console.print(_safe(sentence))
    changed = changes(earlier, content) if earlier else ""
    if changed:
        console.print(f"Since the last run: {_safe(changed)}.")
    if detail < 0:
        return
    console.print()
    console.print(_table(table_rows(result, content["field"])))
    if detail > 0:
        console.print(_harmonics(content))
    console.print(CAUTION)


def _safe(text: str) -> str:
    """Square brackets of a title are text, not markup."""
    return text.replace("[", "\\[")


def _table(rows: list[tuple[str, str, str]]) -> Table:
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for label, value, remark in rows:
        table.add_row(_safe(label), _safe(value), _safe(remark))
    return table


def _harmonics(content: dict[str, Any]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("harmonic", "field, T", "EMF, V s/rad"):
        table.add_column(heading, justify="right")
    emf = content["emf"]["harmonics_v_s_per_rad"]
    for order, field in content["field"]["harmonics_t"].items():
        table.add_row(order, f"{field:.5f}", f"{emf[order]:.6f}")
    return table
