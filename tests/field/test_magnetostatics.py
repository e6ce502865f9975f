"""The solver itself: what it starts from, when it gives up, and exact relations between its boxes."""

import math
from dataclasses import replace

import numpy as np
import pytest
import skfem

from fieldrun.design.errors import SolveError
from fieldrun.design.magnetisation import field_strength
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field import section_newton
from fieldrun.field.assembly import added, gather, spread
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField, section_problem, solve_section
from fieldrun.field.mesh import MeshDensity, SectionMesh
from fieldrun.field.section import Section, section_at
from fieldrun.field.section_elements import gradient_of, tensor_blocks, vector_loads
from fieldrun.field.section_newton import Problem, flux_density_of, linear_system
from fieldrun.reference.closed_forms import (
    block_face,
    in_air_to_plate,
    on_iron_to_plate,
    one_face_in_air,
    one_face_on_iron,
    two_faces_in_air,
)
from tests.sections import structured_mesh

R = 0.066
TAU = math.pi * R / 8
ORDERS = 2 * np.arange(8) + 1
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = replace(ARCS, pattern="halbach", segments_per_pole=2)
SHEET = Plate(steel_curve("mild steel"), 0.003)
OPEN, FACING = Rotor(1, None, None, None, 0.04, 0.09), Rotor(2, 0.009, None, None, 0.04, 0.09)
STEEL, PLATED = Rotor(2, 0.009, SHEET, None, 0.04, 0.09), Rotor(1, 0.009, SHEET, SHEET, 0.04, 0.09)


def unfolded(mesh: SectionMesh, section: Section) -> SectionMesh:
    """A mesh of the whole pole whose halves are mirror images of one half's."""
    x, z = np.unique(mesh.mesh.p[0]), np.unique(mesh.mesh.p[1])
    both = skfem.MeshQuad.init_tensor(np.concatenate([x, section.pole_pitch_m - x[-2::-1]]), z)
    middle = both.p[:, both.t].mean(axis=1)
    region = np.full(both.t.shape[1], -1)
    for index, one in enumerate(section.regions):
        (x0, x1), (z0, z1) = ((min(v), max(v)) for v in zip(*one.polygon_m, strict=True))
        region[(middle[0] > x0) & (middle[0] < x1) & (middle[1] > z0) & (middle[1] < z1)] = index
    return SectionMesh(both, region)


@pytest.mark.parametrize("magnets", [ARCS, HALBACH], ids=["alternating", "halbach"])
@pytest.mark.parametrize(
    ("rotor", "bound"),
    [
        (Rotor(2, 0.009, Plate(None), None, 0, 1), 1e-12),
        (STEEL, 1e-9),  # Newton stops at 1e-8 of the load
        (PLATED, 1e-9),
        (FACING, 1e-7),  # an open side carries one harmonic for each facet: the whole box has twice as many
        (OPEN, 1e-7),
    ],
    ids=["ideal", "steel", "plated", "facing", "open"],
)
def test_half_a_pole_is_exactly_the_whole_one_on_mirrored_meshes(rotor: Rotor, bound: float, magnets: Magnets) -> None:
    half, whole = (section_at(magnets, rotor, R, width) for width in ("half pole", "full pole"))
    mesh = structured_mesh(half)
    first, second = (
        np.stack(gap_amplitudes(solve_section(*pair), [0.001, 0.004], ORDERS))
        for pair in ((half, mesh), (whole, unfolded(mesh, whole)))
    )
    assert np.abs(first - second).max() < bound * np.abs(first).max()


def solved(magnets: Magnets, rotor: Rotor, neighbour: SectionField | None = None) -> SectionField:
    section = section_at(magnets, rotor, R)
    return solve_section(section, structured_mesh(section), neighbour)


def full(band: np.ndarray) -> np.ndarray:
    """The symmetric matrix of upper banded storage."""
    width = len(band) - 1
    upper = sum(np.diag(band[width - above, above:], above) for above in range(width + 1))
    return np.asarray(upper + np.triu(upper, 1).T)


