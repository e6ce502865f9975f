"""From ring potentials to the field in the gap: flux through mesh lines first, then heights in between.

The flux density across a mesh line comes from the weak form, INT B . grad v over the elements on one side of the line:
a residual, which converges twice as fast as a gradient taken inside an element. Potential and slope on the lines and
the potential halfway then fix one quartic over the height of each element.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_system import RingSystem
from fieldrun.field.slices import OPEN_REACH

HEIGHTS_PER_ELEMENT = 4
"""Heights of the map in each element of the gap: splines between them leave nothing out that the mesh has."""

APART_PITCHES = 2e-3
"""Least distance of a map's radii, in pole pitches."""


@dataclass(frozen=True, eq=False)
class AirGap:
    """The potential in the air over the magnets' face, as far as it is meshed.

    Parameters
    ----------
    lines_m : (l,) lines of the mesh from the face up [m]
    potential : (n, r, 2 l - 1) over all radii and the nodes of the lines [A]
    """

    lines_m: Floats
    potential: Floats


def air_gap(system: RingSystem, potential: Floats) -> AirGap:
    """Cut the air over the face out of a potential over all nodes, (n, r, z) [A]."""
    mesh = system.mesh
    return AirGap(mesh.axial.vertices_m[mesh.gap.first : mesh.gap.end + 1], potential[:, :, mesh.gap.nodes])


def map_of(system: RingSystem, gap: AirGap, magnets: Magnets, rotor: Rotor) -> FieldMap:
    """The field map of solved rings.

    Parameters
    ----------
    system : the rings, for radii and harmonics
    gap : their potential over the face
    magnets, rotor : the machine
    """
    waves, radii = system.waves, system.mesh.radial.nodes_m
    heights = _lower_heights(gap.lines_m, magnets, rotor)
    value, slope = at_heights(system, gap, heights)
    kept, steepness = _radii(radii.tobytes(), APART_PITCHES * math.pi / magnets.pole_pairs)
    r, value, slope = radii[kept], value[:, kept], slope[:, kept]
    both = rotor.faces == 2
    b_r, b_theta, b_z = (_whole(one, sign, both) for one, sign in ((-steepness @ value, -1), (value, -1), (-slope, 1)))
    b_theta *= -1j * waves[:, None, None] / r[:, None]  # a sine is minus the imaginary unit times the wave
    return FieldMap(
        pole_pairs=magnets.pole_pairs,
        orders=waves // magnets.pole_pairs,
        radii_m=r,
        heights_m=np.concatenate([heights, (rotor.gap_m or 0.0) - heights[-2::-1]]) if both else heights,
        b_r_t=b_r,
        b_theta_t=b_theta,
        b_z_t=b_z,
        open_above=rotor.gap_m is None,
    )


def _whole(lower: Floats, sign: int, both: bool) -> Complexes:
    """Amplitudes [T] from gradients [A/m], (n, r, z), of both halves between two faces: unlike poles mirror each other.

    In the middle between them the potential is zero, and its slope over height is even.
    """
    count = lower.shape[2]
    out = np.zeros((*lower.shape[:2], 2 * count - 1 if both else count), complex)
    np.multiply(lower, MU0, out=out.real[:, :, :count])
    if both:
        np.multiply(lower[:, :, -2::-1], sign * MU0, out=out.real[:, :, count:])
    return out


def _lower_heights(lines: Floats, magnets: Magnets, rotor: Rotor) -> Floats:
    """Heights of the map, as close together as the mesh's lines are; up to `OPEN_REACH` over an open face.

    Of two faces those up to the middle of the gap.
    """
    steps = np.arange(HEIGHTS_PER_ELEMENT) / HEIGHTS_PER_ELEMENT
    lower = np.append((lines[:-1, None] + np.outer(np.diff(lines), steps)).ravel(), lines[-1])
    if rotor.gap_m is None:
        reach = OPEN_REACH * math.pi * mean_radius_m(magnets) / magnets.pole_pairs
        return np.append(lower[lower < reach * (1 - 1e-6)], reach)
    return lower


