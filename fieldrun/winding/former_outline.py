"""The edge of a former as strokes: what a saw follows, or with no kerf what the finished board is."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from fieldrun.winding.former import Former
from fieldrun.winding.stations import Station

Point = tuple[float, float]


@dataclass(frozen=True)
class Stroke:
    """A straight line, or an arc about `centre` that runs counterclockwise or, `left` being False, clockwise [m]."""

    start: Point
    end: Point
    centre: Point | None = None
    left: bool = True


@dataclass(frozen=True)
class Round:
    """A whole circle [m]."""

    centre: Point
    radius: float


Contour = tuple[Stroke, ...] | Round
"""A closed line; strokes follow each other."""


@dataclass(frozen=True)
class Outline:
    """A board: its outer edge and everything cut out of it. Holes neither touch each other nor the edge."""

    edge: Contour
    holes: tuple[Contour, ...]


@dataclass(frozen=True)
class _Slot:
    """A notch as cut: middle of its round end [m], angle that points away from the axis [rad], half its width [m]."""

    x: float
    y: float
    angle: float
    half: float

    def at(self, outward: float, along: float) -> Point:
        cos, sin = math.cos(self.angle), math.sin(self.angle)
        return self.x + outward * cos - along * sin, self.y + outward * sin + along * cos


def outline_of(former: Former, *, kerf: bool) -> Outline:
    """Draw a former's edge.

    Parameters
    ----------
    former : the board
    kerf : with it, lines run half a kerf inside what falls away, so that the board left has its size
    """
    off = former.plan.kerf_m / 2 if kerf else 0.0
    edge, hub = former.outer_radius_m + off, former.hub_radius_m - off
    pins = [Round(station.xy_m, former.pin_m / 2 - off) for station in former.stations if _is_pin(former, station)]
    outer = _slots(former, "outer", off)
    inner = _slots(former, "inner", off)
    hole = _toothed(inner, hub, _inner_notch) if former.opens else Round((0.0, 0.0), hub)
    inward = min(former.slot_m, _radius(inner) / 2) - former.notch_m / 2
    closed = [] if former.opens else [_closed(slot, inward) for slot in inner]
    return Outline(_toothed(outer, edge, _outer_notch), (hole, *closed, *pins))


def _is_pin(former: Former, station: Station) -> bool:
    return station.kind == "corner" or not former.notched


def _slots(former: Former, kind: str, off: float) -> list[_Slot]:
    """Notches at one kind of end in counterclockwise order; none where the ends are pins."""
    own = former.of_kind(kind) if former.notched else ()
    ordered = sorted(own, key=lambda station: station.angle_rad % (2 * math.pi))
    return [_Slot(*station.xy_m, station.angle_rad, former.notch_m / 2 - off) for station in ordered]


def _radius(slots: list[_Slot]) -> float:
    return math.hypot(slots[0].x, slots[0].y) if slots else 0.0


def _toothed(slots: list[_Slot], radius: float, notch: Callable[[_Slot, float], tuple[Stroke, ...]]) -> Contour:
    """A circle with notches in it, counterclockwise."""
    if not slots:
        return Round((0.0, 0.0), radius)
    notches = [notch(slot, radius) for slot in slots]
    strokes: list[Stroke] = []
    for own, following in zip(notches, [*notches[1:], notches[0]], strict=True):
        strokes += [*own, Stroke(own[-1].end, following[0].start, (0.0, 0.0))]
    return tuple(strokes)


def _lip(slot: _Slot, radius: float, along: float) -> Point:
    """Where a notch's wall meets a circle about the axis."""
    outward = math.sqrt(radius**2 - along**2) - math.hypot(slot.x, slot.y)
    return slot.at(outward, along)


def _outer_notch(slot: _Slot, radius: float) -> tuple[Stroke, ...]:
    return _walls(slot, radius, left=False)


def _inner_notch(slot: _Slot, radius: float) -> tuple[Stroke, ...]:
    return _walls(slot, radius, left=True)


def _walls(slot: _Slot, radius: float, *, left: bool) -> tuple[Stroke, ...]:
    h = slot.half
    before, after = slot.at(0, -h), slot.at(0, h)
    end = Stroke(before, after, (slot.x, slot.y), left)
    return Stroke(_lip(slot, radius, -h), before), end, Stroke(after, _lip(slot, radius, h))


def _closed(slot: _Slot, inward: float) -> Contour:
    h, far = slot.half, slot.at(-inward, 0)
    a, b, c, d = slot.at(0, -h), slot.at(0, h), slot.at(-inward, h), slot.at(-inward, -h)
    return Stroke(a, b, (slot.x, slot.y)), Stroke(b, c), Stroke(c, d, far), Stroke(d, a)
