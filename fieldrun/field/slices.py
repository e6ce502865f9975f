"""A field map from sections at several radii, each unrolled flat: no flux passes from one radius to the next.

For magnets about as long as they are far apart this is wrong by several per cent, because flux spreads past the
magnets' inner and outer ends: no answer, but what `verify` holds beside it and the K1 kernel spreads.
"""

import math
from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
from numpy.polynomial import chebyshev

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m, radial_breaks_m

ORDERS = 2 * np.arange(16) + 1
"""Harmonics carried: odd, 1 to 31."""

SECTIONS_PER_STRETCH = {Disc: 31, Block: 11, Arc: 9}
"""Sections between two radii where the covered angle bends: 1 mm over a face they leave 4e-5 of B1 in any harmonic up
to 15 (21 for a disc left 4e-3)."""

RADII_PER_STRETCH = 65
"""Radii at which the map holds values, drawn towards a stretch's ends where a disc's width grows like a square root."""

GAP_HEIGHTS = 41
"""Chebyshev heights across a closed gap."""

OPEN_HEIGHTS = 61
"""Chebyshev heights above one open face, up to `OPEN_REACH`."""

OPEN_REACH = 1.5
"""How high the map of an open face reaches, in pole pitches at the mean radius; under 1 % of the field is left."""

SolveAt = Callable[[Floats, Floats], Iterable[tuple[Complexes, Complexes]]]
"""B_x and B_z amplitudes of `ORDERS`, each (n, z) [T], of the sections at ascending radii (r,), at heights (z,) [m]."""


def map_heights_m(magnets: Magnets, rotor: Rotor) -> Floats:
    """Chebyshev heights (z,) from the lower magnets' face to the gap's top, or `OPEN_REACH` above an open face [m]."""
    if rotor.gap_m is not None:
        return _lobatto(rotor.gap_m, GAP_HEIGHTS)
    pitch = math.pi * mean_radius_m(magnets) / magnets.pole_pairs
    return _lobatto(OPEN_REACH * pitch, OPEN_HEIGHTS)


def _lobatto(top: float, count: int) -> Floats:
    points = top * (1 - np.cos(np.linspace(0, np.pi, count))) / 2
    points[-1] = top
    return np.asarray(points)


def slice_map(magnets: Magnets, rotor: Rotor, solve_at: SolveAt, sections: int | None = None) -> FieldMap:
    """Solve sections over the magnets' radii and join them into a map; no field inside or outside the magnets' ring.

    Assumes the flux of each radius stays at that radius. Between two breaks of the covered angle, r = middle - half
    cos t makes the amplitudes smooth in t (a disc's angle starts like a square root in r); they are solved at Chebyshev
    points of t and interpolated by one polynomial.

    Parameters
    ----------
    magnets, rotor : the machine
    solve_at : solves the sections at many radii
    sections : how many between two breaks; None for `SECTIONS_PER_STRETCH`
    """
    sections = sections or SECTIONS_PER_STRETCH[type(magnets.outline)]
    heights = map_heights_m(magnets, rotor)
    nodes = (1 - np.cos((np.arange(sections) + 0.5) * np.pi / sections)) * np.pi / 2
    dense = np.linspace(0, np.pi, RADII_PER_STRETCH)
    to_dense = np.asarray(np.linalg.solve(_vander(nodes, sections).T, _vander(dense, sections).T).T)
    radii: list[Floats] = []
    theta_parts: list[Complexes] = []
    axial_parts: list[Complexes] = []
    for inner, outer in pairwise(radial_breaks_m(magnets)):
        middle, half = (inner + outer) / 2, (outer - inner) / 2
        solved = list(solve_at(middle - half * np.cos(nodes), heights))
        radii.append(np.concatenate([[inner], (middle - half * np.cos(dense))[1:-1], [outer]]))
        for parts, component in ((theta_parts, 0), (axial_parts, 1)):
            parts.append(_resampled(to_dense, [one[component] for one in solved]))
    b_theta, b_z = np.concatenate(theta_parts, axis=1), np.concatenate(axial_parts, axis=1)
    b_r, is_open = np.zeros_like(b_z), rotor.gap_m is None
    return FieldMap(magnets.pole_pairs, ORDERS, np.concatenate(radii), heights, b_r, b_theta, b_z, is_open)


def _vander(t: Floats, count: int) -> Floats:
    return np.asarray(chebyshev.chebvander(2 * t / np.pi - 1, count - 1), float)


def _resampled(to_dense: Floats, solved: list[Complexes]) -> Complexes:
    return np.asarray(np.einsum("ds,snz->ndz", to_dense, np.stack(solved)))
