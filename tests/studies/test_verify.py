"""One winding held into the field of every way: each way judged by another, and every way out of trouble."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.examples import example_path
from fieldrun.field.field_map import uniform_map
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.section import section_at
from fieldrun.generator.machine import read_design
from fieldrun.reference.estimates import estimates
from fieldrun.studies.verify import Absence, Answer, difference_percent, verify
from fieldrun.studies.ways import (
    HAND,
    LAYERED,
    RINGS,
    SECTIONS,
    SOLID,
    SPREAD,
    WAYS,
    DoesNotApplyError,
    Way,
    heights_round_m,
)
from tests.sections import structured_mesh

AIR_LIKE = {"magnets.grade": None, "magnets.remanence_t": 1.2, "magnets.recoil_permeability": 1.0}

QUICK = tuple(way for way in WAYS if way is not SOLID)

ONE_ROUND = {"winding.rounds": 1, "winding.layers": 1, "winding.phases": 1, "winding.start_deg": 7}


@pytest.fixture
def varied(design_file):
    return lambda example, changes=None: read_design(design_file(example, changes))


def row_of(comparison, key):
    return next(row for row in comparison.rows if row.key == key)


def emf(comparison, key):
    return row_of(comparison, key).emf_per_round_v_s_per_rad


def uniform(job, b1):
    return uniform_map(job.magnets.pole_pairs, [b1], (0.03, 0.1), float(job.heights_m[-1]))


def made_up(key, b1):
    """A way that finds the same field everywhere."""
    return Way(key, key, lambda job, _: uniform(job, b1), lambda _: "Nothing.")


def failing(key, error):
    def solve(_job, _maps):
        raise error

    return Way(key, key, solve, lambda _: "Everything.")


def test_ways_stand_from_the_crudest_to_the_best_and_are_told_in_turn():
    told = []
    comparison = verify(read_design(example_path("quiet-halbach")), told.append)
    assert [row.key for row in comparison.rows] == [way.key for way in WAYS]
    assert told == [way.name for way in WAYS] == [row.name for row in comparison.rows]
    assert told == ["hand calculation", "layered Fourier", "flat sections", "sections + K1", "rings", "solid"]
    assert all(row.time_s > 0 for row in comparison.answers)


def test_rings_are_what_tetrahedra_say(varied):
    """Two ways to whole magnets that share nothing but the design: 0.01 % apart when written, sections 9.6 % off."""
    ideal = {"rotor.backing": "ideal", "rotor.backing_mm": None}
    comparison = verify(varied("hut-charger", ideal), ways=(SECTIONS, RINGS, SOLID))
    assert comparison.best is row_of(comparison, "solid")
    assert comparison.holds
    solid, default = comparison.judge, comparison.default
    off = difference_percent(default.emf_per_round_v_s_per_rad, solid.emf_per_round_v_s_per_rad)
    assert abs(off) < 0.1
    assert abs(difference_percent(emf(comparison, "sections"), solid.emf_per_round_v_s_per_rad)) > 5
    radii = solid.radii_m[(solid.radii_m >= default.radii_m[0]) & (solid.radii_m <= default.radii_m[-1])]
    assert len(radii) > 100
    both = [np.interp(radii, row.radii_m, row.b1_over_radius_t) for row in (solid, default)]
    assert both[0] == pytest.approx(both[1], abs=2e-3 * solid.b1_t)


@pytest.mark.parametrize(("example", "changes"), [("quiet-halbach", {}), ("plank-ring", "own.msh")])
def test_the_judge_says_what_it_does_not_know(varied, tmp_path, example, changes):
    if changes:
        plain = varied("plank-ring")
        section = section_at(plain.magnets, plain.rotor, 0.0575)
        write_section_mesh(tmp_path / changes, section, structured_mesh(section))
        changes = {"magnets.section_mesh": changes}
    comparison = verify(varied(example, changes), ways=(RINGS, SOLID))
    assert row_of(comparison, "solid").reason.startswith("does not apply: the solid model knows ")
    assert comparison.best is comparison.default


def test_emf_of_the_hand_calculation_is_its_b1_over_the_magnets_radii(varied):
    """One round of 2p radial legs in B1 between ra and rb, in V s/rad rms: p B1 (rb^2 - ra^2) / sqrt(2)."""
    design = varied("plank-ring", ONE_ROUND)
    comparison = verify(design, ways=(HAND, RINGS))
    b1 = estimates(design.magnets, design.rotor, comparison.height_m, 0.0575)[0].b1_t
    assert row_of(comparison, "hand").b1_t == pytest.approx(b1, rel=1e-12)
    assert emf(comparison, "hand") == pytest.approx(6 * b1 * (0.07**2 - 0.045**2) / math.sqrt(2), rel=1e-9)


@pytest.mark.parametrize(
    ("example", "changes"),
    [
        ("plank-ring", {}),
        ("hut-charger", {"rotor.backing": "ideal", "rotor.backing_mm": None}),
        pytest.param("quiet-halbach", {}, marks=pytest.mark.slow),
    ],
)
def test_layers_and_sections_agree_where_magnets_are_like_air(varied, example, changes):
    """Exponentials and finite elements of the same flat slices."""
    comparison = verify(varied(example, {**AIR_LIKE, **changes}), ways=(LAYERED, SECTIONS, RINGS))
    assert emf(comparison, "layered") == pytest.approx(emf(comparison, "sections"), rel=1e-4)
    flat, elements = row_of(comparison, "layered"), row_of(comparison, "sections")
    assert flat.radii_m == pytest.approx(elements.radii_m)
    assert flat.b1_over_radius_t == pytest.approx(elements.b1_over_radius_t, abs=2e-4 * elements.b1_t)


def test_magnets_unlike_air_set_layers_and_sections_apart(varied):
    """At recoil permeability 1.05 the air between magnets that counts as magnet takes 0.05 to 0.5 % (measured)."""
    comparison = verify(varied("plank-ring", {}), ways=(LAYERED, SECTIONS, RINGS))
    assert -0.5 < difference_percent(emf(comparison, "layered"), emf(comparison, "sections")) < -0.05


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_the_default_is_what_a_run_answers(bundled, example):
    result = bundled(example)
    comparison = verify(result.design, ways=(RINGS,))
    amplitude = abs(result.emf.amplitudes[0, 0])
    found = comparison.default.emf_per_round_v_s_per_rad * comparison.rounds_per_phase * math.sqrt(2)
    assert found == pytest.approx(amplitude, rel=1e-12)
    assert comparison.design_hash == result.design_hash


def test_groups_in_parallel_and_strands_in_series_are_no_matter_of_the_field(varied):
    changes = {"winding.rounds": 16}
    one = verify(varied("plank-ring", changes), ways=(RINGS,))
    four = verify(varied("plank-ring", {**changes, "winding.parallel": 4}), ways=(RINGS,))
    assert emf(four, "rings") == pytest.approx(emf(one, "rings"), rel=1e-12)


def test_flux_spread_past_the_magnets_ends_is_known_to_k1_and_not_to_sections():
    comparison = verify(read_design(example_path("plank-ring")), ways=(SECTIONS, SPREAD, RINGS))
    flat, spread = row_of(comparison, "sections"), row_of(comparison, "k1")
    for answer, beside in ((flat, False), (spread, True)):
        outside = (answer.radii_m < 0.0449) | (answer.radii_m > 0.0701)
        assert outside.any()
        assert bool(np.abs(answer.b1_over_radius_t[outside]).max() > 0.01) is beside
    assert comparison.magnet_radii_m == (0.045, 0.07)
    assert comparison.winding_radii_m == (0.044, 0.071)


def test_k1_is_the_field_of_whole_magnets(varied, whole_magnets):
    """B1 beside and over arcs, from magpylib's closed forms by a sum over angles: within 0.3 % of the peak."""
    design = varied("plank-ring", AIR_LIKE)
    comparison = verify(design, ways=(SECTIONS, SPREAD, RINGS))
    answer = row_of(comparison, "k1")
    chosen = np.arange(0, len(answer.radii_m), 20)
    theta = 2 * np.pi / 6 * (np.arange(32) + 0.5) / 32
    waves = []
    for radius in answer.radii_m[chosen]:
        height = np.full_like(theta, comparison.height_m)
        points = np.stack([radius * np.cos(theta), radius * np.sin(theta), height], axis=1)
        waves.append(2 * np.mean(whole_magnets(design.magnets, design.rotor, points)[:, 2] * np.cos(6 * theta)))
    assert answer.b1_over_radius_t[chosen] == pytest.approx(np.array(waves), abs=3e-3 * max(waves))


