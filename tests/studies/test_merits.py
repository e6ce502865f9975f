"""Figures of a winding: laws of scale, what does not change them, and the torque's pulse in closed form."""

import math
from dataclasses import replace

import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import uniform_map
from fieldrun.generator.emf import emf_per_speed
from fieldrun.studies.merits import merits, torque_reach
from fieldrun.winding.lay import lay

P = 8
EVEN = uniform_map(P, [0.5], (0.05, 0.08), 0.01)
WIRE = Wire("solid", 0.4e-3, 1, 0.45e-3)
WINDING = Winding("serpentine", 0.053, 0.079, 3, 8, 2, 5e-3)


def worth(winding=WINDING, wire=WIRE, field_map=EVEN):
    return merits(field_map, lay(winding, P, wire), winding, wire)


def test_power_is_emf_squared_over_ohms_of_all_phases():
    found = worth()
    assert found.power_w_s2_per_rad2 == pytest.approx(3 * found.emf_v_s_per_rad**2 / found.resistance_ohm)
    assert found.power_per_kg == pytest.approx(found.power_w_s2_per_rad2 / found.copper_mass_kg)
    assert found.rounds_per_phase == 8


def test_equal_copper_is_thinner_wire_on_the_same_path():
    """EMF stays; power and mass go with the section, their ratio stays."""
    full, thin = worth(), worth(wire=replace(WIRE, strand_diameter_m=0.2e-3))
    assert thin.emf_v_s_per_rad == full.emf_v_s_per_rad
    assert thin.copper_mass_kg == pytest.approx(full.copper_mass_kg / 4)
    assert thin.power_w_s2_per_rad2 == pytest.approx(full.power_w_s2_per_rad2 / 4)
    assert thin.power_per_kg == pytest.approx(full.power_per_kg)


def test_joining_groups_in_parallel_changes_volts_but_no_merit():
    series, parallel = worth(), worth(replace(WINDING, parallel=2))
    assert parallel.emf_v_s_per_rad == pytest.approx(series.emf_v_s_per_rad / 2)
    assert parallel.power_w_s2_per_rad2 == pytest.approx(series.power_w_s2_per_rad2)
    assert parallel.copper_mass_kg == pytest.approx(series.copper_mass_kg)


def test_power_goes_with_the_field_squared():
    double = uniform_map(P, [1.0], (0.05, 0.08), 0.01)
    assert worth(field_map=double).power_w_s2_per_rad2 == pytest.approx(4 * worth().power_w_s2_per_rad2)


def test_hot_copper_counts():
    hot, cold = worth(wire=replace(WIRE, temperature_c=120.0)), worth(wire=replace(WIRE, temperature_c=20.0))
    assert hot.resistance_ohm == pytest.approx(cold.resistance_ohm * (1 + 3.93e-3 * 100))


@pytest.mark.parametrize(("phases", "least", "most"), [(1, 0.0, 2.0), (2, 1.0, 1.0), (3, 1.0, 1.0)])
def test_a_sine_pulses_between_nothing_and_twice_the_mean_in_one_phase_only(phases, least, most):
    """sin^2 = (1 - cos 2x)/2; in two phases 90 degrees apart and in three 120 apart the cosines cancel."""
    found = worth(replace(WINDING, phases=phases))
    assert found.torque_least == pytest.approx(least, abs=2e-3)
    assert found.torque_most == pytest.approx(most, abs=2e-3)


def test_a_third_harmonic_in_two_phases_pulses():
    """e1 = cos x + a cos 3x, e2 = sin x - a sin 3x: the sum of squares is 1 + a^2 + 2 a cos 4x."""
    winding = replace(WINDING, phases=2, rounds=2)
    field_map = uniform_map(P, [0.5, 0.05], (0.05, 0.08), 0.01)
    laid = lay(winding, P, WIRE)
    emf = emf_per_speed(field_map, laid, winding, WIRE)
    a = abs(emf.amplitudes[0, 1] / emf.amplitudes[0, 0])
    assert a == pytest.approx(0.1, rel=1e-3)
    least, most = torque_reach(emf)
    assert least == pytest.approx((1 - a) ** 2 / (1 + a**2), abs=1e-3)
    assert most == pytest.approx((1 + a) ** 2 / (1 + a**2), abs=1e-3)


def test_without_a_field_all_is_zero_and_finite():
    found = worth(field_map=uniform_map(P, [0.0], (0.05, 0.08), 0.01))
    assert (found.emf_v_s_per_rad, found.power_w_s2_per_rad2) == (0, 0)
    assert (found.torque_least, found.torque_most) == (1, 1)
    assert math.isfinite(found.power_per_kg)
