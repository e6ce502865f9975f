"""Conductors as lines on paper, seen along the shaft, in millimetres."""

import math
from typing import TYPE_CHECKING

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.units import MM
from fieldrun.winding.pieces import LINE, Pieces, points_along
from fieldrun.winding.sampling import selected

if TYPE_CHECKING:
    from matplotlib.path import Path

BEND_STEP = 0.06
"""Largest turn [rad] between two points drawn along a curved piece; a straight one needs its two ends only."""


def plan_points(pieces: Pieces, fraction: Floats, turn_rad: float) -> Floats:
    """Points along every piece, seen from above.

    Parameters
    ----------
    pieces : m pieces
    fraction : (q,) 0 at a piece's start, 1 at its end
    turn_rad : the drawing is turned by this much

    Returns
    -------
    (m, q, 2) x, y [mm]
    """
    points = points_along(pieces, np.broadcast_to(fraction, (pieces.count, len(fraction))))
    radius, angle = points[:, :, 0] / MM, points[:, :, 1] + turn_rad
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=2)


def wire_path(own: Pieces, turn_rad: float) -> "Path":
    """Wire as one path: the pen is lifted only where the wire is, so that dashes run on round corners."""
    from matplotlib.path import Path  # the page's own drawings need all but this

    turns = np.abs(own.end[:, 1] - own.start[:, 1])
    count = 2 + math.ceil(float(np.max(turns[own.kind != LINE], initial=0.0)) / BEND_STEP)
    points = plan_points(own, np.linspace(0, 1, count), turn_rad)
    keep = np.ones(points.shape[:2], bool)
    keep[own.kind == LINE, 1:-1] = False
    goes_on = np.zeros(own.count, bool)
    goes_on[1:] = (own.loop[1:] == own.loop[:-1]) & np.all(np.abs(points[1:, 0] - points[:-1, -1]) < 1e-6, axis=1)
    keep[goes_on, 0] = False
    codes = np.full(keep.shape, Path.LINETO, np.uint8)
    codes[~goes_on, 0] = Path.MOVETO
    return Path(points[keep], codes[keep])


def phase_pieces(pieces: Pieces, phase: int) -> Pieces:
    """Pieces of one phase only."""
    return selected(pieces, np.flatnonzero(pieces.phase == phase))


def phase_start(pieces: Pieces, phase: int, turn_rad: float) -> tuple[float, float]:
    """Where the winder begins a phase: the start of its first piece, x and y [mm]."""
    x, y = plan_points(phase_pieces(pieces, phase), np.zeros(1), turn_rad)[0, 0]
    return float(x), float(y)


def within(pieces: Pieces, phase: int, centre_rad: float, half_rad: float) -> Ints:
    """Numbers (k,) of a phase's pieces that reach into a sector of the disc."""
    middle = (pieces.start[:, 1] + pieces.end[:, 1]) / 2
    reach = half_rad + np.abs(pieces.end[:, 1] - pieces.start[:, 1]) / 2
    away = np.abs((middle - centre_rad + np.pi) % (2 * np.pi) - np.pi)
    return np.asarray(np.flatnonzero((pieces.phase == phase) & (away <= reach)))
