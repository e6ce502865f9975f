"""A rotor's torque, its start, and the rotor that never turns."""

import math

import numpy as np
import pytest

from fieldrun.design.model import PowerCoefficients, Turbine
from fieldrun.generator.wind.turbine import (
    free_speed_rad_s,
    rotor_torque_nm,
    starts_at_m_s,
    tip_speed_ratio,
    turbine_faults,
    wind_power_w,
    wind_rotor,
)

WATTS_M2 = {3: 16.54, 4: 39.20, 5: 76.56, 6: 132.3, 8: 313.6, 10: 612.5}
"""Power of the wind through a square metre, rho v^3 / 2 at 1.225 kg/m^3."""


@pytest.mark.parametrize("wind", WATTS_M2)
def test_power_of_the_wind(wind):
    square_metre = wind_rotor(Turbine(math.sqrt(4 / math.pi)))
    assert wind_power_w(square_metre, wind) == pytest.approx(WATTS_M2[wind], rel=4e-4)


def test_speed_at_a_tip_speed_ratio():
    """In rpm 30 lambda v / (pi R): lambda 7, D 3 m, 4 m/s give 178.25 rpm."""
    rotor = wind_rotor(Turbine(3.0))
    speed = np.array([178.25 * math.pi / 30])
    assert tip_speed_ratio(rotor, np.array([4.0]), speed) == pytest.approx(7, rel=3e-5)


def test_torque_times_speed_is_the_formula_s_power():
    rotor = wind_rotor(Turbine(3.0))
    speed = np.array([8.1 * 6 / 1.5])
    power = rotor_torque_nm(rotor, np.array([6.0]), speed) * speed
    assert power == pytest.approx(0.480012 * wind_power_w(rotor, 6.0), rel=1e-5)


def test_without_wind_nothing_turns_it():
    rotor = wind_rotor(Turbine(3.0))
    assert np.all(rotor_torque_nm(rotor, np.zeros(3), np.array([0.0, 1.0, 50.0])) == 0)


def test_an_upright_rotor_sweeps_a_rectangle():
    assert wind_rotor(Turbine(2.0, rotor_height_m=3.0)).area_m2 == 6
    assert wind_rotor(Turbine(2.0)).area_m2 == pytest.approx(math.pi)


def test_it_starts_where_its_pull_at_standstill_is_the_drag():
    rotor = wind_rotor(Turbine(2.0, tip_speed_ratio=6.0, gear_ratio=3.0, drag_nm=0.1, start_torque_coefficient=0.02))
    start = starts_at_m_s(rotor)
    assert rotor_torque_nm(rotor, np.array([start]), np.zeros(1)) == pytest.approx(3 * 0.1, rel=1e-12)
    assert start == pytest.approx(math.sqrt(0.3 / (0.5 * 1.225 * math.pi * 0.02)), rel=1e-6)


def test_free_it_runs_with_the_wind():
    rotor = wind_rotor(Turbine(2.0, tip_speed_ratio=6.0))
    assert free_speed_rad_s(rotor, 10.0) == pytest.approx(2 * free_speed_rad_s(rotor, 5.0))
    speed = np.array([free_speed_rad_s(rotor, 10.0)])
    assert rotor_torque_nm(rotor, np.array([10.0]), speed) == pytest.approx(0, abs=1e-9)
    assert rotor_torque_nm(rotor, np.array([10.0]), 0.99 * speed) > 0


def test_a_rotor_that_turns_has_no_fault():
    assert turbine_faults(Turbine(1.8, 6.0), 8.0) == []
    assert turbine_faults(Turbine(0.3, 6.0), 25.0) == []


@pytest.mark.parametrize(
    ("turbine", "key", "text"),
    [
        (
            Turbine(1.0, 6.0, drag_nm=2.0),
            "wind.drag_nm",
            (
                "the rotor never turns: in 8 m/s, the strongest wind it meets, it pulls with 0.214 N m at standstill, "
                "against a drag of 2 N m at its shaft; check drag_nm, gear_ratio, start_torque_coefficient and "
                "rotor_diameter_m"
            ),
        ),
        (
            Turbine(1.0, 6.0, start_torque_coefficient=1e-5),
            "wind.start_torque_coefficient",
            "the rotor never turns: in",
        ),
        (Turbine(0.2, 12.0, gear_ratio=50.0), "wind.rotor_diameter_m", "the rotor never turns: in 8 m/s"),
        (
            Turbine(2.0, start_torque_coefficient=0.0),
            "wind.start_torque_coefficient",
            (
                "the rotor never turns: its torque coefficient at standstill is 0, not above 0; if something starts "
                "it, give that as start_torque_coefficient"
            ),
        ),
        (
            Turbine(2.0, cp=PowerCoefficients("u.csv", (0.5, 2.0, 3.0, 4.0), (-0.01, 0.1, 0.3, 0.0))),
            "wind.cp_curve",
            "the rotor never turns: its torque coefficient at standstill is -0.02, not above 0;",
        ),
    ],
)
def test_a_rotor_that_never_turns(turbine, key, text):
    (fault,) = turbine_faults(turbine, 8.0)
    assert fault.key == key
    assert fault.text.startswith(text)
