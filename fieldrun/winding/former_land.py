"""How much wood is left between neighbouring notches or pins."""

import math
from itertools import pairwise

import numpy as np
from scipy.spatial import KDTree

from fieldrun.winding.stations import Station

PIN_M = 0.002
"""A usual nail or panel pin."""


def least_land_m(stations: tuple[Station, ...], kind: str, width: float, radius: float | None) -> float | None:
    """Least wood between neighbours of one kind: between radial slots at a radius, or between round holes [m].

    Walls of two slots, half a width h beside their radii and an angle a apart, are 2 r sin(a/2 - asin(h/r)) from each
    other at radius r; holes, their distance less a diameter. Negative where they overlap.
    """
    own = [station for station in stations if station.kind == kind]
    if len(own) < 2:
        return None
    if radius is None:
        places = sorted((station.xy_m for station in own), key=lambda xy: math.atan2(xy[1], xy[0]))
        return min(math.dist(a, b) for a, b in pairwise([*places, places[0]])) - width
    angles = sorted(station.angle_rad % (2 * math.pi) for station in own)
    apart = min(b - a for a, b in pairwise([*angles, angles[0] + 2 * math.pi]))
    return 2 * radius * math.sin(apart / 2 - math.asin(min(1.0, width / 2 / radius)))


def corner_land_m(stations: tuple[Station, ...], pin: float, end: float) -> float | None:
    """Least wood between pins that stand between the ends, and from them to round ends of width `end` [m].

    None without such pins, or with one alone.
    """
    places = {kind: [s.xy_m for s in stations if (s.kind == "corner") == kind] for kind in (True, False)}
    if not places[True]:
        return None
    pins, ends = (np.array(places[kind]).reshape(-1, 2) for kind in (True, False))
    lands = []
    if len(pins) > 1:
        lands.append(float(np.min(np.asarray(KDTree(pins).query(pins, 2)[0])[:, 1])) - pin)
    if len(ends):
        lands.append(float(np.min(KDTree(ends).query(pins)[0])) - (pin + end) / 2)
    return min(lands, default=None)
