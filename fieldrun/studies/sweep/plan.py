"""Which points a sweep has: a grid, a sample of ranges, or the rows of a table; counted before anything is made."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from fieldrun.design.csv_table import Row, header_row, read_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.text_file import read_text_file
from fieldrun.studies.sweep.axes import Axis
from fieldrun.studies.sweep.values import Value, as_written, first_spelling, key_fault, told, value_of

LARGEST = 1_000_000
"""Points of one sweep at most: a day's work for a field of a tenth of a second each."""

TABLE_BYTES = 200_000_000
"""A table of that many points may be as large."""

Method = Literal["lhs", "sobol"]


@dataclass(frozen=True)
class Plan:
    """The points of a sweep, in order.

    Parameters
    ----------
    kind : "grid", "lhs", "sobol" or "table"
    keys : what varies
    count : number of points
    axes : of a grid or a sample, in the order of `keys`
    rows : of a sample or a table, one value for each key; None leaves the design's own
    seed : of a sample
    """

    kind: Literal["grid", "lhs", "sobol", "table"]
    keys: tuple[str, ...]
    count: int
    axes: tuple[Axis, ...] = ()
    rows: tuple[tuple[Value | None, ...], ...] = ()
    seed: int | None = None

    @property
    def shape(self) -> tuple[int, ...]:
        """Of a grid: values of each key, the outermost first; else just the count."""
        return tuple(axis.count for axis in self.axes) if self.kind == "grid" else (self.count,)

    def values(self, index: int) -> tuple[Value | None, ...]:
        """Values of the keys at a point; the first key of a grid is outermost."""
        if self.kind != "grid":
            return self.rows[index]
        places = []
        for axis in reversed(self.axes):
            index, place = divmod(index, axis.count)
            places.append(place)
        return tuple(axis.at(place) for axis, place in zip(self.axes, reversed(places), strict=True))

    def changes(self, index: int) -> dict[str, Any]:
        """The same as changes to the design file."""
        values = zip(self.keys, self.values(index), strict=True)
        return {key: as_written(key, value) for key, value in values if value is not None}

    @property
    def facts(self) -> Mapping[str, Any]:
        """All that makes this plan another than others, as it may stand in a file."""
        if self.kind == "table":
            return {"kind": self.kind, "keys": list(self.keys), "count": self.count, "rows": hash_of(self.rows)}
        axes = {axis.key: _axis_told(axis) for axis in self.axes}
        seeded = {} if self.kind == "grid" else {"seed": self.seed, "rows": hash_of(self.rows)}
        return {"kind": self.kind, "count": self.count, "vary": axes, **seeded}


def hash_of(rows: tuple[tuple[Value | None, ...], ...]) -> str:
    """Sixteen hex digits that tell rows from others."""
    import hashlib

    return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]


def _axis_told(axis: Axis) -> str:
    if axis.words:
        return ",".join(told(word) for word in axis.words)
    return f"{axis.start:.12g}:{axis.stop:.12g}" + (f":{axis.steps}" if axis.steps else "")


def grid(axes: tuple[Axis, ...]) -> Plan:
    """Every combination of the axes' values.

    Raises
    ------
    DesignError
        If there are more than `LARGEST`.
    """
    count = math.prod(axis.count for axis in axes)
    return Plan("grid", tuple(axis.key for axis in axes), _allowed(count, "--vary"), axes)


def sample(axes: tuple[Axis, ...], count: int, method: Method = "lhs", seed: int = 1) -> Plan:
    """Points scattered evenly over the axes.

    A Latin hypercube (McKay, Beckman and Conover, Technometrics 21 (1979) 239) or the start of a scrambled Sobol
    sequence, from scipy; words and whole numbers get equal shares.

    Raises
    ------
    DesignError
        If there are fewer than one or more than `LARGEST`.
    """
    from scipy.stats import qmc

    _allowed(count, "--sample")
    size = len(axes)
    if method == "lhs":
        shares = qmc.LatinHypercube(size, seed=seed).random(count)
    else:
        # a whole power of two, as the sequence wants it
        shares = qmc.Sobol(size, seed=seed).random_base2(max(count - 1, 1).bit_length())[:count]
    # Sobol's single precision may round up to the whole
    rows = tuple(tuple(axis.at_share(min(s, 1 - 1e-12)) for axis, s in zip(axes, row, strict=True)) for row in shares)
    return Plan(method, tuple(axis.key for axis in axes), count, axes, rows, seed)


def _allowed(count: int, option: str) -> int:
    if count < 1:
        raise DesignError([Fault(option, f"at least one point; received {count}")])
    if count > LARGEST:
        text = f"{count:,} points are more than a sweep takes, {LARGEST:,}; try fewer values, or --sample 1000"
        raise DesignError([Fault(option, text)])
    return count


def table(path: Path) -> Plan:
    """One point for each row of a CSV file whose header names keys; an empty cell leaves the design's own value.

    Raises
    ------
    DesignError
        With every unknown column, every ragged row and every cell that its key does not take, each with its line.
    """
    columns = _header(path)
    if faults := [Fault(column, text, str(path), line) for line, column, text in _column_faults(columns)]:
        raise DesignError(faults)
    keys = tuple(columns[1])
    rows, faults = read_table(path, keys, (), TABLE_BYTES)
    points = [_point(row, keys, str(path), faults) for row in rows]
    if faults:
        raise DesignError(faults)
    return Plan("table", keys, _allowed(len(points), "--table"), rows=tuple(points))


def _header(path: Path) -> tuple[int, list[str]]:
    """Line and cells of the first line that is neither empty nor a comment."""
    header = header_row(read_text_file(path, TABLE_BYTES))
    if header is None:
        raise DesignError([Fault("", "holds no line of data; the first must name keys of a design file", str(path))])
    return header


def _column_faults(columns: tuple[int, list[str]]) -> list[tuple[int, str, str]]:
    line, names = columns
    if len(names) == 1 and ";" in names[0]:
        return [(line, "", "the columns are separated by semicolons; save with commas, and with decimal points")]
    unknown = [(line, name, text) for name in names if (text := key_fault(name))]
    firsts = [first_spelling(name) for name in names]
    twice = [name for number, name in enumerate(names) if firsts[number] in firsts[:number]]
    return unknown + [(line, name, "this column stands twice") for name in twice]


def _point(row: Row, keys: tuple[str, ...], path: str, faults: list[Fault]) -> tuple[Value | None, ...]:
    values: list[Value | None] = []
    for key in keys:
        cell = row.cells[key]
        try:
            values.append(value_of(key, cell) if cell else None)
        except ValueError as error:
            faults.append(Fault(key, str(error), path, row.line))
    return tuple(values)