def residual(problem: Problem, potential: np.ndarray) -> np.ndarray:
    """INT H . curl v of every unknown, through the materials' own law at the Gauss points."""
    flux = flux_density_of(problem.ops, potential)
    materials = problem.materials
    strength = materials.reluctivity[:, None, None] * (flux - materials.remanence_t[:, None, :])
    for curve, elements in materials.steels:
        size = np.linalg.norm(flux[elements], axis=2)
        strength[elements] = (field_strength(curve, size)[0] / size)[:, :, None] * flux[elements]
    turned = np.stack([strength[:, :, 1].T, -strength[:, :, 0].T])
    total = problem.sums.every.loads @ vector_loads(replace(problem.ops, straight=False), turned).ravel()
    for block in problem.blocks:
        nodal = np.zeros(problem.ops.count)
        nodal[block.dofs] = block.matrix @ potential[block.dofs]
        total = total + gather(problem.rows, nodal)
    return np.asarray(total)


@pytest.mark.parametrize("rotor", [OPEN, FACING, STEEL, PLATED], ids=["open", "facing", "steel", "plated"])
def test_the_residual_vanishes_at_the_solution(rotor: Rotor) -> None:
    section = section_at(ARCS, rotor, R)
    problem = section_problem(section, structured_mesh(section))
    field = solve_section(section, structured_mesh(section))
    assert np.linalg.norm(residual(problem, field.potential)) < 1e-8 * np.linalg.norm(linear_system(problem)[1])


def test_the_tangent_is_the_residuals_derivative() -> None:
    """Newton's matrix times a small change is the change of the residual, in saturated steel too."""
    section = section_at(ARCS, STEEL, R)
    problem = section_problem(section, structured_mesh(section))
    potential = solve_section(section, structured_mesh(section)).potential
    change = 1e-7 * np.random.default_rng(3).normal(size=problem.rows.count) * np.abs(potential).max()
    up, down = (residual(problem, potential + s * spread(problem.rows, change)) for s in (1, -1))
    (curve, elements), sums = problem.materials.steels[0], problem.sums.steels[0]
    part = problem.ops.part(elements)
    gradient = gradient_of(part, potential)
    nu, slope = section_newton._on_curve(section_newton._lines(curve), gradient)
    tangent = tensor_blocks(part, section_newton._tangent(nu, slope, gradient))
    band = added(linear_system(problem)[0], [(sums.band, tangent)])
    product = full(band) @ change
    assert np.linalg.norm((up - down) / 2 - product) < 1e-3 * np.linalg.norm(product)


def test_steel_is_the_curve_of_the_library() -> None:
    curve = steel_curve("mild steel")
    gradient = np.random.default_rng(5).uniform(0, 2.0, (2, 3, 40))
    gradient[:, 0, 0] = 0.0
    strength, wanted = field_strength(curve, np.hypot(*gradient))
    nu, slope = section_newton._on_curve(section_newton._lines(curve), gradient)
    assert nu * np.hypot(*gradient) == pytest.approx(strength, rel=1e-12)
    assert np.array_equal(slope, wanted)
    assert nu[0, 0] == slope[0, 0]


def test_a_neighbours_solution_saves_steps_and_changes_nothing() -> None:
    near = solved(replace(ARCS, thickness_m=0.0058), STEEL)
    cold, warm = solved(ARCS, STEEL), solved(ARCS, STEEL, near)
    assert warm.newton_steps < cold.newton_steps
    assert np.abs(warm.potential - cold.potential).max() < 1e-7 * np.abs(cold.potential).max()


def test_a_neighbour_on_another_mesh_is_passed_over() -> None:
    other = solved(ARCS, PLATED)
    assert solved(ARCS, STEEL, other).newton_steps == solved(ARCS, STEEL).newton_steps


def test_a_linear_section_takes_one_step() -> None:
    assert solved(ARCS, FACING).newton_steps == 1


def test_giving_up_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(section_newton, "NEWTON_STEPS", 2)
    with pytest.raises(SolveError, match="did not settle within 2 Newton steps"):
        solved(ARCS, STEEL)


def test_a_search_of_one_trial_ends_in_the_same_balance(monkeypatch: pytest.MonkeyPatch) -> None:
    """The energy is convex and has one least point, however long the steps to it are."""
    usual = solved(ARCS, STEEL)
    monkeypatch.setattr(section_newton, "LINE_SEARCH_TRIALS", 1)
    plain = solved(ARCS, STEEL)
    np.testing.assert_allclose(plain.potential, usual.potential, atol=1e-7 * np.abs(usual.potential).max())


