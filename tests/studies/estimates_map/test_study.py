"""Quick estimates against finite elements: planted ones, limits, scaling, and every way to be left without a number."""

import dataclasses
import functools
import math

import numpy as np
import pytest

from fieldrun.design.errors import DesignError, SolveError
from fieldrun.design.examples import example_path
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.solve import field_of
from fieldrun.generator.machine import read_design
from fieldrun.reference.estimates import machine_stack
from fieldrun.reference.layers import amplitudes, solve_layers
from fieldrun.studies.estimates_map import study as map_study
from fieldrun.studies.estimates_map import truth
from fieldrun.studies.estimates_map.coil import emf_of_round, one_round, shape_factor
from fieldrun.studies.estimates_map.formulas import ESTIMATES, b_l_v, four_forty_four, hand_b1
from fieldrun.studies.estimates_map.grid import Axes, machine_at
from fieldrun.studies.estimates_map.judge import Outcome, Unfit
from fieldrun.studies.estimates_map.study import estimates_map

AXES = Axes((0.2, 0.5), (0.15, 0.4), (0.5, 0.8))

AIR_LIKE = {"magnets.grade": None, "magnets.remanence_t": 1.2, "magnets.recoil_permeability": 1.0}


@pytest.fixture
def varied(design_file):
    return lambda example, changes=None: read_design(design_file(example, changes))


@functools.cache
def study(example):
    return estimates_map(read_design(example_path(example)), axes=AXES)


def row_of(found, key):
    return next(row for row in found.rows if row.label.key == key)


alone = functools.cache(field_of)
"""A machine's field without its family, solved once for all estimates that ask for it."""


def from_rings(magnets, rotor, height_m, radius_m):
    """The truth itself, as an estimate of the user's own."""
    return float(amplitudes_at(alone(magnets, rotor), [radius_m], [height_m])[2, 0, 0].real)


def emf_from_rings(magnets, rotor, height_m, _radius_m, winding):
    return emf_of_round(truth.fundamental_of(alone(magnets, rotor)), winding, height_m)


@pytest.fixture
def solved_already(monkeypatch):
    """A study of the hut charger over `AXES` takes its fields from the one that was made before."""
    found = study("hut-charger")
    monkeypatch.setattr(map_study, "truth_of", lambda *_: found.truth)
    monkeypatch.setattr(map_study, "coarser_percent", lambda *_: found.numerical_percent)


def test_the_truth_as_an_own_estimate_is_right_everywhere():
    design = read_design(example_path("hut-charger"))
    found = estimates_map(design, axes=AXES, own={"mine": from_rings}, own_emf={"my volts": emf_from_rings})
    for key in ("mine", "my volts"):
        row = row_of(found, key)
        assert np.max(np.abs(row.errors_percent)) < 1e-6
        assert abs(row.own_error_percent) < 1e-6
        assert row.share_within == 1.0
        assert row.region.machines == len(AXES.points)
        assert row.label.leaves_out == "The user's own."
    assert [row.label.quantity for row in found.rows] == sorted(
        (row.label.quantity for row in found.rows), key=lambda quantity: quantity == "emf"
    )


@pytest.mark.slow
def test_an_error_is_what_was_planted():
    design = read_design(example_path("plank-ring"))
    low = {"low": lambda *where: 0.93 * from_rings(*where), "high": lambda *where: 1.04 * from_rings(*where)}
    found = estimates_map(design, axes=AXES, own=low)
    row = row_of(found, "low")
    assert (row.median_percent, row.worst_percent) == (pytest.approx(7, abs=1e-6), pytest.approx(-7, abs=1e-6))
    assert (row.share_within, row.region) == (0.0, None)
    assert row_of(found, "high").share_within == 1.0
    wider = estimates_map(design, axes=AXES, own=low, allowed_percent=8.0)
    assert row_of(wider, "low").share_within == 1.0


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_layers_are_the_flat_section_where_magnets_are_like_air(varied, example):
    """Both leave the third dimension out, and at recoil permeability 1 layers leave nothing else out."""
    found = estimates_map(varied(example, AIR_LIKE), axes=AXES)
    row = row_of(found, "layered")
    assert np.max(np.abs(row.flat_errors_percent)) < 0.01
    assert row.flat_median_percent < 0.01


def test_leakage_brings_the_circuit_nearer_to_flat_sections_everywhere():
    found = study("hut-charger")
    plain, leaky = (np.abs(row_of(found, key).flat_errors_percent) for key in ("circuit", "leaky"))
    assert np.all(leaky < plain)


def test_the_narrower_the_gap_the_better_the_circuit():
    axes = Axes((0.01, 0.03, 0.1, 0.3), (0.3,), (0.8,))
    found = estimates_map(read_design(example_path("hut-charger")), axes=axes)
    errors = row_of(found, "circuit").flat_errors_percent
    assert np.all(np.diff(errors) > 0)
    assert 0 < errors[0] < 1.0


