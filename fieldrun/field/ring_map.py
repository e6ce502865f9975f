"""From ring potentials to the field in the gap: flux through mesh lines first, then heights in between.

The flux density across a mesh line comes from the weak form, INT B . grad v over the elements on one side of the line:
a residual, which converges twice as fast as a gradient taken inside an element. Potential and slope on the lines and
the potential halfway then fix one quartic over the height of each element.
"""

import math
from dataclasses import dataclass, replace
from functools import cache, lru_cache

import numpy as np
from scipy.interpolate import CubicSpline

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap, summed
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_system import RadialMatrices, RingSystem
from fieldrun.field.slices import OPEN_REACH

HEIGHTS_PER_ELEMENT = 4
"""Heights of the map in each element of the gap: splines between them leave nothing out that the mesh has."""

KEPT = 128
"""Gaps whose numbers are remembered: they come again with other magnets."""

FEW = 8
"""Sums over the radii that are cheaper taken first."""

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
    """The field map of solved rings: B = -mu0 grad phi in the gap, where nothing is magnetised.

    Parameters
    ----------
    system : the rings, for radii and harmonics; of these, as many as the potential has
    gap : their potential over the face
    magnets, rotor : the machine
    """
    waves, radii = system.waves[: len(gap.potential)], system.mesh.radial.nodes_m
    heights = _lower_heights(gap.lines_m, magnets, rotor)
    kept, steepness = _radii(radii.tobytes(), APART_PITCHES * math.pi / magnets.pole_pairs)
    both = rotor.faces == 2
    value, slope = _shares(gap.lines_m.tobytes(), heights.tobytes())
    along = _Part(system.air, gap, kept, value, mirrored=-1 if both else 0)
    # a sine is minus the imaginary unit times the wave
    around = replace(along, factor=np.asarray(-1j * waves[:, None, None] / radii[kept, None], complex))
    return FieldMap(
        pole_pairs=magnets.pole_pairs,
        orders=waves // magnets.pole_pairs,
        radii_m=radii[kept],
        heights_m=np.concatenate([heights, (rotor.gap_m or 0.0) - heights[-2::-1]]) if both else heights,
        b_r_t=replace(along, steepness=-steepness),
        b_theta_t=around,
        b_z_t=_Part(system.air, gap, kept, -slope, mirrored=1 if both else 0),
        open_above=rotor.gap_m is None,
    )


@dataclass(frozen=True, eq=False)
class _Part:
    """One component of a map, made of the potential where it is asked for.

    Parameters
    ----------
    air, gap : radial matrices of the rings filled with air, and their potential over the face
    kept : (r,) the map's radii among the mesh's
    shares : (nodes + lines, z) of `_data` in potential or slope at the lower heights
    mirrored : sign of the upper half between two faces, where unlike poles mirror each other: in the middle between
        them the potential is zero, and its slope over height is even; 0 where there is no upper half
    steepness : (r, r) slopes over radius to be taken [1/m]
    factor : (n, r, 1) of each harmonic and radius
    """

    air: RadialMatrices
    gap: AirGap
    kept: Ints
    shares: Floats
    mirrored: int
    steepness: Floats | None = None
    factor: Complexes | None = None

    def whole(self) -> Complexes:
        """Amplitudes at all radii and heights."""
        lower = self._amplitudes(self.shares)
        if not self.mirrored:
            return np.asarray(lower, complex)
        return np.asarray(np.concatenate([lower, self.mirrored * lower[:, :, -2::-1]], axis=2), complex)

    def weighted(self, heights: Floats, orders: int | None = None, radii: Floats | None = None) -> Complexes | Floats:
        """Weighted sums over the heights and radii, before anything is multiplied out."""
        count = self.shares.shape[1]
        lower = heights[:count].copy()
        if self.mirrored:
            lower[-2::-1] += self.mirrored * heights[count:]
        shares = self.shares @ lower
        if radii is None or len(radii) > FEW or self.factor is not None:
            found = self._amplitudes(shares, orders)
            return found if radii is None else summed(radii, found)
        return MU0 * self._along(radii if self.steepness is None else radii @ self.steepness, shares, orders)

    def _amplitudes(self, shares: Floats, orders: int | None = None) -> Complexes | Floats:
        found = MU0 * _combined(self.air, self.gap, shares, orders)[:, self.kept]
        if self.steepness is not None:
            found = self.steepness @ found
        return found if self.factor is None else self.factor[:orders] * found

    def _along(self, radii: Floats, shares: Floats, orders: int | None) -> Floats:
        """Sums (n, q, s) of `_combined` by weights (q, r) of the map's radii: over these first, then over heights."""
        potential = self.gap.potential[:orders]
        rows = _rows(self.air, self.kept.tobytes(), radii.tobytes())[: len(potential)]
        nodes, count = potential.shape[2], len(radii)
        massy, stiff = (matrix @ shares[nodes:] for matrix in _weak_flux(self.gap.lines_m.tobytes()))
        own, sides, values = (rows[:, part * count : (part + 1) * count] @ potential for part in range(3))
        return np.asarray(own @ shares[:nodes] + sides @ massy + values @ stiff)


