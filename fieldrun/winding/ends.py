"""The bundles of end arcs: legs lie side by side in their sheets, arcs lie on top of each other on the two circles."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.winding.pieces import ARC, Pieces

SAME_RADIUS_DIGITS = 9
"""Radii that agree to so many decimals [m] are one circle."""


@dataclass(frozen=True)
class EndBundle:
    """The end arcs that lie on one circle, where they are thickest.

    Parameters
    ----------
    radius_m : the circle
    wires : most arcs that pass one angle, over all phases and layers
    height_m : height of the bundle there, taken as high as it is wide: the wires in ceil(sqrt(wires)) rows
    """

    radius_m: float
    wires: int
    height_m: float


def end_bundles(pieces: Pieces, wire_diameter_m: float) -> tuple[EndBundle, ...]:
    """One bundle for every circle that arcs lie on, innermost first; none if there are no arcs."""
    arcs = pieces.kind == ARC
    radius = np.round(pieces.start[arcs, 0], SAME_RADIUS_DIGITS)
    spans = np.sort(np.stack([pieces.start[arcs, 1], pieces.end[arcs, 1]], axis=1), axis=1)
    circles = np.unique(radius)
    wires = [_most_over(spans[radius == circle]) for circle in circles]
    return tuple(
        EndBundle(float(circle), count, wire_diameter_m * math.ceil(math.sqrt(count)))
        for circle, count in zip(circles, wires, strict=True)
    )


def _most_over(spans: Floats) -> int:
    """Most of these stretches of angle (low, high) that cover one point of the circle; touching is not overlapping."""
    whole = 2 * np.pi
    laps = np.floor((spans[:, 1] - spans[:, 0]) / whole)
    low = np.mod(spans[:, 0], whole)
    high = low + (spans[:, 1] - spans[:, 0]) - whole * laps
    past = high[high > whole] - whole
    marks = np.round(np.concatenate([np.minimum(high, whole), past, low, np.zeros(len(past))]), 9)
    change = np.repeat([-1, 1], len(low) + len(past))
    order = np.lexsort((change, marks))
    return int(laps.sum()) + int(np.max(np.cumsum(change[order]), initial=0))