def test_unlike_sides_of_a_whole_pole_are_refused() -> None:
    section = section_at(ARCS, FACING, R, "full pole")
    mesh = structured_mesh(section)
    points = mesh.mesh.p.copy()
    inner = (points[0] > 0.999 * section.width_m) & (points[1] > 0.001) & (points[1] < 0.004)
    points[1, inner] += 1e-5
    with pytest.raises(SolveError, match="must carry the same mesh points"):
        solve_section(section, SectionMesh(skfem.MeshQuad(points, mesh.mesh.t), mesh.region))


def test_results_are_locked() -> None:
    field = solved(ARCS, OPEN)
    with pytest.raises(ValueError, match="read-only"):
        field.potential[0] = 1.0


def test_energy_balance() -> None:
    """Without steel and currents INT H . B over all space is zero; magnets give what the rest takes (any box)."""
    section = section_at(replace(ARCS, recoil_permeability=1.0), Rotor(2, 0.009, Plate(None), None, 0, 1), R)
    field = solve_section(section, structured_mesh(section))
    problem = section_problem(section, field.mesh)
    strength = (field.flux_density_t - problem.materials.remanence_t[:, None, :]) / MU0
    density = np.sum(strength * field.flux_density_t, axis=2) * problem.ops.weights
    assert abs(density.sum()) < 1e-10 * np.abs(density).sum()


def test_halbach_with_many_bodies_is_a_sine() -> None:
    """Harmonics on the strong side are 1, M + 1...: twelve bodies leave nothing up to the eleventh."""
    many = replace(ARCS, pattern="halbach", segments_per_pole=6, outline=Arc(0.056, 0.076, 1.0))
    above = np.abs(gap_amplitudes(solved(many, OPEN), [0.001], ORDERS)[1][:, 0])
    assert above[1:6].max() < 1e-4 * above[0]


CLOSED_FORMS = {
    "free": (lambda _: OPEN, lambda face, _, z: one_face_in_air(face, z)),
    "backed": (lambda _: Rotor(1, None, Plate(None), None, 0, 1), lambda face, _, z: one_face_on_iron(face, z)),
    "facing in air": (lambda g: Rotor(2, g, None, None, 0, 1), two_faces_in_air),
    "plate over magnets on iron": (lambda g: Rotor(1, g, Plate(None), Plate(None), 0, 1), on_iron_to_plate),
    "plate over magnets in air": (lambda g: Rotor(1, g, None, Plate(None), 0, 1), in_air_to_plate),
}


@pytest.mark.parametrize("share", [0.3, 2 / 3, 0.97])
@pytest.mark.parametrize("gap", [0.01, 0.2, 1.9])
@pytest.mark.parametrize("thick", [0.02, 0.3, 1.9])
@pytest.mark.parametrize("case", CLOSED_FORMS)
def test_template_from_foils_to_bars(case: str, thick: float, gap: float, share: float) -> None:
    """Thickness and gap from hundredths of the pole pitch to nearly two, narrow to nearly touching magnets."""
    rotor, form = CLOSED_FORMS[case]
    magnets = Magnets(Arc(0.056, 0.076, share), 16, thick * TAU, 1.3, 1.0, 7500.0)
    height = gap * TAU / 2
    found = gap_amplitudes(solved(magnets, rotor(gap * TAU)), [height], np.array([1]))[1][0, 0].real
    exact = form(block_face([1], TAU, 1.3, share, (thick * TAU, 1.0)), gap * TAU, height)[0]
    assert found == pytest.approx(float(exact), rel=5e-4)


def test_every_harmonic_is_right_on_a_finer_mesh_even_for_foils() -> None:
    magnets = Magnets(Arc(0.056, 0.076, 0.9), 16, 0.02 * TAU, 1.3, 1.0, 7500.0)
    section = section_at(magnets, Rotor(2, 0.01 * TAU, None, None, 0, 1), R)
    field = solve_section(section, structured_mesh(section, MeshDensity().refined()))
    orders = 2 * np.arange(16) + 1
    found = gap_amplitudes(field, [0.005 * TAU], orders)[1][:, 0].real
    exact = two_faces_in_air(block_face(orders, TAU, 1.3, 0.9, (0.02 * TAU, 1.0)), 0.01 * TAU, 0.005 * TAU)
    assert math.sqrt(np.sum((found - exact) ** 2) / 2) < 1e-3 * abs(exact[0])
