"""Where the wire changes its direction: the places that need a notch or a pin, numbered as the winder meets them."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import LINE, Pieces
from fieldrun.winding.walk import Loops

Kind = Literal["inner", "outer", "corner"]

PHASE_LETTERS = "ABC"

SAME_M = 1e-9
"""Ends that are nearer to each other are one place; a piece that is shorter, seen along the shaft, has no direction."""

STRAIGHT_ON = np.radians(1.0)
"""A wire that turns by less needs nothing to hold it."""

ON_CIRCLE_M = 1e-6
"""A place so near to the winding's inner or outer radius is an end."""


@dataclass(frozen=True)
class Station:
    """One notch or pin: phase letter and number in winding order, place [m, rad], kind, and wires that pass it."""

    phase: int
    number: int
    radius_m: float
    angle_rad: float
    kind: Kind
    wires: int

    @property
    def label(self) -> str:
        """What is written beside it: `A7`."""
        return f"{PHASE_LETTERS[self.phase]}{self.number}"

    @property
    def xy_m(self) -> tuple[float, float]:
        """Place in the plane of the board, r cos and r sin of its angle [m]."""
        return float(self.radius_m * np.cos(self.angle_rad)), float(self.radius_m * np.sin(self.angle_rad))


@dataclass(frozen=True, eq=False)
class Corners:
    """Every turn of the wire, in winding order.

    Parameters
    ----------
    piece : (c,) the lay's piece that starts there
    loop : (c,) the loop, as a place in `Loops`
    station : (c,) the station that holds it, or that holds the first round's wire which it lies against
    stations : each once, by phases and numbers
    """

    piece: Ints
    loop: Ints
    station: Ints
    stations: tuple[Station, ...]

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("piece", "loop", "station"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))


def corners_of(laid: Lay, loops: Loops, *, every_round: bool) -> Corners:
    """Find the stations of a winding.

    Parameters
    ----------
    laid, loops : the winding
    every_round : a station for every round; else only for each group's first, against which the others lie
    """
    turns = _turning(laid.pieces)
    piece, loop = _in_order(loops, turns)
    home = _own_homes(loops) if every_round else loops.home
    at = piece - loops.first[loop] + loops.first[home[loop]]
    xy, own_xy = _plan(laid.pieces.start[at]), _plan(laid.pieces.start[piece])
    which, seen = _places(xy)
    wires = np.bincount(which, np.hypot(*(xy - own_xy).T) < SAME_M, len(seen)).astype(int)
    rank = np.argsort(np.argsort(laid.pieces.phase[piece[seen]], kind="stable"), kind="stable")
    phases = laid.pieces.phase[piece[seen]]
    places = laid.pieces.start[at[seen]]
    stations = [_station(laid, places[i], int(phases[i]), phases[:i], int(wires[i])) for i in range(len(seen))]
    ordered = [station for _, station in sorted(zip(rank, stations, strict=True), key=lambda pair: int(pair[0]))]
    return Corners(piece, loop, rank[which], tuple(ordered))


def _station(laid: Lay, place: Floats, phase: int, before: Ints, wires: int) -> Station:
    radius = float(place[0])
    kind: Kind = "corner"
    if abs(radius - laid.inner_radius_m) < ON_CIRCLE_M:
        kind = "inner"
    elif abs(radius - laid.outer_radius_m) < ON_CIRCLE_M:
        kind = "outer"
    return Station(phase, int(np.count_nonzero(before == phase)) + 1, radius, float(place[1]), kind, wires)


def _own_homes(loops: Loops) -> Ints:
    """With a station for every round, only further layers share one."""
    key = np.stack([loops.phase, loops.belt, loops.round, loops.turn], axis=1)
    homes = {tuple(key[i]): i for i in np.flatnonzero(loops.layer == 0)}
    return np.array([homes[tuple(row)] for row in key])


def _in_order(loops: Loops, turns: Ints) -> tuple[Ints, Ints]:
    """Pieces that start with a turn, in winding order, and their loops; the first of a loop counts as one."""
    pieces = [loops.first[i] + np.arange(loops.pieces[i]) for i in range(loops.count)]
    level = [own[turns[own] >= 0] for own in pieces]
    kept = [np.r_[own[:1], own[1:][turns[own[1:]] > 0]] for own in level]
    return np.concatenate(kept), np.repeat(np.arange(loops.count), [len(own) for own in kept])


def _places(xy: Floats) -> tuple[Ints, Ints]:
    """Number of each point's place, places in the order in which they first come, and the first point at each."""
    _, first, inverse = np.unique(np.round(xy / SAME_M), axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    return rank[inverse.ravel()], first[order]


def _turning(pieces: Pieces) -> Ints:
    """Whether the wire turns where each piece starts, (m,): 1 if so, 0 if it goes straight on, -1 along the shaft."""
    flat = np.flatnonzero(np.hypot(*(_plan(pieces.end) - _plan(pieces.start)).T) > SAME_M)
    flat = np.union1d(
        flat, np.flatnonzero(pieces.end[:, 1] != pieces.start[:, 1])
    )  # a whole circle ends where it starts
    before = np.roll(flat, 1)
    new = np.flatnonzero(np.r_[True, np.diff(pieces.loop[flat]) != 0])
    before[new] = flat[np.r_[new[1:] - 1, len(flat) - 1]]  # a loop's first piece follows its last one
    leaving, arriving = _directions(pieces)
    cosine = np.sum(arriving[before] * leaving[flat], axis=1)
    out = np.full(pieces.count, -1)
    out[flat] = cosine < np.cos(STRAIGHT_ON)
    return out


def _directions(pieces: Pieces) -> tuple[Floats, Floats]:
    """Unit vectors along every piece at its start and its end, (m, 2), seen along the shaft."""
    chord = _plan(pieces.end) - _plan(pieces.start)
    dr, turn = pieces.end[:, 0] - pieces.start[:, 0], pieces.end[:, 1] - pieces.start[:, 1]
    out = []
    for place in (pieces.start, pieces.end):
        cos, sin, along = np.cos(place[:, 1]), np.sin(place[:, 1]), place[:, 0] * turn
        curved = np.stack([dr * cos - along * sin, dr * sin + along * cos], axis=1)
        own = np.where((pieces.kind == LINE)[:, None], chord, curved)
        size = np.hypot(*own.T)
        out.append(own / np.where(size > 0, size, 1.0)[:, None])
    return out[0], out[1]


def _plan(place: Floats) -> Floats:
    """Cartesian x, y of points (n, 3) in disc coordinates."""
    return np.stack([place[:, 0] * np.cos(place[:, 1]), place[:, 0] * np.sin(place[:, 1])], axis=1)
