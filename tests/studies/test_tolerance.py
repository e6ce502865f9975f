"""A band drawn by chance and yet certain: seeded, held to single machines solved in full and to closed forms."""

import dataclasses
import functools
import math

import numpy as np
import pytest

from fieldrun.design.model import Magnets, Plate, Rotor, Tolerance
from fieldrun.field.field_map import uniform_map
from fieldrun.field.outline import mean_radius_m
from fieldrun.reference.closed_forms import block_face, two_faces_on_iron
from fieldrun.studies.deviations import Built
from fieldrun.studies.tolerance import (
    BATCH,
    SAMPLES,
    fields_needed,
    parabolas,
    rms_as_built,
    tolerance_band,
)

NONE = Tolerance(0.0, 0.0, 0.0, 0.0)
USUAL = Tolerance(0.02, 0.3e-3, 0.1e-3, 0.3e-3)


def with_tolerance(result, **keys):
    tolerance = dataclasses.replace(result.design.tolerance, **keys)
    return dataclasses.replace(result, design=dataclasses.replace(result.design, tolerance=tolerance))


def without(result, **keys):
    return with_tolerance(result, **{**dataclasses.asdict(NONE), **keys})


@pytest.fixture(scope="module")
def plank(bundled):
    return bundled("plank-ring")


@pytest.fixture(scope="module")
def band(plank):
    return tolerance_band(plank)


def joint(design, deviations):
    """One machine with all of its batch's deviations at once, in standard deviations."""
    built, lift = Built(design.magnets, design.rotor), 0.0
    for name, x in deviations.items():
        key, deviate = BATCH[name]
        so_far = dataclasses.replace(design, magnets=built.magnets, rotor=built.rotor)
        built = deviate(so_far, x * getattr(design.tolerance, key))
        lift += built.lift_m
    return dataclasses.replace(built, lift_m=lift)


def worst_of(result, machines, spread):
    """Largest error of the multiplied parabolas against machines solved in full, as a share of the EMF."""
    curves, dice = parabolas(result), np.random.default_rng(7)
    errors = []
    for _ in range(machines):
        x = dict(zip(BATCH, spread * dice.standard_normal(len(BATCH)), strict=True))
        direct = rms_as_built(result, joint(result.design, x)) / result.emf.rms[0]
        told = math.prod(1 + curves[name][0] * x[name] + curves[name][1] * x[name] ** 2 for name in BATCH)
        errors.append(abs(told / direct - 1))
    return max(errors)


def test_machines_solved_in_full_lie_where_the_parabolas_say(plank):
    """A third more scattered than stated. Products of deviations are left out: found 4.5e-4 of the EMF at worst, where
    the band is 8 % either way.
    """
    assert worst_of(plank, 6, 1.33) < 7e-4


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hut-charger", "quiet-halbach"])
def test_it_holds_for_saturating_steel_and_halbach_blocks_too(bundled, name):
    """Found 3.6e-4 for steel at its knee, 3e-5 without steel."""
    assert worst_of(bundled(name), 8, 1.33) < 7e-4


@pytest.mark.parametrize("size", [0.02, 0.2])
def test_without_steel_emf_is_proportional_to_remanence(plank, size):
    a, b = parabolas(without(plank, remanence=size))["remanence"]
    assert (a, b) == pytest.approx((size, 0.0), abs=1e-9)


def test_each_deviation_moves_the_emf_the_way_it_must(plank):
    curves = parabolas(plank)
    assert curves["gap"][0] < 0
    assert min(curves[name][0] for name in ("remanence", "sides", "thickness")) > 0
    assert abs(curves["circle"][0]) < abs(curves["gap"][0]) / 10


def test_the_same_seed_gives_the_same_band(plank, band):
    again = tolerance_band(plank)
    assert again.rms.tolist() == band.rms.tolist()
    assert again.spread == band.spread
    assert (band.seed, len(band.rms), band.fields) == (1, SAMPLES, 11)
    with pytest.raises(ValueError, match="read-only"):
        band.rms[0] = 0


def test_another_seed_gives_other_machines_of_the_same_kind(plank, band):
    other = tolerance_band(plank, seed=2)
    assert not np.any(other.rms == band.rms)
    for share in (0.05, 0.5, 0.95):
        assert other.quantile(share) == pytest.approx(band.quantile(share), rel=6e-3)


def test_the_band_is_round_the_machine_as_drawn(plank, band):
    low, middle, high = (band.quantile(share) for share in (0.05, 0.5, 0.95))
    assert low < middle < high
    assert band.drawn_rms == plank.emf.rms[0]
    assert middle == pytest.approx(band.drawn_rms, rel=3e-3)


def test_independent_deviations_add_in_quadrature(band):
    total = np.std(band.rms) / band.drawn_rms
    assert total == pytest.approx(math.hypot(*band.spread.values()), rel=0.03)
    assert band.widest == "gap" == max(band.spread, key=band.spread.get)


def test_no_tolerance_no_band(plank):
    sure = tolerance_band(without(plank), samples=50)
    assert (sure.rms == plank.emf.rms[0]).all()
    assert sure.widest is None
    assert set(sure.spread.values()) == {0.0}
    assert sure.fields == 1


