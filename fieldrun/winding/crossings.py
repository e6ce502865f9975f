"""Where wires pass a circle round the axis: what a cut through the gap shows of a winding."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.pieces import Pieces, points_along
from fieldrun.winding.sampling import selected

HALVINGS = 50
"""Bisections of a piece: the place is then known to rounding."""

NEARBY = 1e-5
"""Share of a piece over which its slant is taken."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Wires that pass a circle.

    Parameters
    ----------
    theta_rad, height_m : (c,) where [rad], [m]
    outwards : (c,) 1 if the wire runs outwards there, 0 if inwards
    phase : (c,) 0-based
    slant : (c,) how much wider than its diameter a wire is along the circle: 1 / cos of its angle to the radius [1]
    """

    theta_rad: Floats
    height_m: Floats
    outwards: Ints
    phase: Ints
    slant: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("theta_rad", "height_m", "slant"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        for name in ("outwards", "phase"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))


def crossings(pieces: Pieces, radius_m: float) -> Crossings:
    """Find where pieces with one end inside and the other outside a circle pass it.

    Parameters
    ----------
    pieces : conductors
    radius_m : of the circle [m]
    """
    inside = pieces.start[:, 0] < radius_m, pieces.end[:, 0] < radius_m
    legs = selected(pieces, inside[0] != inside[1])
    outwards = legs.start[:, 0] < radius_m
    low, high = np.zeros(legs.count), np.ones(legs.count)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        before = (points_along(legs, middle[:, None])[:, 0, 0] < radius_m) == outwards
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    at = points_along(legs, low[:, None])[:, 0]
    beside = points_along(legs, low[:, None] + NEARBY * np.array([-1.0, 1.0]))
    dr, turn = (beside[:, 1] - beside[:, 0])[:, :2].T
    slant = np.hypot(1, radius_m * turn / dr)
    return Crossings(at[:, 1], at[:, 2], outwards.astype(np.int64), legs.phase, slant)
