"""Harmonics of the potential on a level that is no line of the mesh: A itself is read there, never its gradient.

Meshes of the user's own need not have element sides at z = 0 over a chamfer. Between two element sides that the level
crosses, A is one polynomial, so that Gauss points between them integrate it as exactly as on a mesh line.
"""

import numpy as np
import skfem

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.field.harmonics import LINE_GAUSS_POINTS, harmonic_kernel
from fieldrun.field.section import Section

SLIVER = 1e-9
"""Stretches shorter than this share of the width are left out: two sides of elements meet the level in one point."""


def crossings_m(mesh: skfem.Mesh, height_m: float) -> Floats:
    """Ascending places (c,) where the sides of elements, which are straight lines, meet a level [m]."""
    (x0, x1), (z0, z1) = mesh.p[0, mesh.facets], mesh.p[1, mesh.facets]
    low, high = np.minimum(z0, z1), np.maximum(z0, z1)
    met = (low <= height_m) & (high >= height_m) & (high > low)
    share = (height_m - z0[met]) / (z1 - z0)[met]
    x = np.unique(x0[met] + share * (x1 - x0)[met])
    return np.asarray(x[np.concatenate([[True], np.diff(x) > SLIVER * np.ptp(mesh.p[0])])])


def level_amplitudes(
    section: Section, basis: skfem.CellBasis, potential: Floats, height_m: float, orders: Ints
) -> Complexes:
    """Harmonic amplitudes a_n of A along a level, (n,) [Wb/m].

    The integrals of `harmonics.harmonic_weights`, by Gauss' rule between the sides that the level crosses.

    Parameters
    ----------
    section : whose pole pitch and width count
    basis, potential : the solved A, (dofs,) [Wb/m]
    height_m : level inside the mesh [m]
    orders : (n,) odd orders
    """
    points, weights = np.polynomial.legendre.leggauss(LINE_GAUSS_POINTS)
    cuts = crossings_m(basis.mesh, height_m)
    middle, half = (cuts[1:] + cuts[:-1]) / 2, np.diff(cuts) / 2
    x = (middle[:, None] + half[:, None] * points).ravel()
    values = basis.probes(np.stack([x, np.full_like(x, height_m)])) @ potential
    return np.asarray(harmonic_kernel(section, x, orders) @ (values * (half[:, None] * weights).ravel()))