@pytest.mark.parametrize(("percent", "holds"), [(1.9, True), (-1.9, True), (2.1, False), (-2.1, False)])
def test_the_default_must_be_as_near_to_the_judge_as_it_is_allowed(percent, holds):
    ways = (made_up("rings", 0.5 * (1 + percent / 100)), made_up("solid", 0.5))
    comparison = verify(read_design(example_path("plank-ring")), ways=ways)
    assert comparison.best is comparison.judge is row_of(comparison, "solid")
    found = difference_percent(emf(comparison, "rings"), comparison.best.emf_per_round_v_s_per_rad)
    assert found == pytest.approx(percent)
    assert comparison.holds is holds


def test_without_a_judge_the_default_is_the_best_there_is():
    comparison = verify(read_design(example_path("plank-ring")), ways=(HAND, made_up("rings", 0.3)))
    assert comparison.judge is None
    assert comparison.best is comparison.default
    assert comparison.holds


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (DoesNotApplyError("magnets lie on their side"), "does not apply: magnets lie on their side"),
        (SolveError("the steel did not settle"), "gave nothing: the steel did not settle"),
        (MissingError("a library is missing"), "gave nothing: a library is missing"),
    ],
)
def test_a_way_that_fails_is_a_row_with_its_reason(error, reason):
    comparison = verify(read_design(example_path("plank-ring")), ways=(RINGS, failing("solid", error)))
    assert comparison.absences == (Absence("solid", "solid", reason),)
    assert comparison.judge is None


