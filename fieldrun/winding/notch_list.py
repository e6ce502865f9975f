"""A winding told as a walk from notch to notch of a former: CSV `step,end,notch`."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np

from fieldrun.design.csv_table import Row, counting, parse_row, read_table
from fieldrun.design.errors import Fault
from fieldrun.design.model import Winding
from fieldrun.design.units import DEGREE
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces
from fieldrun.winding.turn import Edge, passes_its_foot, raised

COLUMNS = ("step", "end", "notch")

NEEDED_KEYS = ("inner_radius_mm", "outer_radius_mm", "inner_notches", "outer_notches")
"""Keys of [winding] that a notch list cannot do without."""

TIE = 1e-9
"""So near half a turn [rad] there is no short way round."""


@dataclass(frozen=True)
class Stop:
    """One row of the list, and where its notch stands [m, rad]."""

    line: int
    end: Literal["in", "out"]
    notch: int
    radius_m: float
    angle: float


def read_notches(path: Path, winding: Winding, sheets_m: tuple[float, float]) -> tuple[Pieces | None, list[Fault]]:
    """Read a notch list and walk it.

    Notch 1 of either end stands at angle 0, the others counterclockwise at equal distances. From one end to the other
    runs a leg, along one end an arc, always the short way round; the walk returns to its first notch by itself. It lies
    like a crossed lay: outward legs in the upper sheet, inward legs in the lower one.

    Parameters
    ----------
    path : the file, only ever read
    winding : for radii, numbers of notches and kind of leg
    sheets_m : heights of the lower and the upper sheet [m]

    Returns
    -------
    The conductors, None if anything is wrong; and everything that is wrong.
    """
    missing = [key for key in NEEDED_KEYS if getattr(winding, key.replace("_mm", "_m")) is None]
    if missing:
        return None, [Fault(f"winding.{key}", "missing; a notch list needs it") for key in missing]
    rows, faults = read_table(path, COLUMNS)
    faults = [*faults, *(fault for i, row in enumerate(rows) for fault in _row_faults(row, i + 1, winding))]
    if not faults:
        stops = _once_round([_stop(row, winding) for row in rows])
        edges, faults = _walk(stops, winding)
    if faults:
        return None, [replace(fault, file=str(path)) for fault in faults]
    kind, start, end = raised(edges, out_m=sheets_m[1], in_m=sheets_m[0])
    return Pieces(kind, start, end, np.zeros_like(kind), np.zeros_like(kind)), []


def _row_faults(row: Row, step: int, winding: Winding) -> list[Fault]:
    values, faults = parse_row(row, {"step": counting(), "end": _end})
    if "end" in values:
        faults += parse_row(row, {"notch": counting(_notches(values["end"], winding))})[1]
    if values.get("step", step) != step:
        faults.append(
            Fault("step", f"steps count 1, 2, 3 ...; this must be {step}; received {values['step']}", line=row.line)
        )
    return faults


def _end(cell: str) -> str:
    if cell not in {"in", "out"}:
        raise ValueError('must be "in" or "out"')
    return cell


def _notches(end: str, winding: Winding) -> int:
    return (winding.inner_notches if end == "in" else winding.outer_notches) or 1


def _stop(row: Row, winding: Winding) -> Stop:
    end: Literal["in", "out"] = "in" if row.cells["end"] == "in" else "out"
    notch = int(row.cells["notch"])
    radius = winding.inner_radius_m if end == "in" else winding.outer_radius_m
    return Stop(row.line, end, notch, radius or 0.0, 2 * math.pi * (notch - 1) / _notches(end, winding))


def _once_round(stops: list[Stop]) -> list[Stop]:
    """Leave out a last row that names the first notch again."""
    again = len(stops) > 1 and (stops[0].end, stops[0].notch) == (stops[-1].end, stops[-1].notch)
    return stops[:-1] if again else stops


def _walk(stops: list[Stop], winding: Winding) -> tuple[tuple[Edge, ...], list[Fault]]:
    """Edges from stop to stop and back to the first, the angle carried on from one to the next."""
    if len(stops) < 2:
        return (), [Fault("notch", "a walk needs at least two notches", line=stops[0].line)]
    edges, faults = [], []
    angle = stops[0].angle
    for start, end in pairwise([*stops, stops[0]]):
        turn = (end.angle - start.angle + math.pi) % (2 * math.pi) - math.pi
        edge = _edge(start, end, angle, angle + turn, winding)
        faults += [Fault("notch", text, line=start.line) for text in _edge_faults(start, end, turn, edge)]
        edges.append(edge)
        angle += turn
    return tuple(edges), faults


def _edge(start: Stop, end: Stop, here: float, there: float, winding: Winding) -> Edge:
    ends = (start.radius_m, here), (end.radius_m, there)
    if start.end == end.end:
        return Edge(ARC, *ends, "end")
    return Edge(LINE if winding.leg == "chord" else SPIRAL, *ends, "out" if start.end == "in" else "in")


def _edge_faults(start: Stop, end: Stop, turn: float, edge: Edge) -> Iterator[str]:
    way = f"from {start.end} {start.notch} to {end.end} {end.notch}"
    if (start.end, start.notch) == (end.end, end.notch):
        yield f"{way} leads nowhere; leave one of the two rows out"
    elif math.pi - abs(turn) < TIE:
        yield f"{way} is half a turn and has no short way round; name one between"
    elif passes_its_foot(edge):
        yield f'{way} turns {turn / DEGREE:.4g} degrees: the straight leg would cross the hub; try leg = "spiral"'
