"""Strands joined in every way, against the same machine computed anew with its strands joined so."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Load
from fieldrun.design.wire import litz_wire
from fieldrun.generator.emf import emf_of
from fieldrun.generator.joining import Link, joinings, links
from fieldrun.generator.load.charging import charging_starts_rad_s

BUNDLE = {"wire.strands": 12, "wire.strands_in_series": 3, "winding.parallel": 2}


@pytest.fixture(scope="module")
def halbach(bundled):
    return bundled("quiet-halbach")


def test_every_divisor_of_the_strands_is_a_way(halbach):
    assert [(way.in_series, way.in_parallel) for way in halbach.joinings] == [(1, 35), (5, 7), (7, 5), (35, 1)]


def test_a_solid_wire_has_no_strands_to_join(bundled):
    assert bundled("plank-ring").joinings == ()


def test_the_way_of_the_design_is_among_them(answered):
    result = answered("quiet-halbach", BUNDLE)
    own = next(way for way in result.joinings if way.in_series == 3)
    assert own.rms_v_s_per_rad == pytest.approx(float(result.emf.rms[0]), rel=1e-12)
    assert own.resistance_20c_ohm == pytest.approx(result.impedance.resistance_20c_ohm, rel=1e-12)
    assert own.resistance_hot_ohm == pytest.approx(result.impedance.resistance_hot_ohm, rel=1e-12)
    assert own.charging_starts_rad_s == pytest.approx(result.charging_starts_rad_s, rel=1e-12)
    assert own.joints_per_phase == 2 * 2  # in each of the two parallel groups of rounds
    assert own.ends_per_joint == 8


@pytest.mark.parametrize("series", [1, 5, 35])
def test_every_way_is_what_a_run_of_its_own_says(answered, halbach, series):
    alone = answered("quiet-halbach", {"wire.strands_in_series": series})
    way = next(way for way in halbach.joinings if way.in_series == series)
    assert way.rms_v_s_per_rad == pytest.approx(float(alone.emf.rms[0]), rel=1e-9)
    assert way.resistance_hot_ohm == pytest.approx(alone.impedance.resistance_hot_ohm, rel=1e-9)
    assert way.charging_starts_rad_s == pytest.approx(alone.charging_starts_rad_s, rel=1e-9)


def test_parallel_is_one_strand_s_volts_at_a_part_of_its_ohms_and_series_all_their_volts(halbach):
    """One strand: the EMF of the whole path at the ohms of one thin wire."""
    one = litz_wire(0.1e-3, 35, lay_m=0.015, serving_m=0.06e-3)
    strand_ohm = 1e-6 / 58 * one.length_factor * halbach.impedance.conductor_length_m / (math.pi / 4 * 0.1e-3**2)
    parallel, *_, series = halbach.joinings
    assert parallel.resistance_20c_ohm == pytest.approx(strand_ohm / 35, rel=1e-9)
    assert series.resistance_20c_ohm == pytest.approx(strand_ohm * 35, rel=1e-9)
    assert series.rms_v_s_per_rad == pytest.approx(35 * parallel.rms_v_s_per_rad)


def test_every_way_gives_the_same_power_into_a_load_that_suits_it(halbach):
    powers = [way.matched_w_per_speed2 for way in halbach.joinings]
    assert powers == pytest.approx([powers[0]] * 4, rel=1e-12)
    rms, ohms = float(halbach.emf.rms[0]), halbach.impedance.resistance_hot_ohm
    assert powers[0] == pytest.approx(3 * rms**2 / 4 / ohms)


def test_but_only_some_charge_a_battery(halbach):
    """Twice the strands in series, half the speed; below it no current flows at all."""
    starts = [way.charging_starts_rad_s * way.in_series for way in halbach.joinings]
    assert starts == pytest.approx([starts[0]] * 4, rel=1e-12)
    speed = 0.9 * halbach.joinings[0].charging_starts_rad_s
    assert [way.charges_at(speed) for way in halbach.joinings] == [False, True, True, True]
    assert halbach.joinings[0].charges_at(halbach.joinings[0].charging_starts_rad_s)


@pytest.mark.parametrize("load", [None, Load("open"), Load("resistor", resistance_ohm=4.0)])
def test_without_a_battery_nothing_charges(halbach, load):
    ways = joinings(halbach.emf, halbach.impedance, replace(halbach.design, load=load))
    assert [way.charging_starts_rad_s for way in ways] == [None] * 4
    assert not ways[-1].charges_at(1e9)


def test_rectifiers_are_those_of_the_load(halbach):
    load = Load("battery", 12.6, rectifier="doubler")
    way = joinings(halbach.emf, halbach.impedance, replace(halbach.design, load=load))[1]
    emf = emf_of(8, halbach.emf.orders, 5 * np.array(halbach.emf.amplitudes), star=True)
    assert way.charging_starts_rad_s == pytest.approx(charging_starts_rad_s(emf, "star", load), rel=1e-12)


@pytest.mark.parametrize(
    ("strands", "series", "expected"),
    [
        (4, 1, ()),
        (3, 3, (Link((1, 1), (2, 2)), Link((2, 2), (3, 3)))),
        (6, 3, (Link((1, 2), (3, 4)), Link((3, 4), (5, 6)))),
        (6, 2, (Link((1, 3), (4, 6)),)),
    ],
)
def test_what_is_soldered_to_what(strands, series, expected):
    assert links(litz_wire(0.2e-3, strands, strands_in_series=series)) == expected


@pytest.mark.parametrize("series", [1, 2, 3, 4, 6, 12])
def test_every_strand_is_passed_once(series):
    """Walked along the links, all strands are met, and as many links as joints are needed."""
    found = links(litz_wire(0.2e-3, 12, strands_in_series=series))
    assert len(found) == series - 1
    starts = [n for link in found for n in range(link.starts[0], link.starts[1] + 1)]
    assert starts == list(range(12 // series + 1, 13))
    assert all(link.starts[0] == link.ends[1] + 1 for link in found)
