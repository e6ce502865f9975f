"""Winding step by step: from station to station, and from one loop over a link to the next."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldrun.winding.former import Former
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import lengths
from fieldrun.winding.stations import Station

Way = Literal["outward", "inward", "along the outer end", "along the inner end", "across", "link"]

SAME_RADIUS_M = 1e-6
"""Radii nearer to each other are one circle."""


@dataclass(frozen=True)
class Step:
    """One stretch of wire between two stations.

    Parameters
    ----------
    loop : the loop it belongs to, as a place in `Loops`; of a link, the loop it leads to
    start, end : stations
    way : where it leads
    sheet : number of the sheet that a leg lies in, 1 lowest; None along ends, over links and where it rises
    length_m : of the conductor, or of a link
    """

    loop: int
    start: Station
    end: Station
    way: Way
    sheet: int | None
    length_m: float


def steps_of(former: Former, laid: Lay) -> Iterator[Step]:
    """Every step of a winding in the order of winding; a link stands before the loop that it leads to."""
    corners, loops = former.corners, former.loops
    run = np.r_[0.0, np.cumsum(lengths(laid.pieces))]
    bounds = np.flatnonzero(np.r_[True, np.diff(corners.loop) > 0, True])
    last_of: dict[tuple[int, int], Station] = {}
    for i in range(loops.count):
        own = range(int(bounds[i]), int(bounds[i + 1]))
        wire = (int(loops.phase[i]), int(loops.wire[i]))
        first = former.stations[corners.station[own[0]]]
        if wire in last_of:
            yield Step(i, last_of[wire], first, "link", None, float(loops.link_m[i]))
        yield from _loop(former, laid, run, i, own)
        last_of[wire] = first  # a loop ends where it began


def _loop(former: Former, laid: Lay, run: np.ndarray, loop: int, own: range) -> Iterator[Step]:
    corners, loops = former.corners, former.loops
    begin, end = int(loops.first[loop]), int(loops.first[loop] + loops.pieces[loop])
    starts = [int(corners.piece[c]) for c in own]
    for place, c in enumerate(own):
        last = place + 1 == len(own)
        a = former.stations[corners.station[c]]
        b = former.stations[corners.station[own[0] if last else c + 1]]
        until = run[end] + run[starts[0]] - run[begin] if last else run[starts[place + 1]]
        way = _way(a, b)
        yield Step(loop, a, b, way, _sheet(laid, starts[place], way), float(until - run[starts[place]]))


def _way(a: Station, b: Station) -> Way:
    change = b.radius_m - a.radius_m
    if abs(change) > SAME_RADIUS_M:
        return "outward" if change > 0 else "inward"
    if a.kind == "corner":
        return "across"
    return "along the outer end" if a.kind == "outer" else "along the inner end"


def _sheet(laid: Lay, piece: int, way: Way) -> int | None:
    if way not in {"outward", "inward"}:
        return None
    low, high = sorted((float(laid.pieces.start[piece, 2]), float(laid.pieces.end[piece, 2])))
    nearest = int(np.argmin(np.abs(laid.sheet_heights_m - low)))
    return nearest + 1 if high - low < SAME_RADIUS_M else None
