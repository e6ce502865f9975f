"""A steel of the user's own: a CSV of flux density against field strength."""

import csv
import io
import math
from itertools import pairwise
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import SteelCurve
from fieldrun.design.text_file import read_text_file
from fieldrun.design.units import MU0

HEADER = ["b_t", "h_a_per_m"]
LEAST_POINTS = 3
LARGEST_B_T = 5.0
"""More than any steel shows in any winding: a larger number is in another unit."""
LARGEST_PERMEABILITY = 3e5
"""Relative; above it the field strengths are surely in another unit (kA/m reads a thousand times too good)."""

Point = tuple[int, float, float]
"""Line in the file, flux density [T], field strength [A/m]."""


def read_bh_table(path: Path) -> SteelCurve:
    """Read `b_t,h_a_per_m`: at least three points, both columns rising strictly; (0, 0) is added if missing.

    Raises
    ------
    DesignError
        With every fault of the file, each with its line.
    """
    rows = [(number, row) for number, row in _lines(path) if any(cell.strip() for cell in row)]
    faults, points = _points(rows)
    faults = faults or _order_faults(points) or _unit_faults(points) or _count_faults(points)
    if faults:
        raise DesignError([Fault(f.key, f.text, str(path), f.line) for f in faults])
    b, h = zip(*((b, h) for _, b, h in _from_origin(points)), strict=True)
    return SteelCurve(path.name, b, h, f"the user's table {path.name}")


def _lines(path: Path) -> list[tuple[int, list[str]]]:
    """Number and cells of each line, whatever ends it."""
    reader = csv.reader(io.StringIO(read_text_file(path), newline=None))
    try:
        return [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise DesignError([Fault("", f"is no line of a table: {error}", str(path), reader.line_num)]) from error


def _points(rows: list[tuple[int, list[str]]]) -> tuple[list[Fault], list[Point]]:
    if not rows:
        return [Fault("", "the table is empty; its first line must be b_t,h_a_per_m")], []
    line, header = rows[0]
    if [cell.strip() for cell in header] != HEADER:
        return [_fault(line, f"the first line must be b_t,h_a_per_m (tesla, amperes per metre); received {header}")], []
    faults, points = [], []
    for line, row in rows[1:]:
        try:
            b, h = (_number(cell) for cell in row)
            points.append((line, b, h))
        except ValueError:
            faults.append(_fault(line, f"must be two finite numbers such as 1.5,1837; received {','.join(row)}"))
    return faults, points


def _number(cell: str) -> float:
    number = float(cell)
    if not math.isfinite(number):
        raise ValueError(cell)
    return number


def _order_faults(points: list[Point]) -> list[Fault]:
    if points and (points[0][1] < 0 or points[0][2] < 0):
        return [_fault(points[0][0], "the curve starts at zero and is used for both signs; leave negative values out")]
    if points and (points[0][1] == 0) != (points[0][2] == 0):
        return [_fault(points[0][0], "a curve without hysteresis goes through 0,0; leave the offset out")]
    return [
        _fault(line, f"both columns must rise from line to line; {b:g},{h:g} follows {b0:g},{h0:g}")
        for (_, b0, h0), (line, b, h) in pairwise(points)
        if b <= b0 or h <= h0
    ]


def _unit_faults(points: list[Point]) -> list[Fault]:
    for line, b, h in points:
        if b > LARGEST_B_T:
            return [
                _fault(line, f"{b:g} T is more than any steel carries; is this gauss or millitesla? b_t is in tesla")
            ]
        if h > 0 and b < MU0 * h * (1 - 1e-6):
            return [_fault(line, f"{b:g} T at {h:g} A/m is less than air carries; are the two columns swapped?")]
        if h > 0 and b / (MU0 * h) > LARGEST_PERMEABILITY:
            return [_fault(line, f"{b:g} T at {h:g} A/m is beyond any steel; is h in kA/m or oersted? it is in A/m")]
    return []


def _count_faults(points: list[Point]) -> list[Fault]:
    if len(points) >= LEAST_POINTS:
        return []
    return [Fault("", f"must hold at least {LEAST_POINTS} points; received {len(points)}")]


def _from_origin(points: list[Point]) -> list[Point]:
    return points if points[0][1] == 0 else [(0, 0.0, 0.0), *points]


def _fault(line: int, text: str) -> Fault:
    return Fault("", text, line=line)
