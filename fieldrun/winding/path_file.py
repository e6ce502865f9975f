"""A winding corner by corner: CSV `loop,phase,r_mm,theta_deg,z_mm,edge`, read with every fault at once, and written."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

import numpy as np

from fieldrun.design.csv_table import Reader, Row, counting, number, parse_row, positive, read_table
from fieldrun.design.errors import Fault
from fieldrun.design.nearest import nearest, one_of
from fieldrun.design.units import DEGREE, MM
from fieldrun.winding.pieces import ARC, EDGE_NAMES, LINE, Pieces

NEEDED = ("loop", "r_mm", "theta_deg", "z_mm", "edge")
OPTIONAL = ("phase",)
COLUMNS = ("loop", "phase", "r_mm", "theta_deg", "z_mm", "edge")

CLOSED_MM, CLOSED_DEG = 1e-6, 1e-6
"""A loop's ends, and the ends of an arc, may differ by so much."""

SMALLEST_RING_MM = 2.0
"""No conductor runs nearer to the axis; a smaller radius is in another unit."""

MOST_DEG = 1e6
"""No angle is farther from zero; 2,777 rounds are more than any winding has, and beyond, digits get lost."""

MOST_TURN_DEG = 3600.0
"""No arc or spiral goes on for longer: what it needs in memory grows with its angle."""

MOST_FAULTS = 40
"""A file with more is wrong as a whole, and the rest is only counted."""


@dataclass(frozen=True)
class Corner:
    """One row of the file; edge None ends a loop."""

    line: int
    loop: int
    phase: int
    r_mm: float
    theta_deg: float
    z_mm: float
    edge: int | None


@dataclass(frozen=True, eq=False)
class PathFile:
    """What a path file holds: conductors in file order; not `phased`: it names no phases, all are in the first."""

    pieces: Pieces
    phased: bool


def read_paths(path: Path, phases: int) -> tuple[PathFile | None, list[Fault]]:
    """Read a path file.

    Parameters
    ----------
    path : the file, only ever read
    phases : number of phases that the design has

    Returns
    -------
    The conductors, None if anything is wrong; and everything that is wrong, each with file and line.
    """
    rows, faults = read_table(path, NEEDED, OPTIONAL)
    parsed = [(row, *parse_row(row, _readers(row, phases))) for row in rows]
    faults = [*faults, *(fault for _, _, found in parsed for fault in found)]
    loops = [list(group) for _, group in groupby(parsed, lambda entry: entry[0].cells["loop"])]
    whole = [[_corner(row, values) for row, values, _ in loop] for loop in loops if not any(f for *_, f in loop)]
    corners = [corner for loop in whole for corner in loop]
    faults += [*_loop_faults(whole), *_size_faults(corners)]
    phased = bool(rows) and "phase" in rows[0].cells
    if phased and not faults:
        faults = _phase_faults(corners, phases)
    if faults:
        return None, [replace(fault, file=str(path)) for fault in _the_first(faults)]
    return PathFile(_pieces(corners), phased), []


def _the_first(faults: list[Fault]) -> list[Fault]:
    ordered = sorted(faults, key=lambda fault: fault.line or 0)
    rest = len(ordered) - MOST_FAULTS
    return [*ordered[:MOST_FAULTS], Fault("", f"and {rest} more faults like these")] if rest > 0 else ordered


def _readers(row: Row, phases: int) -> dict[str, Reader]:
    readers = {"loop": counting(), "phase": counting(phases), "r_mm": positive, "theta_deg": _angle, "z_mm": number}
    return {column: read for column, read in (readers | {"edge": _edge}).items() if column in row.cells}


def _corner(row: Row, values: dict[str, Any]) -> Corner:
    return Corner(row.line, **({"phase": 1} | values))


def _angle(cell: str) -> float:
    value = number(cell)
    if abs(value) > MOST_DEG:
        raise ValueError(f"must be within {MOST_DEG:.0f} degrees of zero")
    return value


