"""Harmonics of the solid judge's field on planes of its mesh.

B_z is the weak flux through the plane: what div B = 0, tested with functions of the plane in the tetrahedra just below,
leaves over. Tested with cubic splines over r times cos(n p theta) it is right to the order of the elements' energy, ten
times better than node by node: corners and midpoints of second-order elements err to different sides.
B_r and B_theta come from the potential's own harmonics on the plane, which are better still.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import BSpline, CubicSpline

from fieldrun.design.arrays import Floats
from fieldrun.reference.solid_grid import SolidGrid, with_midpoints
from fieldrun.reference.solid_system import SolidSystem, stiffness

ORDERS = tuple(range(1, 16, 2))
"""Harmonics of the plane fields; of shorter waves half a pole of 8 cells carries little."""


@dataclass(frozen=True, eq=False)
class PlaneHarmonics:
    """Real amplitudes (orders, nodes over r) on one plane [T]: B_r cos, B_theta sin, B_z cos (n p theta)."""

    b_r: Floats
    b_theta: Floats
    b_z: Floats


def plane_harmonics(system: SolidSystem, potential: Floats, plane: int) -> PlaneHarmonics:
    """Harmonics on a plane with air below it: B = -grad u, B_z as the module says by weak flux.

    Parameters
    ----------
    system, potential : the problem and its solution (n,) [T m]
    plane : number of the plane, 1 or more
    """
    grid = system.grid
    radii = with_midpoints(grid.radii_m)
    wave = _harmonics(grid, potential.reshape(grid.nodes)[:, :, 2 * plane])
    orders = grid.pole_pairs * np.array(ORDERS)[:, None]
    slope = CubicSpline(radii, wave, axis=1)(radii, 1)
    return PlaneHarmonics(-slope, orders * wave / radii, _axial(grid, _weak_flux(system, potential, plane)))


def _weak_flux(system: SolidSystem, potential: Floats, plane: int) -> Floats:
    """INT B_z v r dr dtheta for the shape function v of each node of a plane (over r, over theta) [T m^2]."""
    grid = system.grid
    below = stiffness(grid, system.permeability, slice(plane - 1, plane)) @ potential
    return np.asarray(-below.reshape(grid.nodes)[:, :, 2 * plane])


def _axial(grid: SolidGrid, weak_flux: Floats) -> Floats:
    """Splines over r, zero at both far ends, whose fluxes through cos(n p theta) are the weak ones."""
    knots = np.concatenate([grid.radii_m[:1].repeat(3), grid.radii_m, grid.radii_m[-1:].repeat(3)])
    at_nodes = _splines(knots, with_midpoints(grid.radii_m))
    points, weights = np.polynomial.legendre.leggauss(4)
    half = np.diff(grid.radii_m) / 2
    radius = (grid.radii_m[:-1] + half)[:, None] + np.multiply.outer(half, points)
    at_points = _splines(knots, radius.ravel())
    area = (np.multiply.outer(half, weights) * radius).ravel() * np.pi / (4 * grid.pole_pairs)
    flux = at_nodes.T @ weak_flux @ _waves(grid).T
    return np.asarray((at_nodes @ np.linalg.solve(at_points.T @ (area[:, None] * at_points), flux)).T)


def _splines(knots: Floats, radii: Floats) -> Floats:
    """Cubic splines (radii, splines) but the first and the last, which alone do not vanish at the ends."""
    return np.asarray(BSpline.design_matrix(radii, knots, 3).toarray()[:, 1:-1])


def _harmonics(grid: SolidGrid, nodal: Floats) -> Floats:
    """(orders, nodes over r) amplitudes of cos(n p theta): equal steps over a quarter wave that ends at zero."""
    once = np.full(grid.nodes[1], 2.0)
    once[0] = 1.0  # the steps on the other side of theta = 0 are the same ones
    return np.asarray((_waves(grid) * once) @ nodal.T / (grid.nodes[1] - 1))


def _waves(grid: SolidGrid) -> Floats:
    """cos(n p theta), (orders, nodes over theta)."""
    return np.asarray(np.cos(grid.pole_pairs * np.outer(ORDERS, with_midpoints(grid.angles_rad))))