@lru_cache(maxsize=8)
def _radii(nodes: bytes, share: float) -> tuple[Ints, Floats]:
    """Which nodes' radii the map has, and the slopes there of splines through values at them, (r, r) [1/m]."""
    radii = np.frombuffer(nodes)
    kept = _apart(radii[1:-1], share) + 1
    return kept, np.asarray(CubicSpline(radii[kept], np.eye(len(kept)))(radii[kept], 1))


def _apart(radii: Floats, share: float) -> Ints:
    """Indices of radii that are apart by this share of themselves: splines through closer ones show their errors."""
    kept = [0]
    for index, radius in enumerate(radii):
        if radius - radii[kept[-1]] > share * radius:
            kept.append(index)
    return np.array(kept)


def at_heights(system: RingSystem, gap: AirGap, heights_m: Floats) -> tuple[Floats, Floats]:
    """Potential [A] and its slope over height [A/m] in the air above the magnets, each (n, r, heights)."""
    lines = gap.lines_m
    element = np.clip(np.searchsorted(lines, heights_m, side="right") - 1, 0, len(lines) - 2)
    length = np.diff(lines)[element]
    nodes = 2 * len(lines) - 1
    places = np.stack([2 * element, 2 * element + 1, 2 * element + 2, nodes + element, nodes + element + 1])
    value, rise = _quartic((heights_m - lines[element]) / length)
    scale = np.stack([np.ones_like(length)] * 3 + [length] * 2)
    shares = np.zeros((2, nodes + len(lines), len(heights_m)))
    shares[:, places, np.arange(len(heights_m))] = value * scale, rise * scale / length
    data = np.concatenate([gap.potential, line_slopes(system, gap)], axis=2)
    return data @ shares[0], data @ shares[1]


def _quartic(t: Floats) -> tuple[Floats, Floats]:
    """Shares at t of values at 0, 1/2, 1 and slopes at 0, 1 in a quartic and in its derivative, (5, h) each."""
    powers = np.arange(5)
    rows = [0.0**powers, 0.5**powers, np.ones(5), powers * 0.0 ** np.maximum(powers - 1, 0), powers * 1.0]
    shares = np.linalg.inv(np.array(rows)).T
    monomials = t ** powers[:, None]
    derivatives = powers[:, None] * t ** np.maximum(powers - 1, 0)[:, None]
    return np.asarray(shares @ monomials), np.asarray(shares @ derivatives)


def line_slopes(system: RingSystem, gap: AirGap) -> Floats:
    """Slope of the potential over height on the mesh lines of the air above the magnets, (n, r, lines) [A/m].

    Each line takes the elements above it, the last line those below.
    """
    flux = _weak_flux(system, gap)
    orders, nodes, count = flux.shape
    massy = system.air.values[1:-1, 1:-1]
    solved = np.linalg.solve(massy, flux[:, 1:-1].transpose(1, 0, 2).reshape(nodes - 2, -1))
    out = np.zeros_like(flux)
    out[:, 1:-1] = solved.reshape(nodes - 2, orders, count).transpose(1, 0, 2)
    return out


def _weak_flux(system: RingSystem, gap: AirGap) -> Floats:
    """INT (d_z phi) v r dr along the lines, (n, r, lines), from the elements above each, below the last.

    One row of the matrices of a second-order element of length L: INT N_0 N dz = L / 30 (4, 2, -1) and
    INT N_0' N' dz = (7, -8, 1) / (3 L), the nodes counted from the line.
    """
    lengths = np.diff(gap.lines_m)
    count = len(lengths)
    massy, stiff = np.zeros((2, 2 * count + 1, count + 1))
    for line in range(count + 1):
        above = line < count
        nodes = 2 * line + (1 if above else -1) * np.arange(3)
        length, sign = lengths[min(line, count - 1)], -1.0 if above else 1.0
        massy[nodes, line] = sign * length / 30 * np.array([4.0, 2.0, -1.0])
        stiff[nodes, line] = sign * np.array([7.0, -8.0, 1.0]) / (3 * length)
    sides = system.air.slopes + system.air.turns
    return np.asarray(sides @ (gap.potential @ massy) + system.air.values @ (gap.potential @ stiff))