def doubled(design):
    """Every length twice as large."""
    magnets, rotor, winding = design.magnets, design.rotor, design.winding
    outline = dataclasses.replace(
        magnets.outline, **{k: 2 * v for k, v in dataclasses.asdict(magnets.outline).items() if k.endswith("_m")}
    )
    long = {"inner_radius_m": 2 * winding.inner_radius_m, "outer_radius_m": 2 * winding.outer_radius_m}
    return dataclasses.replace(
        design,
        magnets=dataclasses.replace(magnets, outline=outline, thickness_m=2 * magnets.thickness_m),
        rotor=dataclasses.replace(
            rotor,
            gap_m=rotor.gap_m and 2 * rotor.gap_m,
            steel_inner_radius_m=2 * rotor.steel_inner_radius_m,
            steel_outer_radius_m=2 * rotor.steel_outer_radius_m,
        ),
        winding=dataclasses.replace(winding, **long, height_m=2 * winding.height_m),
    )


@pytest.mark.slow
@pytest.mark.parametrize("example", ["hut-charger", "plank-ring"])
def test_ratios_tell_all(example):
    """Twice the machine has the same errors."""
    design = read_design(example_path(example))
    one, two = estimates_map(design, axes=AXES), estimates_map(doubled(design), axes=AXES)
    assert two.own_point.gap == pytest.approx(one.own_point.gap, rel=1e-12)
    for first, second in zip(one.outcomes, two.outcomes, strict=True):
        np.testing.assert_allclose(second.errors_percent, first.errors_percent, rtol=1e-7, atol=1e-7)
        assert second.own_error_percent == pytest.approx(first.own_error_percent, rel=1e-7, abs=1e-7)
    np.testing.assert_allclose(two.truth.b1_t, one.truth.b1_t, rtol=1e-9)
    np.testing.assert_allclose(two.truth.emf_v_s_per_rad, 4 * one.truth.emf_v_s_per_rad, rtol=1e-9)


def raises(*_):
    raise ZeroDivisionError("no gap left")


@pytest.mark.parametrize(
    ("formula", "reason"),
    [
        (lambda *_: math.nan, "it gave nan at gap 0.2, thickness 0.15 of the pole pitch, share 0.5"),
        (lambda *_: math.inf, "it gave inf at gap 0.2, thickness 0.15 of the pole pitch, share 0.5"),
        (raises, "it raised ZeroDivisionError: no gap left at gap 0.2, thickness 0.15 of the pole pitch, share 0.5"),
        (lambda m, *_: math.nan if m.thickness_m > 0.01 else 0.5, "it gave nan at gap 0.2, thickness 0.4 of the pole"),
        (lambda *_: "much", "it raised ValueError: could not convert string to float: 'much' at gap 0.2"),
        (lambda: 0.5, "it raised TypeError: "),
    ],
)
@pytest.mark.usefixtures("solved_already")
def test_an_own_estimate_without_a_number_is_a_row_with_its_reason(formula, reason):
    found = estimates_map(read_design(example_path("hut-charger")), axes=AXES, own={"mine": formula})
    row = row_of(found, "mine")
    assert isinstance(row, Unfit)
    assert row.reason.startswith(reason)
    assert isinstance(row_of(found, "circuit"), Outcome)


@pytest.mark.parametrize("name", ["circuit", "layered Fourier", "ribbon", " "])
def test_an_own_estimate_needs_a_name_of_its_own(name):
    design = read_design(example_path("hut-charger"))
    told = f"^own: an estimate of your own needs a name that no other bears; received {name!r}, try another$"
    with pytest.raises(DesignError, match=told):
        estimates_map(design, axes=AXES, own={name: from_rings})
    with pytest.raises(DesignError, match="received 'mine', try another"):
        estimates_map(design, axes=AXES, own={"mine": from_rings}, own_emf={"mine": emf_from_rings})


def test_estimates_that_do_not_hold_for_an_arrangement_say_why():
    reasons = {
        example: {row.label.key: row.reason for row in study(example).rows if isinstance(row, Unfit)}
        for example in ("hut-charger", "plank-ring", "quiet-halbach")
    }
    no_steel = "no steel stands at both ends of the flux's way across the gap"
    no_need = "a Halbach face guides its flux without a circuit of steel"
    assert reasons == {
        "hut-charger": {"halbach": "the magnets are no Halbach face"},
        "plank-ring": {"circuit": no_steel, "leaky": no_steel, "halbach": "the magnets are no Halbach face"},
        "quiet-halbach": {
            "circuit": no_need,
            "leaky": no_need,
            "axis": "some bodies of a Halbach face lie on their side",
            "flux": "a pole of a Halbach face is made of several bodies",
        },
    }


def test_magnets_that_touch_leave_the_leaking_circuit_without_a_number(varied):
    changes = {"rotor.faces": 2, "rotor.gap_mm": 8, "rotor.backing": "ideal"}
    touching = Axes((0.2, 0.5), (0.15,), (0.5, 1.0))
    found = estimates_map(varied("plank-ring", changes), axes=touching)
    assert row_of(found, "leaky").reason.startswith("it raised ValueError: magnets must cover more than none and less")
    assert isinstance(row_of(found, "circuit"), Outcome)


