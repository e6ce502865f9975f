"""The speed at which a battery starts to charge, against closed forms for waves that one can write down."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Load
from fieldrun.generator.emf import emf_of
from fieldrun.generator.load.charging import charging_starts_rad_s, rectified_peak

E = 0.4
"""Peak of one phase's fundamental [V s/rad]."""

BATTERY = Load("battery", voltage_v=12.6)
SAMPLED = 1 - math.cos(math.pi / 128)
"""How far the highest of 128 samples may lie below a sine's peak."""


def emf(third=0.0, phases=3, size=E, degrees=None):
    lag = np.arange(phases) * (degrees or {1: 0, 2: 90, 3: 120}[phases])
    orders = np.array([1, 3])
    harmonics = np.exp(1j * np.radians(np.outer(lag, orders))) * [1, third]
    return emf_of(8, orders, size * harmonics, star=phases == 3)


@pytest.mark.parametrize(
    ("phases", "connection", "rectifier", "peak"),
    [
        (3, "star", "bridge", math.sqrt(3) * E),
        (3, "delta", "bridge", E),
        (3, "separate", "bridge per phase", E),
        (3, "star", "bridge per phase", E),
        (3, "separate", "doubler", E),
        (2, "star", "bridge", math.sqrt(2) * E),
        (2, "separate", "bridge", E),
        (1, "separate", "bridge", E),
        (1, "star", "bridge", E),  # one phase has nothing to be joined with
    ],
)
def test_peak_that_the_rectifier_sees(phases, connection, rectifier, peak):
    found = rectified_peak(emf(phases=phases), connection, rectifier)
    assert peak * (1 - SAMPLED) <= found <= peak * (1 + 1e-12)


def test_a_third_harmonic_is_not_seen_between_two_lines_of_a_star():
    assert rectified_peak(emf(0.2), "star", "bridge") == pytest.approx(rectified_peak(emf(), "star", "bridge"))


def test_a_third_harmonic_runs_round_the_delta_and_is_used_up_there():
    assert rectified_peak(emf(0.2), "delta", "bridge") == pytest.approx(rectified_peak(emf(), "delta", "bridge"))


def test_separate_phases_keep_their_third_harmonic():
    # cos + 0.2 cos 3x has its largest value, 1.2, where both peak
    assert rectified_peak(emf(0.2), "separate", "bridge per phase") == pytest.approx(1.2 * E)


def test_the_peak_is_that_of_the_wave_whatever_its_sign():
    assert rectified_peak(emf(-0.2), "separate", "bridge") == pytest.approx(
        rectified_peak(emf(-0.2, size=-E), "separate", "bridge"), rel=1e-12
    )


def test_a_bridge_takes_two_diodes_and_a_doubler_one_for_half_the_battery():
    bridge = charging_starts_rad_s(emf(phases=1), "separate", BATTERY)
    assert bridge == pytest.approx((12.6 + 2 * 0.7) / E)
    doubler = charging_starts_rad_s(emf(phases=1), "separate", Load("battery", 12.6, rectifier="doubler"))
    assert doubler == pytest.approx((12.6 / 2 + 0.7) / E)


def test_star_of_three_by_hand():
    """e1 - e2 of a sine is sqrt 3 higher than one phase: 14 V over sqrt 3 x 0.4 V s/rad are 20.2 rad/s, 193 rpm."""
    starts = charging_starts_rad_s(emf(), "star", BATTERY)
    assert starts * 60 / (2 * math.pi) == pytest.approx(192.97, rel=SAMPLED)


def test_no_current_no_ohms():
    """Resistances play no part below the speed at which current starts."""
    loaded = Load("battery", 12.6, resistance_ohm=0.05, cable_ohm=3.0, diode_slope_ohm=0.2)
    assert charging_starts_rad_s(emf(), "star", loaded) == charging_starts_rad_s(emf(), "star", BATTERY)


@pytest.mark.parametrize(
    "load", [Load("open"), Load("resistor", resistance_ohm=10.0), Load("battery", 12.6, rectifier="none")]
)
def test_nothing_charges_without_a_battery_behind_diodes(load):
    assert charging_starts_rad_s(emf(), "star", load) is None


def test_a_winding_without_volts_never_charges():
    assert charging_starts_rad_s(emf(size=0.0), "star", BATTERY) is None


@settings(derandomize=True, max_examples=40, deadline=None)
@given(
    st.floats(0.01, 100),
    st.sampled_from(["star", "delta", "separate"]),
    st.sampled_from(["bridge", "bridge per phase", "doubler"]),
    st.floats(-0.3, 0.3),
)
def test_twice_the_emf_halves_the_speed(size, connection, rectifier, third):
    load = Load("battery", 24.0, rectifier=rectifier)
    once, twice = (charging_starts_rad_s(emf(third, size=s), connection, load) for s in (size, 2 * size))
    assert once == pytest.approx(2 * twice, rel=1e-12)
    assert once * rectified_peak(emf(third, size=size), connection, rectifier) > 12
