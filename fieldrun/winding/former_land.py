"""How much wood is left between neighbouring notches or pins."""

import math
from itertools import pairwise

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
