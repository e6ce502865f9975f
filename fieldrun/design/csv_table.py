"""Tables of the user's as CSV: named columns, one row a line, every fault with its line."""

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.nearest import nearest
from fieldrun.design.text_file import LARGEST_BYTES, read_text_file

Cells = dict[str, str]
Reader = Callable[[str], Any]


@dataclass(frozen=True)
class Row:
    """One line of a table: its number in the file, and its cells by column."""

    line: int
    cells: Cells


def read_table(
    path: Path,
    needed: tuple[str, ...],
    optional: tuple[str, ...] = (),
    largest_bytes: int = LARGEST_BYTES,
    may_end_before: tuple[str, ...] = (),
) -> tuple[list[Row], list[Fault]]:
    """Read a CSV file with a header; empty lines and lines that start with # are skipped.

    Columns may stand in any order.

    Parameters
    ----------
    path : the file, only ever read
    needed, optional : names of its columns
    largest_bytes : a larger file is another one by mistake
    may_end_before : columns that are empty in a row which lacks its last cells; other rows must have all

    Returns
    -------
    Rows with as many cells as columns, and a fault for every line that has another number, or for the header.
    """
    try:
        text = read_text_file(path, largest_bytes)
    except DesignError as error:
        return [], list(error.faults)
    lines = list(_data_lines(text))
    if not lines:
        return [], [Fault("", f"holds no line of data; the first must be {','.join(needed)}", str(path))]
    (first, header), body = lines[0], lines[1:]
    columns = _split(header)
    faults = _header_faults(columns, needed, optional)
    if not faults and not body:
        faults = ["holds nothing but its header"]
    if faults:
        return [], [Fault("", text, str(path), first) for text in faults]
    split = [(number, _filled_up(_split(line), columns, may_end_before)) for number, line in body]
    right = [
        Row(number, dict(zip(columns, cells, strict=True))) for number, cells in split if len(cells) == len(columns)
    ]
    wrong = [(number, cells) for number, cells in split if len(cells) != len(columns)]
    return right, [Fault("", _width_text(cells, columns), str(path), number) for number, cells in wrong]


def header_row(text: str) -> tuple[int, list[str]] | None:
    """Line and cells of a table's header, for who must know its columns before it is read; None if it has none."""
    return next(((number, _split(line)) for number, line in _data_lines(text)), None)


def _data_lines(text: str) -> Iterator[tuple[int, str]]:
    return ((number, line) for number, line in enumerate(re.split("\r\n|\n|\r", text), start=1) if _holds_data(line))


def _filled_up(cells: list[str], columns: list[str], may_end_before: tuple[str, ...]) -> list[str]:
    lacking = columns[len(cells) :]
    return [*cells, *("" for _ in lacking)] if set(lacking) <= set(may_end_before) else cells


def _holds_data(line: str) -> bool:
    return bool(line.strip(" ,\t")) and not line.lstrip().startswith("#")


def _split(line: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line)))]
    except csv.Error:
        return [line]


def _header_faults(columns: list[str], needed: tuple[str, ...], optional: tuple[str, ...]) -> list[str]:
    if len(columns) == 1 and ";" in columns[0]:
        return ["the columns are separated by semicolons; save with commas, and with decimal points"]
    known = (*needed, *optional)
    unknown = [_unknown_text(column, known) for column in columns if column not in known]
    guessed = {nearest(column, known) for column in columns if column not in known}
    missing = [f"column {name} is missing" for name in needed if name not in columns and name not in guessed]
    twice = [f"column {name} stands twice" for name in known if columns.count(name) > 1]
    return [*unknown, *missing, *twice]


def _unknown_text(column: str, known: tuple[str, ...]) -> str:
    if not column:
        return f"a column without a name: a comma too many? The columns are {','.join(known)}"
    close = nearest(column, known)
    return f'unknown column "{column}"; ' + (
        f"did you mean {close}?" if close else f"the columns are {','.join(known)}"
    )


def _width_text(cells: list[str], columns: list[str]) -> str:
    hint = "; decimal commas? numbers need points" if len(cells) > len(columns) else ""
    return f"must have {len(columns)} cells ({','.join(columns)}); received {len(cells)}{hint}"


def parse_row(row: Row, readers: Mapping[str, Reader]) -> tuple[dict[str, Any], list[Fault]]:
    """Values of the cells that have a reader, and a fault for each cell that its reader refuses.

    Parameters
    ----------
    row : one line
    readers : by column; a reader raises ValueError saying what the cell must be
    """
    values, faults = {}, []
    for column, read in readers.items():
        cell = row.cells[column]
        try:
            values[column] = read(cell)
        except ValueError as error:
            faults.append(Fault(column, f'{error}; received "{cell}"', line=row.line))
    return values, faults


def number(cell: str) -> float:
    """Read a finite number.

    Raises
    ------
    ValueError
        Of anything else, saying what the cell must be.
    """
    try:
        value = float(cell)
    except ValueError:
        raise ValueError("must be a number such as 54.5") from None
    if not math.isfinite(value):
        raise ValueError("must be a finite number")
    return value


def positive(cell: str) -> float:
    """Read a number above zero.

    Raises
    ------
    ValueError
        As `number`.
    """
    value = number(cell)
    if value <= 0:
        raise ValueError("must be above 0")
    return value


def counting(largest: int | None = None) -> Callable[[str], int]:
    """Return a reader of whole numbers from 1 up to `largest`, which raises ValueError as `number` does."""
    wish = "must be a whole number from 1" + (f" to {largest}" if largest else "")

    def read(cell: str) -> int:
        try:
            value = int(cell)
        except ValueError:
            raise ValueError(wish) from None
        if value < 1 or (largest is not None and value > largest):
            raise ValueError(wish)
        return value

    return read
