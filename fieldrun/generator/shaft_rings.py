"""A winding averaged over a turn round the shaft: coaxial rings, their integrals and their images.

A wave that goes once round the ring is a turn round the shaft, besides its poles. From a distance nothing else is left
of it, and it feels where steel discs end as its poles do not (`ring_discs`).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe, ellipk

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.generator.mirrors import Plates
from fieldrun.winding.combs import Families
from fieldrun.winding.filaments import ring_turns
from fieldrun.winding.meetings import Image
from fieldrun.winding.pieces import Pieces

DIPOLES = 15.0
"""Radii beyond which rings are as good as dipoles."""

MANY_PERIODS = 10
"""And steps from image to image after which the rest is a smooth sum."""

NOTHING = 1e-9
"""Turns round the shaft that are rounding, as a share of all that cancel."""

RINGS_AT_MOST = 256
"""More distinct rings than this are put on a grid of a hundredth of the largest radius."""


@dataclass(frozen=True, eq=False)
class Rings:
    """A phase averaged over a turn: (k,) radii [m], heights [m] and turns, counterclockwise positive."""

    radius: Floats
    height: Floats
    turns: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radius", "height", "turns"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def rings_of(forms: Pieces, phase: Families) -> Rings:
    """Rings of a phase; none if its turns round the shaft cancel at every radius and height.

    Parameters
    ----------
    forms : the distinct pieces, each starting at height 0
    phase : its families
    """
    form, radius, height, turns = ring_turns(forms)
    family, ring = np.nonzero(phase.form[:, None] == form)
    places = np.column_stack([radius[ring], height[ring] + phase.height_m[family]])
    own, total = turns[ring] * phase.sizes[family], float(np.sum(np.abs(turns[ring]) * phase.sizes[family]))
    place, which = np.unique(np.round(places, 9), axis=0, return_inverse=True)
    if len(place) > RINGS_AT_MOST:
        grid = float(radius.max()) / 100
        place, which = np.unique(np.round(places / grid), axis=0, return_inverse=True)
        place *= grid
    summed = np.bincount(which.reshape(-1), own, len(place)).astype(float)
    there = np.abs(summed) > NOTHING * total
    return Rings(place[there, 0], place[there, 1], summed[there])


def image_rings_sum(a: Rings, b: Rings, images: tuple[Image, ...]) -> float:
    """Neumann's integral of rings with images of others [m]."""
    total = 0.0
    for image in images:
        distance = image.sign * b.height + image.shift_m - a.height[:, None]
        total += float(a.turns @ coaxial(a.radius[:, None], b.radius, distance) @ b.turns)
    return total


def coaxial(radius: Floats, other: Floats, distance: Floats) -> Floats:
    """Neumann's integral of two coaxial circles [m].

    4 pi sqrt(r r') ((2/k - k) K - (2/k) E), k^2 = 4 r r' / ((r + r')^2 + z^2) (J. C. Maxwell, A Treatise on Electricity
    and Magnetism (1873), art. 701; from memory).

    Parameters
    ----------
    radius, other, distance : shapes that broadcast [m]; circles that do not touch
    """
    square = 4 * radius * other / ((radius + other) ** 2 + distance**2)
    k = np.sqrt(square)
    return np.asarray(4 * np.pi * np.sqrt(radius * other) * ((2 / k - k) * ellipk(square) - 2 / k * ellipe(square)))


def far_rings_sum(a: Rings, b: Rings, plates: Plates, beyond_m: float) -> float:
    """Neumann's integral of rings with all far images of others, between two plates without end [m].

    Beyond 15 radii rings are dipoles, 2 A A' / z^3, whose endless rest is summed as an integral: 1/z^3 every 2 H
    amounts to 1 / (4 H z^2), z half a step before its first one.

    Parameters
    ----------
    a, b : rings of two phases, taken at the mean of their heights
    plates : two of them
    beyond_m : distance of the images' middle from where on they count here
    """
    if not len(a.radius) or not len(b.radius):
        return 0.0
    (low, high), middle = plates.heights_m, float(a.height.min() + a.height.max()) / 2
    period = 2 * (high - low)
    last = max(DIPOLES * float(a.radius.max()), MANY_PERIODS * period, beyond_m)
    starts = np.array([period, period, 2 * (middle - low), 2 * (high - middle)])
    distance = (starts[:, None] + period * np.arange(int(last / period) + 1)).ravel()
    distance = distance[(distance > beyond_m) & (distance <= last)]
    near = coaxial(a.radius[:, None, None], b.radius[:, None], distance).sum(axis=2)
    rest_from = starts + period * (np.floor((last - starts) / period) + 1 / 2)
    areas = np.pi**2 * (a.turns @ a.radius**2) * (b.turns @ b.radius**2)
    return float(a.turns @ near @ b.turns + areas * np.sum(2 / (2 * period * rest_from**2)))
