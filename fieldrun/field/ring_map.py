"""From ring potentials to the field in the gap: flux through mesh lines first, then heights in between.

The flux density across a mesh line comes from the weak form, INT B . grad v over the elements on one side of the line:
a residual, which converges twice as fast as a gradient taken inside an element. Potential and slope on the lines and
the potential halfway then fix one quartic over the height of each element.
"""

import math

import numpy as np
from scipy.interpolate import CubicSpline

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.axis import mass
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_mesh import RingMesh
from fieldrun.field.ring_system import RingSystem
from fieldrun.field.slices import OPEN_REACH

HEIGHTS_PER_ELEMENT = 4
"""Heights of the map in each element of the gap: splines between them leave nothing out that the mesh has."""

APART_PITCHES = 2e-3
"""Least distance of a map's radii, in pole pitches."""


def map_of(system: RingSystem, potential: Floats, magnets: Magnets, rotor: Rotor) -> FieldMap:
    """The field map of solved rings.

    Parameters
    ----------
    system : the rings
    potential : (n, r, z) over all nodes [A]
    magnets, rotor : the machine
    """
    mesh, waves = system.mesh, system.waves
    heights = _heights(mesh, magnets, rotor)
    side, asked = _lower_half(rotor, heights)
    value, slope = at_heights(system, potential, asked)
    kept = _apart(mesh.radial.nodes_m[1:-1], APART_PITCHES * math.pi / magnets.pole_pairs) + 1
    r, value, slope = mesh.radial.nodes_m[kept], value[:, kept], slope[:, kept]
    return FieldMap(
        pole_pairs=magnets.pole_pairs,
        orders=waves // magnets.pole_pairs,
        radii_m=r,
        heights_m=heights,
        b_r_t=_amplitudes(-side * CubicSpline(r, value, axis=1)(r, 1)),
        # a sine is minus the imaginary unit times the wave
        b_theta_t=-1j * _amplitudes(side * value * waves[:, None, None] / r[:, None]),
        b_z_t=_amplitudes(-slope),
        open_above=rotor.gap_m is None,
    )


def _heights(mesh: RingMesh, magnets: Magnets, rotor: Rotor) -> Floats:
    """Heights of the map, as close together as the mesh's lines are; up to `OPEN_REACH` over an open face."""
    lines = mesh.axial.vertices_m[mesh.gap.first : mesh.gap.end + 1]
    steps = np.arange(HEIGHTS_PER_ELEMENT) / HEIGHTS_PER_ELEMENT
    lower = np.append((lines[:-1, None] + np.outer(np.diff(lines), steps)).ravel(), lines[-1])
    if rotor.gap_m is None:
        reach = OPEN_REACH * math.pi * mean_radius_m(magnets) / magnets.pole_pairs
        return np.append(lower[lower < reach * (1 - 1e-6)], reach)
    return np.concatenate([lower, rotor.gap_m - lower[-2::-1]]) if rotor.faces == 2 else lower


def _apart(radii: Floats, share: float) -> Ints:
    """Indices of radii that are apart by this share of themselves: splines through closer ones show their errors."""
    kept = [0]
    for index, radius in enumerate(radii):
        if radius - radii[kept[-1]] > share * radius:
            kept.append(index)
    return np.array(kept)


def _amplitudes(gradient: Floats) -> Complexes:
    return np.asarray(MU0 * gradient, np.complex128)


def _lower_half(rotor: Rotor, heights: Floats) -> tuple[Floats, Floats]:
    """Sign of the potential and height in the mesh: two faces are meshed up to the middle, where the sign changes."""
    if rotor.faces == 1 or rotor.gap_m is None:
        return np.ones_like(heights), heights
    above = heights > rotor.gap_m / 2
    return np.where(above, -1.0, 1.0), np.where(above, rotor.gap_m - heights, heights)


def at_heights(system: RingSystem, potential: Floats, heights_m: Floats) -> tuple[Floats, Floats]:
    """Potential [A] and its slope over height [A/m] in the air above the magnets, each (n, r, heights)."""
    gap = system.mesh.gap
    lines = system.mesh.axial.vertices_m[gap.first : gap.end + 1]
    slopes = line_slopes(system, potential)
    element = np.clip(np.searchsorted(lines, heights_m, side="right") - 1, 0, len(lines) - 2)
    length = np.diff(lines)[element]
    t = (heights_m - lines[element]) / length
    first = 2 * (gap.first + element)
    data = np.stack(
        [
            potential[:, :, first],
            potential[:, :, first + 1],
            potential[:, :, first + 2],
            slopes[:, :, element] * length,
            slopes[:, :, element + 1] * length,
        ]
    )
    value, rise = _quartic(t)
    return np.einsum("dh,dnrh->nrh", value, data), np.einsum("dh,dnrh->nrh", rise, data) / length


def _quartic(t: Floats) -> tuple[Floats, Floats]:
    """Shares at t of values at 0, 1/2, 1 and slopes at 0, 1 in a quartic and in its derivative, (5, h) each."""
    powers = np.arange(5)
    rows = [0.0**powers, 0.5**powers, np.ones(5), powers * 0.0 ** np.maximum(powers - 1, 0), powers * 1.0]
    shares = np.linalg.inv(np.array(rows)).T
    monomials = t ** powers[:, None]
    derivatives = powers[:, None] * t ** np.maximum(powers - 1, 0)[:, None]
    return np.asarray(shares @ monomials), np.asarray(shares @ derivatives)


def line_slopes(system: RingSystem, potential: Floats) -> Floats:
    """Slope of the potential over height on the mesh lines of the air above the magnets, (n, r, lines) [A/m].

    Each line takes the elements above it, the last line those below.
    """
    mesh = system.mesh
    massy = mass(mesh.radial, mesh.radial.points_m)
    flux = _weak_flux(system, potential)
    orders, nodes, count = flux.shape
    solved = np.linalg.solve(massy[1:-1, 1:-1], flux[:, 1:-1].transpose(1, 0, 2).reshape(nodes - 2, -1))
    out = np.zeros_like(flux)
    out[:, 1:-1] = solved.reshape(nodes - 2, orders, count).transpose(1, 0, 2)
    return out


def _weak_flux(system: RingSystem, potential: Floats) -> Floats:
    """INT (d_z phi) v r dr along the lines, (n, r, lines), from the elements above each, below the last.

    One row of the matrices of a second-order element of length L: INT N_0 N dz = L / 30 (4, 2, -1) and
    INT N_0' N' dz = (7, -8, 1) / (3 L), the nodes counted from the line.
    """
    gap = system.mesh.gap
    above = np.append(np.arange(gap.first, gap.end), gap.end - 1)
    nodes = 2 * above[:, None] + np.arange(3)
    nodes[-1] = nodes[-1, ::-1]
    length = np.diff(system.mesh.axial.vertices_m)[above][:, None]
    inside = potential[:, :, nodes]
    along = np.einsum("nrlk,lk->nrl", inside, length / 30 * np.array([4.0, 2.0, -1.0]))
    across = np.einsum("nrlk,lk->nrl", inside, np.array([7.0, -8.0, 1.0]) / (3 * length))
    flux = (system.air.slopes + system.air.turns) @ along + system.air.values @ across
    return np.asarray(flux * np.append(-np.ones(len(above) - 1), 1.0))