def test_the_default_may_not_fail_in_silence():
    with pytest.raises(SolveError, match="did not settle"):
        verify(read_design(example_path("plank-ring")), ways=(failing("rings", SolveError("it did not settle")),))


def test_a_fault_of_ours_is_no_reason_of_a_way():
    with pytest.raises(ZeroDivisionError):
        verify(read_design(example_path("plank-ring")), ways=(failing("solid", ZeroDivisionError()), RINGS))


def test_k1_needs_the_sections():
    ways = (failing("sections", SolveError("no")), SPREAD, RINGS)
    comparison = verify(read_design(example_path("plank-ring")), ways=ways)
    assert row_of(comparison, "k1").reason.startswith("does not apply: it starts from the flat sections")


def test_k1_does_not_know_magnets_on_their_side():
    comparison = verify(read_design(example_path("quiet-halbach")), ways=(SECTIONS, SPREAD, RINGS))
    assert "here some lie on their side" in row_of(comparison, "k1").reason


def test_an_outline_of_ones_own_is_in_the_sections_and_told_missing_elsewhere(varied, tmp_path):
    drawn = varied("plank-ring", {"magnets.arc_share": 0.7})
    section = section_at(drawn.magnets, drawn.rotor, 0.0575)
    write_section_mesh(tmp_path / "own.msh", section, structured_mesh(section, MeshDensity().refined()))
    own = verify(varied("plank-ring", {"magnets.section_mesh": "own.msh"}))
    stated = verify(drawn, ways=(SECTIONS, RINGS))
    assert emf(own, "sections") == pytest.approx(emf(stated, "sections"), rel=1e-3)
    assert emf(own, "rings") == pytest.approx(emf(stated, "rings"), rel=1e-6)
    assert row_of(own, "rings").leaves_out.endswith("Takes the outline drawn slab by slab, the magnets' ends upright.")
    assert row_of(own, "k1").reason == "does not apply: it does not know an outline of one's own"
    for key in ("hand", "layered"):
        assert row_of(own, key).leaves_out.endswith("Knows plain magnets only, not the outline drawn.")
    assert emf(own, "layered") > 1.05 * emf(own, "sections")


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring"])
def test_only_steel_is_taken_as_perfect(example):
    comparison = verify(read_design(example_path(example)), ways=(SECTIONS, SPREAD, RINGS))
    assert ("takes any steel as perfect" in row_of(comparison, "k1").leaves_out) is (example == "hut-charger")


def test_a_winding_beside_the_magnets_meets_no_flat_field(varied):
    idle = varied("plank-ring", {"winding.inner_radius_mm": 80, "winding.outer_radius_mm": 95})
    comparison = verify(idle, ways=(HAND, LAYERED, SECTIONS, RINGS))
    assert [emf(comparison, key) for key in ("hand", "layered", "sections")] == [0, 0, 0]
    assert [row_of(comparison, key).b1_t for key in ("hand", "layered", "sections")] == [0, 0, 0]


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_every_answer_is_finite_and_locked(example):
    for answer in verify(read_design(example_path(example)), ways=QUICK).answers:
        assert isinstance(answer, Answer)
        assert all(map(math.isfinite, (answer.b1_t, answer.emf_per_round_v_s_per_rad)))
        assert answer.leaves_out.endswith(".")
        with pytest.raises(ValueError, match="read-only"):
            answer.b1_over_radius_t[...] = 0
        with pytest.raises(dataclasses.FrozenInstanceError):
            answer.b1_t = 0


def test_tight_copper_keeps_off_the_faces(varied):
    """The spread is looked for a little beyond the copper; in a gap without clearance that must not be in a magnet."""
    tight = {"rotor.faces": 2, "rotor.backing": "ideal", "rotor.gap_mm": "stack", "winding.clearance_mm": 0}
    comparison = verify(varied("plank-ring", {**tight, "winding.layers": 20}), ways=(SECTIONS, SPREAD, RINGS))
    assert emf(comparison, "k1") < emf(comparison, "sections")


millimetres = st.floats(0.01, 50.0)


@given(low=millimetres, thick=millimetres, above=st.one_of(millimetres, st.just(math.inf)))
@settings(derandomize=True, max_examples=60)
def test_heights_hold_all_copper_and_no_face(low, thick, above):
    heights = heights_round_m(low, low + thick, low + thick + above)
    assert np.all(np.diff(heights) > 0)
    assert 0 < heights[0] < low
    assert low + thick < heights[-1] < low + thick + above


def test_no_share_of_nothing():
    assert difference_percent(0.3, 0.0) is None
    assert difference_percent(0.33, 0.3) == pytest.approx(10)
