"""Numbers beside notches and pins: level, clear of slots and wires, as large as the wood between two allows."""

import math
from collections.abc import Sequence

import numpy as np

from fieldrun.design.units import MM
from fieldrun.outputs.drawings.record import Label, Point, Shape
from fieldrun.winding.former import Former
from fieldrun.winding.stations import Station

LARGEST, SMALLEST = 2.8, 1.6
"""Size of the letters [mm]."""

LETTER = 0.66
"""Width of a letter or figure over its size."""

TALL = 0.73
"""Height of a figure over its size."""

ASIDE = 1.2
"""How much more a number beside a bend is moved along the radius than out of the bend."""

SAME_RAD = 1e-9
"""Angles nearer to each other are one."""

AIR = 0.5
"""Between a number and the notch beside it [mm]."""


def station_labels(former: Former) -> list[Shape]:
    """A number for every first-round station that has room for one."""
    shapes: list[Shape] = []
    inward = min(former.slot_m, _inner_radius(former) / 2) / MM
    for kind, side in (("outer", former.slot_m / MM / 2), ("inner", -inward / 2)):
        own = sorted(_first_round(former, kind), key=lambda station: station.angle_rad % (2 * math.pi))
        if own:
            full = former.plan.comb == "all"
            shapes += _beside(own, side, former.notch_m / MM, _side(former, kind, own[0]) if full else 1)
    return shapes + _corners(former)


def _inner_radius(former: Former) -> float:
    return min((station.radius_m for station in former.of_kind("inner")), default=0.0)


def _first_round(former: Former, kind: str) -> list[Station]:
    """Stations of one kind that the first rounds use: the others stand too close for numbers."""
    corners, loops = former.corners, former.loops
    first = corners.station[loops.round[corners.loop] == 0]
    kept = set(np.unique(first).tolist())
    return [station for i, station in enumerate(former.stations) if i in kept and station.kind == kind]


def _side(former: Former, kind: str, first: Station) -> int:
    """In a full comb, the side of a first round's notch on which there are no further rounds: 1 counterclockwise."""
    turns = [(station.angle_rad - first.angle_rad) % (2 * math.pi) for station in former.of_kind(kind)]
    others = [turn for turn in turns if SAME_RAD < turn < 2 * math.pi - SAME_RAD]
    return 1 if not others or min(others) > 2 * math.pi - max(others) else -1


def _beside(stations: Sequence[Station], side: float, width: float, way: int) -> list[Shape]:
    """Numbers beside their notches, half way along them; every so many where they stand too close."""
    letters = max(len(station.label) for station in stations)
    radius = stations[0].radius_m / MM + side
    angles = [station.angle_rad % (2 * math.pi) for station in stations]
    apart = min(b - a for a, b in zip(angles, [*angles[1:], angles[0] + 2 * math.pi], strict=True)) * radius
    room = min(apart - width - 2 * AIR, 2 * abs(side) - 0.6)
    size = min(LARGEST, room / (LETTER * letters))
    every = 1 if size >= SMALLEST else max(1, math.ceil((LETTER * letters * SMALLEST + width + 2 * AIR) / apart))
    shown = stations[::every]
    return [_label(station, radius, way * width, max(size, SMALLEST)) for station in shown]


def _label(station: Station, radius: float, width: float, size: float) -> Shape:
    """Number counterclockwise of a notch, or clockwise of it where `width` is negative."""
    wide, tall = LETTER * size * len(station.label), TALL * size
    cos, sin = math.cos(station.angle_rad), math.sin(station.angle_rad)
    along = math.copysign(abs(width) / 2 + AIR + (abs(sin) * wide + abs(cos) * tall) / 2, width)
    return _centred(station, (radius * cos - along * sin, radius * sin + along * cos), size)


def _centred(station: Station, middle: Point, size: float) -> Shape:
    at = middle[0], middle[1] - TALL * size / 2
    return Label("mark", at, size, station.label, "middle", station.number == 1, station.phase)


def _corners(former: Former) -> list[Shape]:
    """Numbers of pins between the ends, on the far side of the wire's bend."""
    own = _first_round(former, "corner")
    if not own:
        return []
    size, bends = LARGEST * 0.8, _bends(former)
    return [_centred(station, _outside_bend(former, station, bends[station], size), size) for station in own]


def _bends(former: Former) -> dict[Station, tuple[Station, Station]]:
    """The stations before and after each one, where the wire first comes to it."""
    corners, stations = former.corners, former.stations
    bounds = np.flatnonzero(np.r_[True, np.diff(corners.loop) > 0, True])
    met, first = np.unique(corners.station, return_index=True)
    loops = np.searchsorted(bounds, first, "right") - 1
    out = {}
    for index, place, loop in zip(met, first, loops, strict=True):
        low, count = int(bounds[loop]), int(bounds[loop + 1] - bounds[loop])
        before, after = (corners.station[low + (place - low + step) % count] for step in (-1, 1))
        out[stations[index]] = (stations[before], stations[after])
    return out


def _outside_bend(former: Former, station: Station, around: tuple[Station, Station], size: float) -> Point:
    x, y = station.xy_m
    arms = [_unit(other.xy_m[0] - x, other.xy_m[1] - y) for other in around]
    ux, uy = _away(_unit(arms[0][0] + arms[1][0], arms[0][1] + arms[1][1]), station.angle_rad)
    off = former.pin_m / MM / 2 + AIR + (abs(ux) * LETTER * size * len(station.label) + abs(uy) * TALL * size) / 2
    return x / MM + off * ux, y / MM + off * uy


def _away(inside: Point, angle: float) -> Point:
    """Out of a bend, and outward of it where it points clockwise, else inward: bends of neighbours face each other."""
    cos, sin = math.cos(angle), math.sin(angle)
    clockwise = inside[1] * cos - inside[0] * sin > 0
    side = ASIDE if clockwise else -ASIDE
    return _unit(side * cos - inside[0], side * sin - inside[1])


def _unit(x: float, y: float) -> tuple[float, float]:
    size = math.hypot(x, y)
    return (x / size, y / size) if size > 0 else (1.0, 0.0)
