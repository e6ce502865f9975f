"""Exact plane solutions for round bodies, on second-order elements that follow radius and angle.

Text-book forms: a permeable cylinder in a uniform field, B_in / B0 = 2 mu / (mu + 1); a cylinder magnetised across,
B_in = Br / 2 and a dipole Br/2 (a/r)^2 outside; a cylindrical shield 45 / 50 mm, transverse field outside over inside
1 + (mu - 1)^2 / (4 mu) (1 - (ri/ro)^2). Ratios of the shield computed for the project's brief.
"""

from itertools import pairwise

import numpy as np
import pytest
import skfem

from fieldrun.design.arrays import Floats
from fieldrun.design.units import MU0
from fieldrun.field.assembly import numbering
from fieldrun.field.section_elements import operators, second_order_basis
from fieldrun.field.section_newton import Materials, Problem, flux_density_of, solve

NONE = np.array([], np.int64)
CORE, AROUND = 1e-3, 48
"""Inner radius of the mesh over the body's, too small to be felt; elements around a quarter: chords miss 1e-4."""


def quarter(radii: list[float], elements: int) -> tuple[skfem.MeshQuad, Floats]:
    """Mesh x, z > 0 between radii, refined inwards; the middle radius of every element."""
    r = np.unique(np.concatenate([np.geomspace(a, b, elements + 1) for a, b in pairwise(radii)]))
    flat = skfem.MeshQuad.init_tensor(r, np.linspace(0, np.pi / 2, AROUND + 1))
    mesh = skfem.MeshQuad(np.stack([flat.p[0] * np.cos(flat.p[1]), flat.p[0] * np.sin(flat.p[1])]), flat.t)
    return mesh, flat.p[0, flat.t].mean(axis=0)


def solved(mesh: skfem.MeshQuad, mu_r: Floats, remanence_t: Floats, slope: float) -> tuple[Floats, Floats]:
    """B (e, 2) in each element and its middle (2, e), by symmetry along z; dA/dr = slope cos(angle) on the rim."""
    basis = second_order_basis(mesh)
    ops = operators(basis)
    outer = np.hypot(*mesh.p).max()
    rim = mesh.facets_satisfying(lambda x: np.hypot(*x) > 0.99 * outer, boundaries_only=True)
    side = skfem.FacetBasis(mesh, basis.elem, facets=rim, intorder=6)
    load = skfem.asm(skfem.LinearForm(lambda v, w: slope / MU0 * w.x[0] / np.hypot(*w.x) * v), side)
    rows = numbering(ops, np.flatnonzero(ops.places_m[0] < 1e-12), (NONE, NONE), [])
    materials = Materials(1 / (MU0 * mu_r), remanence_t, ())
    potential, steps = solve(Problem(ops, rows, materials, (), load))
    assert steps == 1
    return flux_density_of(ops, potential).mean(axis=1), mesh.p[:, mesh.t].mean(axis=1)


@pytest.mark.parametrize(("mu", "ratio"), [(2, 1.333333333), (10, 1.818181818), (1000, 1.998001998)])
def test_permeable_cylinder(mu: float, ratio: float) -> None:
    mesh, radius = quarter([CORE, 1.0, 2.0], 24)
    at_rim = 1 - (mu - 1) / (mu + 1) / 4  # outside A = (r + c / r) cos, c = (mu - 1) / (mu + 1)
    flux, _ = solved(mesh, np.where(radius < 1, mu, 1.0), np.zeros((len(radius), 2)), at_rim)
    inside = (radius < 0.9) & (radius > 0.1)
    assert flux[inside, 1] == pytest.approx(ratio, rel=1e-3)
    assert np.abs(flux[inside, 0]).max() < 1e-3


def test_cylinder_magnetised_across() -> None:
    mesh, radius = quarter([CORE, 1.0, 4.0], 24)
    remanence = np.stack([0 * radius, np.where(radius < 1, 1.2, 0.0)], axis=1)
    flux, place = solved(mesh, np.ones(len(radius)), remanence, -0.6 / 16)  # outside A = Br/2 cos / r
    inside = (radius < 0.9) & (radius > 0.1)
    assert flux[inside, 1] == pytest.approx(0.6, rel=2e-3)
    outside = radius > 1.2
    x, z = place[:, outside] / radius[outside]
    dipole = 0.6 / radius[outside] ** 2
    assert np.abs(flux[outside] - np.stack([2 * x * z, z**2 - x**2], axis=1) * dipole[:, None]).max() < 2e-3


@pytest.mark.parametrize(("mu", "ratio"), [(100, 5.655475), (1000, 48.4050475)])
def test_cylindrical_shield(mu: float, ratio: float) -> None:
    inner, outer, rim = 0.045, 0.050, 0.100
    mesh, radius = quarter([CORE * inner, inner, outer, rim], 16)
    g = 1 / ratio  # A: inside g r, in the wall e r + f / r, outside r + d / r, times cos
    e, f = g * (1 + mu) / 2, g * inner**2 * (1 - mu) / 2
    d = outer**2 * (e - 1) + f
    flux, _ = solved(
        mesh,
        np.where((radius > inner) & (radius < outer), mu, 1.0),
        np.zeros((len(radius), 2)),
        1 - d / rim**2,
    )
    inside = (radius < 0.9 * inner) & (radius > 0.1 * inner)
    assert 1 / flux[inside, 1] == pytest.approx(ratio, rel=2e-3)
