"""Pieces as straight filaments in space: what Neumann's integral is taken over, and how near bundled arcs come."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.ends import EndBundle
from fieldrun.winding.pieces import ARC, LINE, Pieces, points_along
from fieldrun.winding.sampling import slopes_along

FILAMENT_TURN = 0.12
"""Most that one filament of an arc or a spiral turns [rad]; a circle's inductance is then right to 0.01 %."""

RING_POINTS = 4
"""Places at which a piece's turn round the shaft is told."""

SQUARE_BUNDLE = 0.447
"""Geometric mean distance in a square over its side (F. W. Grover, Inductance Calculations (1946); from memory)."""


@dataclass(frozen=True, eq=False)
class Filaments:
    """Straight filaments of distinct pieces, each piece starting at angle 0 and height 0.

    Parameters
    ----------
    ends : (2, 3, f) start and end of each filament, x y z [m], piece after piece
    first : (u + 1,) where the filaments of each piece begin, and their number at last
    level, upright : (u,) whether a piece keeps its height; whether it stands square to the plane
    """

    ends: Floats
    first: Ints
    level: Ints
    upright: Ints

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "ends", frozen_array(self.ends))
        for name in ("first", "level", "upright"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))

    @property
    def counts(self) -> Ints:
        """Filaments of each piece, (u,)."""
        return np.diff(self.first)


def filaments_of(pieces: Pieces) -> Filaments:
    """Cut pieces into straight filaments, ends on the piece; a straight piece stays one.

    Parameters
    ----------
    pieces : u pieces, none without length, as `sampling.distinct` yields them
    """
    rise = pieces.end[:, 2] - pieces.start[:, 2]
    turn = np.abs(pieces.end[:, 1] - pieces.start[:, 1])
    counts = np.where(pieces.kind == LINE, 1, np.maximum(1, np.ceil(turn / FILAMENT_TURN - 1e-9))).astype(np.int64)
    parts = [_cut(pieces, i, int(count)) for i, count in enumerate(counts)]
    upright = (turn == 0) & (pieces.start[:, 0] == pieces.end[:, 0])
    return Filaments(np.concatenate(parts, axis=2), np.concatenate([[0], np.cumsum(counts)]), rise == 0, upright)


def _cut(pieces: Pieces, index: int, count: int) -> Floats:
    one = Pieces(*(getattr(pieces, name)[[index]] for name in ("kind", "start", "end", "phase", "loop")))
    point = points_along(one, np.linspace(0, 1, count + 1)[None])[0]
    radius, angle, height = point.T
    if one.kind[0] != LINE and angle[-1] != angle[0]:
        radius = radius + _bulge(one, radius, count)
    xyz = np.array([radius * np.cos(angle), radius * np.sin(angle), height - one.start[0, 2]])
    return np.stack([xyz[:, :-1], xyz[:, 1:]])


def _bulge(piece: Pieces, radius: Floats, count: int) -> Floats:
    """How far outside their piece corners lie, so that the polygon is on average where the piece is [m].

    A chord L of curvature k lies k L^2 / 12 inside on average; k = (r^2 + 2 r'^2) / (r^2 + r'^2)^(3/2), a spiral's with
    r' = dr/dtheta. An arc's corners all move, its ends too, so that the polygon has the circle's area; a spiral's ends
    stay where other pieces join at an angle.
    """
    turn = (piece.end[0, 1] - piece.start[0, 1]) / count
    slope = (piece.end[0, 0] - piece.start[0, 0]) / (turn * count)
    out = turn**2 / 12 * (radius**2 + 2 * slope**2) / radius
    if piece.kind[0] != ARC:
        out[[0, -1]] = 0.0
    return np.asarray(out)


def bundled_apart_m(pieces: Pieces, bundles: tuple[EndBundle, ...], wire_diameter_m: float) -> Floats:
    """How far apart wires are taken that are drawn on top of each other, (u,) [m].

    End arcs are drawn on one circle but lie in a bundle: the mean distance of wires in it, as high as it is wide, and
    never less than two wires that touch. 0 for anything but an arc: it has a place of its own.
    """
    apart = np.zeros(pieces.count)
    for bundle in bundles:
        here = (pieces.kind == ARC) & (np.abs(pieces.start[:, 0] - bundle.radius_m) < 1e-9)
        apart[here] = max(wire_diameter_m, SQUARE_BUNDLE * bundle.height_m)
    return apart


def ring_turns(pieces: Pieces) -> tuple[Ints, Floats, Floats, Floats]:
    """What pieces look like if they stand evenly all round the shaft: turns round it at some places.

    Returns
    -------
    piece (k,), radius (k,) [m], height (k,) [m] and turns (k,) there, counterclockwise positive; none where there are
    none
    """
    node, weight = np.polynomial.legendre.leggauss(RING_POINTS)
    place = np.broadcast_to((node + 1) / 2, (pieces.count, RING_POINTS))
    turns = slopes_along(pieces, place)[:, :, 1] * weight / (4 * np.pi)
    point, there = points_along(pieces, place), turns != 0
    return np.nonzero(there)[0], point[there, 0], point[there, 2], turns[there]
