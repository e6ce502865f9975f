"""Newton, table and extrapolation in one: a current on the axis of an iron tube, radii 10 and 20 mm, H = I / (2 pi r).

Fluxes per metre computed for the project's brief by quadrature; AISI 1008 by the open law of the Modelica Standard
Library (looked up), TEAM workshop problem 13 by its table with straight lines between points (looked up too).
"""

import numpy as np
import pytest
import skfem

from fieldrun.design.materials import steel_curve
from fieldrun.field.assembly import numbering
from fieldrun.field.section_elements import operators, second_order_basis
from fieldrun.field.section_newton import Materials, Problem, solve

INNER, OUTER = 0.010, 0.020
NONE = np.array([], np.int64)

ROWS = [
    ("AISI 1008", 50, 0.0117891296),
    ("AISI 1008", 200, 0.01531566098),
    ("AISI 1008", 500, 0.01705344662),
    ("TEAM 13", 50, 0.01307828315),
    ("TEAM 13", 200, 0.01612306171),
    ("TEAM 13", 500, 0.0171160882),
]


def tube(radial: int, around: int) -> skfem.MeshQuad:
    """A quarter of the tube, its quadrilaterals following radius and angle."""
    flat = skfem.MeshQuad.init_tensor(np.linspace(INNER, OUTER, radial + 1), np.linspace(0, np.pi / 2, around + 1))
    radius, angle = flat.p
    return skfem.MeshQuad(np.stack([radius * np.cos(angle), radius * np.sin(angle)]), flat.t)


@pytest.mark.parametrize(("steel", "current", "flux"), ROWS)
def test_flux_in_the_tube(steel: str, current: float, flux: float) -> None:
    mesh = tube(24, 24)
    basis = second_order_basis(mesh)
    ops = operators(basis)
    radius = np.hypot(*ops.places_m)
    wall = mesh.facets_satisfying(lambda x: np.hypot(*x) < INNER * 1.02, boundaries_only=True)
    side = skfem.FacetBasis(mesh, basis.elem, facets=wall, intorder=6)
    # H is along the wall; INT H . curl v over the tube is balanced by H v along its inner wall
    length = float(skfem.asm(skfem.Functional(lambda w: 1.0 + 0 * w.x[0]), side))
    strength = current / 4 / length  # Ampere's law on the quarter wall, straight facets and all
    load = skfem.asm(skfem.LinearForm(lambda v, _: strength * v), side)
    held = np.flatnonzero(radius > OUTER * (1 - 1e-3))
    every = np.arange(mesh.t.shape[1])
    materials = Materials(np.ones(len(every)), np.zeros((len(every), 2)), ((steel_curve(steel), every),))
    potential, steps = solve(Problem(ops, numbering(ops, held, (NONE, NONE), []), materials, (), load))
    inner = np.flatnonzero(np.abs(radius - INNER) < 1e-9)
    assert np.mean(potential[inner]) == pytest.approx(flux, rel=1e-3)
    assert steps <= 12
