"""Where a level line z = constant runs through the regions of a section, and where it is free of them."""

from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.field.section import Section

NUDGE = 1e-6
"""How far above and below the level is looked to tell a region's inside from its edge, in heights of the box."""


def free_stretches(section: Section, height_m: float) -> list[tuple[float, float]]:
    """Stretches of a level that run through air or along the edges of regions, left to right [m]."""
    step = NUDGE * (section.top_m - section.bottom_m)
    x = np.unique([0.0, section.width_m, *(c for r in section.regions for c in _cuts(np.array(r.polygon_m), height_m))])
    free = [(a, b) for a, b in pairwise(x) if not _through(section, (a + b) / 2, height_m, step)]
    return [(float(a), float(b)) for a, b in free]


def _through(section: Section, x: float, z: float, step: float) -> bool:
    """Whether just above and just below lie in one and the same region."""
    for region in section.regions:
        polygon = np.array(region.polygon_m)
        if _inside(polygon, x, z + step) and _inside(polygon, x, z - step):
            return True
    return False


def _cuts(polygon: Floats, height_m: float) -> Floats:
    """Places where a polygon's sides meet a level; both ends of a side along it."""
    start, end = polygon, np.roll(polygon, -1, axis=0)
    rise = end[:, 1] - start[:, 1]
    s = np.divide(height_m - start[:, 1], rise, out=np.full(len(rise), np.inf), where=rise != 0)
    crossing = (s >= 0) & (s <= 1)
    along = (rise == 0) & (start[:, 1] == height_m)
    cut = start[crossing, 0] + s[crossing] * (end - start)[crossing, 0]
    return np.concatenate([cut, start[along, 0], end[along, 0]])


def _inside(polygon: Floats, x: float, z: float) -> bool:
    """Even or odd number of sides to the right of a point."""
    start, end = polygon, np.roll(polygon, -1, axis=0)
    spans = (start[:, 1] > z) != (end[:, 1] > z)
    rise = np.where(spans, end[:, 1] - start[:, 1], 1.0)
    at = start[:, 0] + (z - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
    return bool(np.count_nonzero(spans & (at > x)) % 2)
