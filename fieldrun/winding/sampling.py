"""Where along conductors to look: pieces alike up to a turn are looked at once, at Gauss points between the breaks."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.pieces import LINE, Pieces, points_along

ALIKE_DIGITS = 12
"""Pieces whose radii, heights [m] and turn [rad] agree to so many decimals are alike."""

SHORT_STRETCH_POINTS, LONG_STRETCH_POINTS = 4, 8
"""Gauss points on a stretch however short, for a cubic times the radius; and more, by its share of its piece, because a
straight line is no polynomial in polar coordinates."""

MOST_TURNING_POINTS = 128
"""More points than this for what a stretch turns are shared among equal parts of it: the nodes of n points cost n^3."""


@dataclass(frozen=True, eq=False)
class Distinct:
    """The different pieces of a winding, turned so that each starts at angle 0.

    Parameters
    ----------
    pieces : (u) one of each kind
    which : (m,) the one that each piece of the winding is a turned copy of
    """

    pieces: Pieces
    which: Ints

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "which", frozen_array(self.which, np.int64))


@dataclass(frozen=True, eq=False)
class Samples:
    """Points on pieces, with what an integral along them needs.

    Parameters
    ----------
    piece : (s,) which piece each point lies on
    point : (s, 3) radius [m], angle [rad], height [m]
    step : (s, 3) the point's share of the piece's path: dr [m], dtheta [rad], dz [m], weights included
    """

    piece: Ints
    point: Floats
    step: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "piece", frozen_array(self.piece, np.int64))
        for name in ("point", "step"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def distinct(pieces: Pieces) -> Distinct:
    """Group pieces that differ by a turn about the axis only, whatever their phase and loop."""
    rows = np.column_stack(
        [
            pieces.kind,
            pieces.start[:, 0],
            pieces.end[:, 0],
            pieces.end[:, 1] - pieces.start[:, 1],
            pieces.start[:, 2],
            pieces.end[:, 2],
        ]
    )
    first, which = _different_rows(np.asarray(np.round(rows, ALIKE_DIGITS), float))
    return Distinct(_from_angle_zero(selected(pieces, first)), which)


def _different_rows(rows: Floats) -> tuple[Ints, Ints]:
    """Where each different row first stands, in ascending order, and which of them every row is.

    As `numpy.unique` along an axis, which compares whole rows one by one and takes ten times as long.
    """
    order = np.lexsort(rows.T[::-1])
    begins = np.ones(len(rows), dtype=bool)
    begins[1:] = np.any(rows[order[1:]] != rows[order[:-1]], axis=1)
    which = np.empty(len(rows), dtype=np.int64)
    which[order] = np.cumsum(begins) - 1
    return order[begins], which


def _from_angle_zero(pieces: Pieces) -> Pieces:
    start, end = pieces.start.copy(), pieces.end.copy()
    end[:, 1] -= start[:, 1]
    start[:, 1] = 0.0
    return Pieces(pieces.kind, start, end, pieces.phase, pieces.loop)


def selected(pieces: Pieces, index: Ints) -> Pieces:
    """Pick pieces by number, (c,), in that order, or by mask, (m,)."""
    return Pieces(pieces.kind[index], pieces.start[index], pieces.end[index], pieces.phase[index], pieces.loop[index])


def slopes_along(pieces: Pieces, fraction: Floats) -> Floats:
    """Derivatives of radius, angle and height with respect to the fraction of the piece.

    Parameters
    ----------
    pieces : m pieces
    fraction : (m, q) as for `points_along`

    Returns
    -------
    (m, q, 3) dr [m], dtheta [rad], dz [m] per unit of fraction
    """
    r0, r1 = pieces.start[:, None, 0], pieces.end[:, None, 0]
    linear = np.broadcast_to((pieces.end - pieces.start)[:, None, :], (*fraction.shape, 3))
    turn = linear[:, :, 1]
    radius = points_along(pieces, fraction)[:, :, 0]
    # a straight line P(f) = A + f D in the plane: dr = P.D / r, dtheta = A x D / r^2
    along = r0 * (r1 * np.cos(turn) - r0) + fraction * (r0**2 + r1**2 - 2 * r0 * r1 * np.cos(turn))
    straight = np.stack([along / radius, r0 * r1 * np.sin(turn) / radius**2, linear[:, :, 2]], axis=2)
    return np.where((pieces.kind == LINE)[:, None, None], straight, linear)


def gauss_samples(pieces: Pieces, breaks_m: Floats, waves: float) -> Samples:
    """Gauss points on pieces, split wherever a piece crosses one of the given radii.

    Parameters
    ----------
    pieces : m pieces
    breaks_m : radii between which the integrand is a cubic in radius, times what the piece itself adds
    waves : angular frequency [1] of the fastest wave exp(j waves theta) in the integrand; a stretch that turns gets
        half a point more for every radian of it
    """
    piece, low, high = _stretches(pieces, breaks_m)
    here = selected(pieces, piece)
    turn = _turns(here, low, high)
    if (waves * turn / 2 > MOST_TURNING_POINTS).any():
        which, low, high = _in_equal_parts(low, high, np.ceil(waves * turn / 2 / MOST_TURNING_POINTS))
        piece, here = piece[which], selected(here, which)
        turn = _turns(here, low, high)
    counts = SHORT_STRETCH_POINTS + np.ceil(LONG_STRETCH_POINTS * (high - low) + waves * turn / 2).astype(np.int64)
    alike = [np.flatnonzero(counts == count) for count in np.unique(counts)]
    parts = [_evenly_sampled(selected(here, k), low[k], high[k], int(counts[k[0]])) for k in alike]
    point, step = (np.concatenate(rows) for rows in zip(*parts, strict=True))
    return Samples(np.concatenate([np.repeat(piece[k], counts[k[0]]) for k in alike]), point, step)


def _turns(here: Pieces, low: Floats, high: Floats) -> Floats:
    """How far each piece turns from `low` to `high` [rad]."""
    angle = points_along(here, np.column_stack([low, high]))[:, :, 1]
    return np.asarray(np.abs(angle[:, 1] - angle[:, 0]))


def _in_equal_parts(low: Floats, high: Floats, parts: Floats) -> tuple[Ints, Floats, Floats]:
    """Divide each stretch into so many, at least one: which stretch each part is of, where it begins and ends."""
    times = np.maximum(parts, 1).astype(np.int64)
    which = np.repeat(np.arange(len(times)), times)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(times) - times, times)
    step = ((high - low) / times)[which]
    last = nth + 1 == times[which]  # ends exactly where the stretch does
    return which, low[which] + nth * step, np.where(last, high[which], low[which] + (nth + 1) * step)


def _evenly_sampled(here: Pieces, low: Floats, high: Floats, count: int) -> tuple[Floats, Floats]:
    """Points and steps on stretches from `low` to `high` of each piece, the same number on each."""
    node, weight = np.polynomial.legendre.leggauss(count)
    middle, half = (low + high)[:, None] / 2, (high - low)[:, None] / 2
    fraction = middle + half * node
    point = points_along(here, fraction)
    point[:, :, 2] = np.round(point[:, :, 2], ALIKE_DIGITS)  # equal heights, up or down, are looked up once
    step = slopes_along(here, fraction) * (half * weight)[:, :, None]
    return point.reshape(-1, 3), step.reshape(-1, 3)


def _stretches(pieces: Pieces, breaks_m: Floats) -> tuple[Ints, Floats, Floats]:
    """Split [0, 1] of every piece at the fractions where it stands on a break: piece, low and high end of each part."""
    cuts = np.sort(
        np.column_stack([np.zeros(pieces.count), np.ones(pieces.count), _crossings(pieces, breaks_m)]), axis=1
    )
    low, high = cuts[:, :-1], cuts[:, 1:]
    piece, part = np.nonzero(high - low > 1e-12)
    return piece, low[piece, part], high[piece, part]


def _crossings(pieces: Pieces, breaks_m: Floats) -> Floats:
    """Fractions at which pieces reach the given radii, (m, 2 breaks); 0 where they do not."""
    r0, r1 = pieces.start[:, :1], pieces.end[:, :1]
    dr = np.where(r1 == r0, 1.0, r1 - r0)
    linear = np.where(r1 == r0, 0.0, (breaks_m - r0) / dr)
    # straight: |A + f D|^2 = break^2
    turn = (pieces.end - pieces.start)[:, 1:2]
    a = r0**2 + r1**2 - 2 * r0 * r1 * np.cos(turn)
    b = r0 * (r1 * np.cos(turn) - r0)
    root = np.sqrt(np.maximum(b**2 - a * (r0**2 - breaks_m**2), 0.0))
    safe = np.where(a == 0, 1.0, a)
    straight = np.where(a == 0, 0.0, np.stack([(-b - root) / safe, (-b + root) / safe]))
    both = np.where(pieces.kind[:, None] == LINE, straight, linear)
    flat = np.concatenate([both[0], both[1]], axis=1)
    return np.where((flat > 0) & (flat < 1), flat, 0.0)
