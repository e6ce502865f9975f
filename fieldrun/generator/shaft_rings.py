"""The part of a winding's current that runs round the shaft: it feels where steel discs end, as its poles do not.

A wave that goes once round the ring is a turn round the shaft, besides its poles. Averaged over a turn, every winding
is a set of coaxial rings; that average meets a disc of infinite permeability with a hole and a rim, and leaves all else
to the images.
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

PANELS = 32
"""Rings of charge on each disc, finer towards its edges: one per cent of what the disc adds, or less."""

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


def disc_rings_sum(a: Rings, b: Rings, plates: Plates) -> float:
    """What discs with a hole and a rim add to Neumann's integral of rings with rings [m].

    On a thin disc of infinite permeability charges gather until its potential is even; no disc gains charge as a whole.
    With phi the rings' own potential at the discs and K the mean of 1/R from ring of charge to ring of charge, they add
    (4 pi)^2 phi' K^-1 phi, phi less its mean in the sense of K^-1. Thickness and saturation of the discs are left out.

    Parameters
    ----------
    a, b : rings of two phases
    plates : with radii
    """
    if not len(a.radius) or not len(b.radius) or plates.radii_m is None:
        return 0.0
    edges = _panel_edges(*plates.radii_m)
    radius, height = (part.ravel() for part in np.meshgrid((edges[1:] + edges[:-1]) / 2, plates.heights_m))
    widths = np.tile(np.diff(edges), len(plates.heights_m))
    even = np.kron(np.eye(len(plates.heights_m)), np.ones((PANELS, 1)))
    potential = [_potential(rings, edges, plates.heights_m) for rings in (a, b)]
    solved = np.linalg.solve(_ring_to_ring(radius, height, widths), np.column_stack([potential[0], even]))
    charge, pull = solved[:, 0], solved[:, 1:]
    charge = charge - pull @ np.linalg.solve(even.T @ pull, even.T @ charge)
    return float((4 * np.pi) ** 2 * charge @ potential[1])


def _panel_edges(inner: float, outer: float) -> Floats:
    return np.asarray((inner + outer) / 2 - (outer - inner) / 2 * np.cos(np.linspace(0, np.pi, PANELS + 1)))


def _ring_to_ring(radius: Floats, height: Floats, widths: Floats) -> Floats:
    """Mean of 1/R between rings, (2 / pi) K(k) / sqrt((r + r')^2 + z^2), over its own width for a ring with itself."""
    span = (radius[:, None] + radius) ** 2 + (height[:, None] - height) ** 2
    square = 4 * radius[:, None] * radius / span
    np.fill_diagonal(square, 0.0)
    mean = 2 / np.pi * ellipk(square) / np.sqrt(span)
    np.fill_diagonal(mean, (np.log(16 * radius / widths) + 1) / (np.pi * radius))
    return np.asarray(mean)


def _potential(rings: Rings, edges: Floats, heights_m: tuple[float, ...]) -> Floats:
    """Potential of rings of current at the panels of each disc, up to a constant for each: minus integral of H_r dr."""
    node, weight = np.polynomial.legendre.leggauss(4)
    middle = (edges[1:] + edges[:-1]) / 2
    half = np.diff(middle) / 2
    radius = ((middle[1:] + middle[:-1])[:, None] / 2 + half[:, None] * node).ravel()
    parts = []
    for height in heights_m:
        field = _radial_field(rings.radius[:, None], radius, height - rings.height[:, None])
        steps = (rings.turns @ field).reshape(len(half), -1) @ weight * half
        parts.append(-np.concatenate([[0.0], np.cumsum(steps)]))
    return np.concatenate(parts)


def _radial_field(ring: Floats, radius: Floats, above: Floats) -> Floats:
    """H_r of a circle of unit current (W. R. Smythe, Static and Dynamic Electricity, ch. 7; from memory) [1/m]."""
    span = (ring + radius) ** 2 + above**2
    square = 4 * ring * radius / span
    share = (ring**2 + radius**2 + above**2) / ((ring - radius) ** 2 + above**2)
    return np.asarray(above / (2 * np.pi * radius * np.sqrt(span)) * (share * ellipe(square) - ellipk(square)))