def test_a_winding_beside_the_field_cannot_be_judged(monkeypatch):
    monkeypatch.setattr(truth, "emf_of_round", lambda *_: 0.0)
    told = "^winding: it meets no field on part of the grid: no error can be told$"
    with pytest.raises(DesignError, match=told):
        estimates_map(read_design(example_path("hut-charger")), axes=AXES)


def test_a_machine_that_does_not_converge_ends_the_study(monkeypatch):
    monkeypatch.setattr(truth, "rotor_fields", lambda machines: iter([SolveError("stuck")] * len(machines)))
    with pytest.raises(SolveError, match=r"^stuck$"):
        estimates_map(read_design(example_path("hut-charger")), axes=AXES)


def test_progress_is_told_to_the_last_machine():
    told = []
    estimates_map(read_design(example_path("plank-ring")), axes=AXES, tell=lambda *state: told.append(state))
    assert told == [(k + 1, 9) for k in range(9)]


@pytest.mark.slow
def test_own_steel_saturates_and_lowers_the_field(varied):
    """Two millimetres carry less than ideal plates, and the design's own numbers are those of its own field."""
    design = varied("hut-charger", {"rotor.backing_mm": 2})
    axes = Axes((0.2,), (0.3,), (0.8,))
    ideal, own = (estimates_map(design, axes=axes, steel=steel) for steel in ("ideal", "own"))
    assert np.all(own.truth.b1_t < 0.99 * ideal.truth.b1_t)
    assert np.all(own.truth.flat_b1_t < 0.99 * ideal.truth.flat_b1_t)
    at_design = from_rings(design.magnets, design.rotor, design.winding.height_m, 0.066)
    assert own.truth.b1_t[-1] == pytest.approx(at_design, rel=1e-6)
    assert row_of(own, "circuit").own_error_percent > row_of(ideal, "circuit").own_error_percent + 1


def test_coarser_rings_are_near():
    for example in ("hut-charger", "quiet-halbach"):
        found = study(example)
        assert 0 < found.numerical_percent < 0.5


def test_each_machine_is_what_it_is_alone():
    """Families and shared solutions change no more than the last digits."""
    found = study("plank-ring")
    machine = machine_at(found.pattern, AXES.points[5])
    single = from_rings(machine.magnets, machine.rotor, machine.height_m, machine.radius_m)
    assert found.truth.b1_t[5] == pytest.approx(single, rel=1e-9)
    field = solve_layers(machine_stack(machine.magnets, machine.rotor, machine.radius_m, (1,)))
    layered = amplitudes(field, machine.height_m)[1][0, 0].real
    assert row_of(found, "layered").values[5] == pytest.approx(layered, rel=1e-12)


def test_b_l_v_is_exact_for_radial_legs_in_an_even_field():
    """E = 2p l r B / sqrt 2 with the legs over all the magnets: the line integral over a map that is even says so."""
    from fieldrun.field.field_map import uniform_map

    design = read_design(example_path("plank-ring"))
    magnets, rotor = design.magnets, design.rotor
    winding = one_round(
        dataclasses.replace(design.winding, inner_radius_m=0.045, outer_radius_m=0.07, height_m=0.003), magnets
    )
    assert shape_factor(winding, 6) == pytest.approx(1.0, rel=1e-9)
    b1 = hand_b1(magnets, rotor, 0.003, 0.0575)
    even = emf_of_round(uniform_map(6, [b1], (0.045, 0.07), 0.01), winding, 0.003)
    assert b_l_v(magnets, rotor, 0.003, 0.0575, winding) == pytest.approx(even, rel=1e-9)


def test_where_faces_fill_the_circle_the_emf_formulas_differ_as_a_square_from_a_sine():
    """B l v takes the square wave's fundamental, 4 / pi B; the flux formula all its flux, B tau l, for a sine's.

    A sine of 4 / pi B has 2 / pi of its amplitude times tau l: pi^2 / 8 less.
    """
    design = read_design(example_path("plank-ring"))
    magnets = dataclasses.replace(design.magnets, outline=dataclasses.replace(design.magnets.outline, share=1.0))
    winding = one_round(
        dataclasses.replace(design.winding, inner_radius_m=0.045, outer_radius_m=0.07, height_m=0.003), magnets
    )
    flux, line = (formula(magnets, design.rotor, 0.003, 0.0575, winding) for formula in (four_forty_four, b_l_v))
    assert flux / line == pytest.approx(math.pi**2 / 8, rel=1e-9)


def test_a_path_is_stood_for_by_a_serpentine_over_the_magnets():
    design = read_design(example_path("hut-charger"))
    path = dataclasses.replace(
        design.winding, shape="path", file="x.csv", inner_radius_m=None, outer_radius_m=None, rounds=3
    )
    coil = one_round(path, design.magnets)
    assert (coil.shape, coil.file, coil.rounds) == ("serpentine", "", 1)
    assert (coil.inner_radius_m, coil.outer_radius_m) == (pytest.approx(0.056), pytest.approx(0.076))
    assert len({one.key for one in ESTIMATES}) == len(ESTIMATES) == 7
