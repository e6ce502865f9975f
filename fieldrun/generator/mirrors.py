"""Steel discs as mirrors for the currents between them: where they stand, and which images of the winding count."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.model import Magnets, Plate, Rotor
from fieldrun.winding.meetings import Image

DEAD = 7.0
"""Poles of a winding cancel over distance z like exp(-p z / r); beyond this exponent nothing is left of them."""

DISTANT = 4.0
"""Radii of a winding beyond which any of its loops is as good as one on the axis."""


@dataclass(frozen=True)
class Disc:
    """A disc of infinite permeability: heights of the face towards the winding and of the back [m]; its radii [m]."""

    face_m: float
    back_m: float
    radii_m: tuple[float, float]


@dataclass(frozen=True)
class Plates:
    """No, one or two plates of infinite permeability.

    Parameters
    ----------
    heights_m : of their faces towards the winding, lowest first [m]; magnets between are as air
    discs : the same plates with their edges; none if they have no end
    """

    heights_m: tuple[float, ...] = ()
    discs: tuple[Disc, ...] = ()


NO_STEEL = Plates()
"""Nothing but air and magnets."""


def plates_of(magnets: Magnets, rotor: Rotor) -> Plates:
    """The machine's steel as mirrors; an ideal plate has no end, and then no other has one either."""
    steel = _steel(magnets, rotor)
    heights, radii = tuple(face for face, _, _ in steel), (rotor.steel_inner_radius_m, rotor.steel_outer_radius_m)
    if any(plate.steel is None for _, plate, _ in steel):
        return Plates(heights)
    return Plates(heights, tuple(Disc(face, face + up * plate.thickness_m, radii) for face, plate, up in steel))


def _steel(magnets: Magnets, rotor: Rotor) -> list[tuple[float, Plate, int]]:
    """Face, plate, and which way its back lies."""
    h, gap = magnets.thickness_m, rotor.gap_m
    below = [] if rotor.backing is None else [(-h, rotor.backing, -1)]
    if gap is None:
        return below
    if rotor.faces == 1:
        return below if rotor.return_plate is None else [*below, (gap, rotor.return_plate, 1)]
    return below if rotor.backing is None else [*below, (gap + h, rotor.backing, 1)]


def reach_m(radius_m: float, repeats: int) -> float:
    """Distance beyond which a winding that repeats so many times looks like rings round the shaft [m]."""
    return min(DEAD / repeats, DISTANT) * radius_m


def images(plates: Plates, middle_m: float, within_m: float) -> tuple[Image, ...]:
    """Images of a winding, of two plates those that are not too far away.

    Current along a plate of infinite permeability keeps its direction in the mirror, and so does the mirrored path. Two
    plates H apart mirror each other: z + 2 n H (n not 0) and 2 z0 - z + 2 n H, for ever.

    Parameters
    ----------
    plates : the mirrors, taken without end
    middle_m : height of the winding's middle
    within_m : of two plates' endless images, those whose middle is no farther away than this are taken
    """
    if len(plates.heights_m) < 2:
        return tuple(Image(-1, 2 * height) for height in plates.heights_m)
    low, high = plates.heights_m
    period = 2 * (high - low)
    shifts = period * np.arange(-int(within_m / period) - 2, int(within_m / period) + 3)
    turned = 2 * low + shifts
    straight = shifts[(shifts != 0) & (np.abs(shifts) <= within_m)]
    turned = turned[np.abs(turned - 2 * middle_m) <= within_m]
    return (*(Image(1, float(shift)) for shift in straight), *(Image(-1, float(shift)) for shift in turned))