def _edge(cell: str) -> int | None:
    if cell == "":
        return None
    if cell in EDGE_NAMES:
        return EDGE_NAMES.index(cell)
    close = nearest(cell.lower(), EDGE_NAMES)
    hint = f", probably {close}" if close else ""
    raise ValueError(f"must be {one_of(EDGE_NAMES)}{hint}, or empty where a loop ends")


def _loop_faults(loops: list[list[Corner]]) -> list[Fault]:
    seen: set[int] = set()
    faults = []
    for corners in loops:
        first = corners[0]
        if first.loop in seen:
            text = f"loop {first.loop} was there before; the rows of a loop stand together"
            faults.append(_fault("loop", first, text))
        seen.add(first.loop)
        faults += _one_loop_faults(corners)
    return faults


def _one_loop_faults(corners: list[Corner]) -> list[Fault]:
    first, last = corners[0], corners[-1]
    if len(corners) == 1:
        return [_fault("loop", first, f"loop {first.loop} has a single corner; it must return to its first one")]
    faults = [
        _fault("edge", corner, "empty in the middle of a loop; only its last row, the first corner again, has no edge")
        for corner in corners[:-1]
        if corner.edge is None
    ]
    faults += [
        _fault("phase", corner, f"loop {first.loop} began in phase {first.phase}; received {corner.phase}")
        for corner in corners
        if corner.phase != first.phase
    ]
    faults += [_fault(*found) for pair in pairwise(corners) for found in _edge_faults(*pair)]
    return faults + _closing_faults(first, last)


def _closing_faults(first: Corner, last: Corner) -> list[Fault]:
    if last.edge is not None:
        text = f"loop {first.loop} does not end: its last row must be its first corner again, with an empty edge"
        return [_fault("edge", last, text)]
    radial, axial = last.r_mm - first.r_mm, last.z_mm - first.z_mm
    angle = (last.theta_deg - first.theta_deg + 180) % 360 - 180
    if abs(radial) <= CLOSED_MM and abs(axial) <= CLOSED_MM and abs(angle) <= CLOSED_DEG:
        return []
    by = [f"{radial:.4g} mm in radius" if abs(radial) > CLOSED_MM else ""]
    by += [f"{angle:.4g} degrees" if abs(angle) > CLOSED_DEG else "", f"{axial:.4g} mm in height" if axial else ""]
    text = f"loop {first.loop} is not closed: it ends {', '.join(b for b in by if b)} from its first corner"
    return [_fault("loop", last, text + _radian_hint(last.theta_deg - first.theta_deg))]


def _radian_hint(angle: float) -> str:
    turns = angle / (2 * math.pi)
    whole = abs(turns - round(turns)) < 1e-3 and round(turns) != 0
    return "; is theta_deg in radians? it is in degrees" if whole else ""


def _edge_faults(start: Corner, end: Corner) -> list[tuple[str, Corner, str]]:
    turn = end.theta_deg - start.theta_deg
    if turn == 0 and start.r_mm == end.r_mm and start.z_mm == end.z_mm:
        return [("edge", start, "leads to the same corner again; leave one of the two rows out")]
    if start.edge == ARC and abs(end.r_mm - start.r_mm) > CLOSED_MM:
        text = f"an arc keeps its radius; it goes from {start.r_mm:g} to {end.r_mm:g} mm, is it a spiral?"
        return [("edge", start, text)]
    if start.edge not in {None, LINE} and abs(turn) > MOST_TURN_DEG:
        text = (
            f"the {EDGE_NAMES[start.edge]} from line {start.line} turns {turn:g} degrees; one edge goes round ten "
            "times at most, put corners between"
        )
        return [("theta_deg", end, text)]
    if start.edge == LINE and abs(turn) >= 180 - CLOSED_DEG:
        return [("theta_deg", end, _half_turn_text(start, turn))]
    if start.edge == LINE and _nearest_mm(start, end) < SMALLEST_RING_MM <= min(start.r_mm, end.r_mm):
        text = (
            f"the line from line {start.line} passes {_nearest_mm(start, end):.3g} mm from the axis, inside any shaft"
        )
        return [("theta_deg", end, text)]
    return []


