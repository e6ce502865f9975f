"""The order in which a winding is wound: layer by layer, phase by phase, loop after loop; the links between loops."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.model import Winding
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import lengths
from fieldrun.winding.shapes import SHAPES

COUNTS = ("first", "pieces", "phase", "layer", "belt", "round", "turn", "wire", "home")
"""Fields of `Loops` that hold whole numbers."""


@dataclass(frozen=True, eq=False)
class Loops:
    """Every closed loop of a winding in the order in which it is wound.

    Layers are wound one after the other, in each of them phase after phase. Rounds of an open shape follow each other;
    of a closed shape all turns at one pair of poles are wound before the winder goes on to the next.

    Parameters
    ----------
    first, pieces : (n,) number of a loop's first piece in the lay, and of its pieces
    phase, layer, belt, round, turn : (n,) 0-based; round within its group, turn by pole pairs (of a path, by loops)
    wire : (n,) which of the phase's wires it belongs to: 0, unless groups of rounds are joined in parallel
    home : (n,) the loop's place in this order that stands for it in the first layer's first round
    length_m : (n,) length of its conductor
    link_m : (n,) from the end of the loop before it in the same wire to its start; 0 for a wire's first loop
    """

    first: Ints
    pieces: Ints
    phase: Ints
    layer: Ints
    belt: Ints
    round: Ints
    turn: Ints
    wire: Ints
    home: Ints
    length_m: Floats
    link_m: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in COUNTS:
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))
        for name in ("length_m", "link_m"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def count(self) -> int:
        """Number of loops."""
        return len(self.first)


def loops_of(laid: Lay, winding: Winding) -> Loops:
    """Put a winding's loops in the order of winding.

    Parameters
    ----------
    laid, winding : the winding as laid, and as stated
    """
    first = np.flatnonzero(np.r_[True, np.diff(laid.pieces.loop) > 0])
    phase = laid.pieces.phase[first]
    place = _path_place(laid, phase) if winding.shape == "path" else _place(laid, winding, phase)
    wire = _wires(place, winding)
    closed = winding.shape != "path" and SHAPES[winding.shape].closed
    inner, outer = (place.round, place.turn) if closed else (place.turn, place.round)
    order = np.lexsort((inner, outer, wire, place.belt, place.phase, place.layer))
    pieces, place, wire = np.diff(np.r_[first, laid.pieces.count]), place.taken(order), wire[order]
    return Loops(
        first=first[order],
        pieces=pieces[order],
        phase=place.phase,
        layer=place.layer,
        belt=place.belt,
        round=place.round,
        turn=place.turn,
        wire=wire,
        home=_homes(place),
        length_m=np.add.reduceat(lengths(laid.pieces), first)[order],
        link_m=_links(laid.pieces.start[first[order]], laid.pieces.end[(first + pieces - 1)[order]], place.phase, wire),
    )


@dataclass(frozen=True, eq=False)
class _Place:
    """Where every loop belongs, (n,) each."""

    phase: Ints
    belt: Ints
    layer: Ints
    round: Ints
    turn: Ints

    def taken(self, order: Ints) -> "_Place":
        return _Place(*(column[order] for column in (self.phase, self.belt, self.layer, self.round, self.turn)))


def _place(laid: Lay, winding: Winding, phase: Ints) -> _Place:
    """Of a named shape, in the lay's order."""
    turns = laid.pole_pairs if SHAPES[winding.shape].closed else 1
    shape = (winding.phases, winding.belts, winding.layers, laid.rounds_per_group, turns)
    return _Place(phase, *np.unravel_index(np.arange(len(phase)), shape)[1:])


def _path_place(laid: Lay, phase: Ints) -> _Place:
    """Of a path: copies are its rounds, the file's loops its turns.

    A file that names its phases is copied as a whole, one that does not phase by phase.
    """
    copies, none = laid.rounds_per_group, np.zeros(len(phase), np.int64)
    by_phase = bool(np.all(np.diff(phase) >= 0))
    own = len(phase) // (copies * (len(np.unique(phase)) if by_phase else 1))
    number = np.arange(len(phase))
    return _Place(phase, none, none, number // own % copies, number % own)


def _wires(place: _Place, winding: Winding) -> Ints:
    """Equal groups of rounds in parallel, which the checks have seen to divide the rounds, are wires of their own."""
    groups = np.zeros(len(place.phase), np.int64)
    for k in range(winding.phases):
        own = np.flatnonzero(place.phase == k)
        there = place.taken(own)
        ranked = own[np.lexsort((there.turn, there.round, there.belt, there.layer))]
        groups[ranked] = np.arange(len(own)) * winding.parallel // len(own)
    return groups


def _homes(place: _Place) -> Ints:
    key = np.stack([place.phase, place.belt, place.turn], axis=1)
    homes = {tuple(key[i]): i for i in np.flatnonzero((place.layer == 0) & (place.round == 0))}
    return np.array([homes[tuple(row)] for row in key])


def _links(start: Floats, end: Floats, phase: Ints, wire: Ints) -> Floats:
    """Distance from one loop's end to the next one's start, round the ring where both lie on one circle [m]."""
    out = np.zeros(len(start))
    for k, w in np.unique(np.stack([phase, wire], axis=1), axis=0):
        own = np.flatnonzero((phase == k) & (wire == w))
        out[own[1:]] = _distance(end[own[:-1]], start[own[1:]])
    return out


def _distance(a: Floats, b: Floats) -> Floats:
    turn = np.abs((b[:, 1] - a[:, 1] + np.pi) % (2 * np.pi) - np.pi)
    radius = (a[:, 0] + b[:, 0]) / 2
    return np.asarray(np.sqrt((radius * turn) ** 2 + (b[:, 0] - a[:, 0]) ** 2 + (b[:, 2] - a[:, 2]) ** 2))