@lru_cache(maxsize=8)
def _rows(air: RadialMatrices, kept: bytes, radii: bytes) -> Floats:
    """What takes a potential's radii to weighted sums of it, and of its weak flux's two parts: (n, 3 q, r)."""
    places, count = np.frombuffer(kept, np.int64), len(air.values)
    own = np.zeros((len(radii) // places.nbytes, count))
    own[:, places] = np.frombuffer(radii).reshape(len(own), -1)
    fluxes = own[:, 1:-1] @ air.inverse
    rows = np.empty((len(air.sides), 3, *own.shape))
    rows[:, 0], rows[:, 1], rows[:, 2] = own, fluxes @ air.sides[:, 1:-1], fluxes @ air.values[1:-1]
    return rows.reshape(len(rows), -1, count)


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


@lru_cache(maxsize=KEPT)
def _shares(ends: bytes, places: bytes) -> tuple[Floats, Floats]:
    """Shares (nodes + lines, heights) of potentials and of slopes on the lines in potential and slope at heights."""
    lines, heights_m = np.frombuffer(ends), np.frombuffer(places)
    element = np.clip(np.searchsorted(lines, heights_m, side="right") - 1, 0, len(lines) - 2)
    length = np.diff(lines)[element]
    nodes = 2 * len(lines) - 1
    where = np.stack([2 * element, 2 * element + 1, 2 * element + 2, nodes + element, nodes + element + 1])
    value, rise = _quartic((heights_m - lines[element]) / length)
    scale = np.stack([np.ones_like(length)] * 3 + [length] * 2)
    shares = np.zeros((2, nodes + len(lines), len(heights_m)))
    shares[:, where, np.arange(len(heights_m))] = value * scale, rise * scale / length
    return shares[0], shares[1]


def _combined(air: RadialMatrices, gap: AirGap, shares: Floats, orders: int | None = None) -> Floats:
    """Sums (n, r, s) of the potential at the nodes and of its slopes on the lines, by shares (nodes + lines, s)."""
    nodes = gap.potential.shape[2]
    return np.asarray(gap.potential[:orders] @ shares[:nodes] + _slopes(air, gap, shares[nodes:], orders))


def _quartic(t: Floats) -> tuple[Floats, Floats]:
    """Shares at t of values at 0, 1/2, 1 and slopes at 0, 1 in a quartic and in its derivative, (5, h) each."""
    powers = np.arange(5)
    shares = _quartic_shares()
    monomials = t ** powers[:, None]
    derivatives = powers[:, None] * t ** np.maximum(powers - 1, 0)[:, None]
    return np.asarray(shares @ monomials), np.asarray(shares @ derivatives)


@cache
def _quartic_shares() -> Floats:
    powers = np.arange(5)
    rows = [0.0**powers, 0.5**powers, np.ones(5), powers * 0.0 ** np.maximum(powers - 1, 0), powers * 1.0]
    return np.asarray(np.linalg.inv(np.array(rows)).T)


def _slopes(air: RadialMatrices, gap: AirGap, shares: Floats, orders: int | None = None) -> Floats:
    """Sums (n, r, s) of the slopes on the lines by shares (lines, s)."""
    potential = gap.potential[:orders]
    massy, stiff = (matrix @ shares for matrix in _weak_flux(gap.lines_m.tobytes()))
    flux = air.sides[: len(potential)] @ (potential @ massy) + air.values @ (potential @ stiff)
    out = np.zeros_like(flux)
    out[:, 1:-1] = air.inverse @ flux[:, 1:-1]
    return out


@lru_cache(maxsize=KEPT)
def _weak_flux(ends: bytes) -> tuple[Floats, Floats]:
    """What takes potentials to INT (d_z phi) v r dr along the lines, from the elements above each, below the last.

    (nodes, lines) each, one to go with the radial matrices of mass and stiffness, one with those of values.

    One row of the matrices of a second-order element of length L: INT N_0 N dz = L / 30 (4, 2, -1) and
    INT N_0' N' dz = (7, -8, 1) / (3 L), the nodes counted from the line.
    """
    lengths = np.diff(np.frombuffer(ends))
    count = len(lengths)
    massy, stiff = np.zeros((2, 2 * count + 1, count + 1))
    for line in range(count + 1):
        above = line < count
        nodes = 2 * line + (1 if above else -1) * np.arange(3)
        length, sign = lengths[min(line, count - 1)], -1.0 if above else 1.0
        massy[nodes, line] = sign * length / 30 * np.array([4.0, 2.0, -1.0])
        stiff[nodes, line] = sign * np.array([7.0, -8.0, 1.0]) / (3 * length)
    return massy, stiff
