"""Conductors as plain arrays: one row per piece, whatever shape or file they came from."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array

LINE, ARC, SPIRAL = 0, 1, 2
"""Kinds of piece: straight in space; constant radius with z linear; r, theta and z all linear."""

EDGE_NAMES = ("line", "arc", "spiral")
"""How path files spell the kinds, by number."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Directed conductor pieces in disc coordinates; a closed loop's pieces follow each other in winding order.

    Parameters
    ----------
    kind : (m,) LINE, ARC or SPIRAL
    start, end : (m, 3) radius [m], angle [rad, never wrapped], height [m]
    phase : (m,) 0-based phase that the piece belongs to
    loop : (m,) number of the closed loop that the piece belongs to, ascending over the whole winding
    """

    kind: Ints
    start: Floats
    end: Floats
    phase: Ints
    loop: Ints

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("kind", "phase", "loop"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))
        for name in ("start", "end"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def count(self) -> int:
        """Number of pieces."""
        return len(self.kind)


def points_along(pieces: Pieces, fraction: Floats) -> Floats:
    """Points inside pieces.

    Parameters
    ----------
    pieces : m pieces
    fraction : (m, q) position along each piece, 0 at its start, 1 at its end (of the straight line for LINE)

    Returns
    -------
    (m, q, 3) radius [m], angle [rad, continuous with the piece's start], height [m]
    """
    linear = pieces.start[:, None, :] + fraction[:, :, None] * (pieces.end - pieces.start)[:, None, :]
    r0, r1 = pieces.start[:, None, 0], pieces.end[:, None, 0]
    turn = (pieces.end - pieces.start)[:, None, 1]
    # seen from the start's own direction the end stands at angle `turn`, which for a straight line is under half a turn
    x = (1 - fraction) * r0 + fraction * r1 * np.cos(turn)
    y = fraction * r1 * np.sin(turn)
    straight = np.stack([np.hypot(x, y), pieces.start[:, None, 1] + np.arctan2(y, x), linear[:, :, 2]], axis=2)
    return np.where((pieces.kind == LINE)[:, None, None], straight, linear)


def lengths(pieces: Pieces) -> Floats:
    """Length of each piece, (m,) [m].

    Line: distance in space. Arc and spiral, with r, theta and z linear in s: ds = sqrt(r'^2 + z'^2 + (r theta')^2),
    in closed form (the antiderivative of sqrt(a^2 + b^2 r^2) over r, as for the Archimedean spiral).
    """
    r0, r1 = pieces.start[:, 0], pieces.end[:, 0]
    dr, turn, dz = (pieces.end - pieces.start).T
    chord = np.sqrt(r0**2 + r1**2 - 2 * r0 * r1 * np.cos(turn) + dz**2)
    return np.asarray(np.where(pieces.kind == LINE, chord, _curve_length(r0, dr, turn, dz)))


def _curve_length(r0: Floats, dr: Floats, turn: Floats, dz: Floats) -> Floats:
    a = np.hypot(dr, dz)
    steady = np.hypot(a, r0 * turn)  # constant radius: a helix
    b = np.where(turn == 0, 1.0, np.abs(turn))
    changing = (dr != 0) & (turn != 0)
    safe_dr, safe_a = np.where(changing, dr, 1.0), np.where(changing, a, 1.0)

    def antiderivative(r: Floats) -> Floats:
        return np.asarray(r / 2 * np.hypot(safe_a, b * r) + safe_a**2 / (2 * b) * np.arcsinh(b * r / safe_a))

    return np.asarray(np.where(changing, (antiderivative(r0 + dr) - antiderivative(r0)) / safe_dr, steady))