@pytest.mark.parametrize(
    ("keys", "fields", "at_work"),
    [
        ({"remanence": 0.02}, 3, "remanence"),
        ({"gap_m": 1e-4}, 3, "gap"),
        ({"magnet_m": 1e-4}, 5, "magnet"),
        ({"placement_m": 1e-4}, 3, "placement"),
    ],
)
def test_one_tolerance_alone_takes_its_own_fields_and_is_the_widest(plank, keys, fields, at_work):
    alone = without(plank, **keys)
    told = []
    one = tolerance_band(alone, samples=100, tell=told.append)
    assert one.fields == fields_needed(alone.design) == len(told) == fields
    assert told[0] == "the machine as drawn"
    assert len(set(told[1:])) == (fields - 1) / 2
    assert one.widest == at_work
    assert {key for key, spread in one.spread.items() if spread > 0} == {at_work}
    assert np.std(one.rms) == pytest.approx(one.spread[at_work] * one.drawn_rms)


def series_field(magnets: Magnets, rotor: Rotor):
    """A field that depends on neither radius nor height, of the strength that endless blocks have at mid-gap."""
    face = block_face([1], math.pi * 0.0575 / 6, magnets.remanence_t, magnets.outline.share, (magnets.thickness_m, 1.0))
    strength = two_faces_on_iron(face, rotor.gap_m, rotor.gap_m / 2)
    return uniform_map(magnets.pole_pairs, strength, (0.03, 0.09), rotor.gap_m)


@functools.cache
def sandwich(plank):
    """The plank ring between two discs in the field of the series."""
    rotor = Rotor(2, 0.012, Plate(None), None, 0.04, 0.08)
    design = dataclasses.replace(plank.design, rotor=rotor, tolerance=USUAL)
    drawn = dataclasses.replace(plank, design=design)
    rms = rms_as_built(drawn, Built(design.magnets, rotor), series_field)
    return dataclasses.replace(drawn, emf=dataclasses.replace(plank.emf, rms=np.full(3, rms)))


@pytest.mark.slow
def test_the_band_is_that_of_the_series_drawn_machine_by_machine(plank):
    """Twenty thousand machines by the closed form itself, by other random numbers; no parabola, no field map."""
    drawn = sandwich(plank)
    magnets, tolerance, dice = drawn.design.magnets, USUAL, np.random.default_rng(99)
    outline = magnets.outline
    pitch = math.pi * (outline.inner_radius_m + outline.outer_radius_m) / 2 / 6

    def strength(x):
        grown = tolerance.magnet_m * x[2] / pitch
        thick = magnets.thickness_m + tolerance.magnet_m * x[3]
        remanence = magnets.remanence_t * (1 + tolerance.remanence * x[0])
        face = block_face([1], math.pi * 0.0575 / 6, remanence, outline.share + grown, (thick, 1.0))
        gap = 0.012 + tolerance.gap_m * x[1]
        return two_faces_on_iron(face, gap, gap / 2)[0]

    wanted = np.array([strength(x) for x in dice.standard_normal((20000, 4))]) / strength(np.zeros(4))
    still = with_tolerance(drawn, placement_m=0.0)
    found = tolerance_band(still, samples=20000, field=series_field)
    for share in (0.05, 0.5, 0.95):
        assert found.quantile(share) / found.drawn_rms == pytest.approx(np.quantile(wanted, share), rel=1.5e-3)


def even_field(magnets, rotor):
    """Half a tesla whatever the magnets: only their places along the circle are left to matter."""
    return uniform_map(magnets.pole_pairs, [0.5], (0.03, 0.09), rotor.gap_m)


def test_places_along_the_circle_average_out(plank):
    """|mean exp(j p t / R)| over N = 24 magnets loses (p sigma / R)^2 / 2, less its N-th part."""
    drawn = without(sandwich(plank), placement_m=1.5e-3)
    wave = dataclasses.replace(drawn.emf, amplitudes=drawn.emf.amplitudes * (drawn.emf.orders == 1))
    found = tolerance_band(dataclasses.replace(drawn, emf=wave), field=even_field)
    lost = (6 * 1.5e-3 / 0.0575) ** 2 / 2 * (1 - 1 / 24)
    assert 1 - np.mean(found.rms) / found.drawn_rms == pytest.approx(lost, rel=0.02)
    assert np.std(found.rms) / found.drawn_rms < lost / 2


def test_higher_harmonics_suffer_more(plank):
    drawn = without(sandwich(plank), placement_m=1.5e-3)

    def mean(order):
        wave = dataclasses.replace(drawn.emf, amplitudes=drawn.emf.amplitudes * (drawn.emf.orders == order))
        found = tolerance_band(dataclasses.replace(drawn, emf=wave), samples=500, field=even_field)
        return float(np.mean(found.rms)) / found.drawn_rms

    assert 1 > mean(1) > mean(3) > mean(5) > 0


def test_a_winding_without_any_field_gives_nothing_and_no_nan(plank):
    def nothing(magnets, rotor):
        return uniform_map(magnets.pole_pairs, [0.0], (0.03, 0.09), 0.05)

    still = dataclasses.replace(plank.emf, rms=np.zeros(3), amplitudes=np.zeros_like(plank.emf.amplitudes))
    empty = tolerance_band(dataclasses.replace(plank, emf=still), samples=20, field=nothing)
    assert (empty.rms == 0).all()
    assert empty.widest is None


def test_magnets_put_down_badly_weaken_the_mean(plank):
    """Angles spread by 0.1 electrical rad, 12 bodies: the fundamental alone loses 0.1^2 / 2 (1 - 1/12) on average."""
    design = plank.design
    off = 0.1 * mean_radius_m(design.magnets) / design.magnets.pole_pairs
    bad = tolerance_band(without(plank, placement_m=off), samples=400)
    assert bad.shift["placement"] < -0.003
    assert bad.shift["placement"] == pytest.approx(np.mean(bad.rms) / bad.drawn_rms - 1, rel=1e-9)
    assert {key for key, shift in bad.shift.items() if shift} == {"placement"}
    assert bad.open_face