def _nearest_mm(start: Corner, end: Corner) -> float:
    """Least distance of a straight line from the axis, seen along the shaft [mm]."""
    turn = (end.theta_deg - start.theta_deg) * DEGREE
    along = end.r_mm * math.cos(turn) - start.r_mm, end.r_mm * math.sin(turn)
    length = math.hypot(*along)
    beyond = start.r_mm * math.cos(turn) < end.r_mm and end.r_mm * math.cos(turn) < start.r_mm
    return start.r_mm * abs(along[1]) / length if beyond and length > 0 else min(start.r_mm, end.r_mm)


def _half_turn_text(start: Corner, turn: float) -> str:
    if abs(abs(turn) - 180) <= CLOSED_DEG:
        return f"the line from line {start.line} passes through the axis: it turns {turn:g} degrees"
    meant = start.theta_deg + (turn + 180) % 360 - 180
    return (
        f"the line from line {start.line} turns {turn:g} degrees, and a straight line turns less than half a turn; "
        f"angles are never wrapped: is it {meant:g}?"
    )


def _size_faults(corners: list[Corner]) -> list[Fault]:
    small = [corner for corner in corners if corner.r_mm < SMALLEST_RING_MM]
    if not small:
        return []
    metres = f"; is it in metres? write {small[0].r_mm * 1e3:g}" if small[0].r_mm * 1e3 >= SMALLEST_RING_MM else ""
    others = f" (and {len(small) - 1} more rows like it)" if len(small) > 1 else ""
    return [_fault("r_mm", small[0], f"{small[0].r_mm:g} mm is inside any shaft{metres}{others}")]


def _phase_faults(corners: list[Corner], phases: int) -> list[Fault]:
    missing = sorted(set(range(1, phases + 1)) - {corner.phase for corner in corners})
    return [Fault("phase", f"phase {phase} has no loop, and the design has {phases} phases") for phase in missing]


def _fault(key: str, corner: Corner, text: str) -> Fault:
    return Fault(key, text, line=corner.line)


def _pieces(corners: list[Corner]) -> Pieces:
    points = np.array([(c.r_mm * MM, c.theta_deg * DEGREE, c.z_mm * MM) for c in corners])
    leads = np.array([c.edge is not None for c in corners])
    begins = np.flatnonzero(leads)
    loop = np.cumsum(~leads) - ~leads
    kind = np.array([c.edge for c in corners if c.edge is not None])
    phase = np.array([c.phase - 1 for c in corners])
    return Pieces(kind, points[begins], points[begins + 1], phase[begins], loop[begins])


def write_paths(path: Path, pieces: Pieces, comments: Iterable[str] = ()) -> None:
    """Write conductors so that `read_paths` gives them back to 1e-12.

    Parameters
    ----------
    path : file to write
    pieces : m conductors in closed loops
    comments : lines to stand at the top after a #
    """
    lines = [f"# {text}" for text in comments]
    path.write_text("\n".join([*lines, ",".join(COLUMNS), *_rows(pieces)]) + "\n", encoding="utf-8")


def _rows(pieces: Pieces) -> Iterable[str]:
    last_of_loop = np.append(pieces.loop[1:] != pieces.loop[:-1], True)
    scale = np.array([1 / MM, 1 / DEGREE, 1 / MM])
    starts, ends = pieces.start * scale, pieces.end * scale
    for i in range(pieces.count):
        label = f"{pieces.loop[i] + 1},{pieces.phase[i] + 1}"
        yield _row(label, starts[i].tolist(), EDGE_NAMES[pieces.kind[i]])
        if last_of_loop[i]:
            yield _row(label, ends[i].tolist(), "")


def _row(label: str, point: list[float], edge: str) -> str:
    return f"{label},{point[0]:.15g},{point[1]:.15g},{point[2]:.15g},{edge}"
