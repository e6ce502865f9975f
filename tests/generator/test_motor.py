"""Motor constants against the energy balance, step by step, and against each other."""

import math

import numpy as np
import pytest

from fieldrun.design.model import Winding
from fieldrun.generator.emf import emf_of
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.motor import at_voltage, motor_of

E, OHM = 0.4, 0.5
"""Peak of one phase's fundamental [V s/rad]; resistance of a phase."""


def motor(phases=3, connection="star", third=0.0, size=E):
    lag = np.arange(phases) * {1: 0.0, 2: math.pi / 2, 3: 2 * math.pi / 3}[phases]
    orders = np.array([1, 3])
    emf = emf_of(8, orders, size * np.exp(1j * np.outer(lag, orders)) * [1, third], star=connection == "star")
    copper = Impedance(np.full(phases, 10.0), 10.0, 0.4, OHM, 1.0)
    return motor_of(emf, copper, Winding("zigzag", 0.05, 0.08, phases, 10, 1, 0.004, connection=connection))


@pytest.mark.parametrize("phases", [1, 2, 3])
def test_torque_is_what_currents_take_from_the_emf(phases):
    """Sum over the phases of the mean of e i / w, for currents of one effective ampere in step with the EMF."""
    angle = 2 * math.pi * np.arange(720) / 720
    lag = np.arange(phases)[:, None] * {1: 0.0, 2: math.pi / 2, 3: 2 * math.pi / 3}[phases]
    per_speed, current = E * np.cos(angle - lag), math.sqrt(2) * np.cos(angle - lag)
    assert motor(phases).torque_nm_per_a == pytest.approx(np.mean(np.sum(per_speed * current, axis=0)), rel=1e-12)


def test_the_motor_constant_is_torque_over_the_root_of_the_heat():
    found = motor()
    current = 7.0
    heat = 3 * OHM * current**2
    assert found.motor_constant * math.sqrt(heat) == pytest.approx(found.torque_nm_per_a * current, rel=1e-12)


def test_a_sine_drive_gets_the_fundamental_s_share():
    """What the docstring says of distortion: 10 % of it cost 0.5 %."""
    whole, distorted = motor().torque_nm_per_a, motor(third=0.1).torque_nm_per_a
    assert whole / distorted == pytest.approx(1 / math.sqrt(1 + 0.1**2), rel=1e-12)
    assert 1 - whole / distorted == pytest.approx(0.005, abs=1e-4)


@pytest.mark.parametrize(
    ("phases", "connection", "peak", "ohm"),
    [
        (3, "star", math.sqrt(3) * E, 2 * OHM),
        (3, "delta", E, 2 / 3 * OHM),
        (2, "star", math.sqrt(2) * E, 2 * OHM),
        (2, "separate", E, OHM),
        (1, "separate", E, OHM),
        (1, "star", E, OHM),  # one phase has nothing to be joined with
    ],
)
def test_what_two_lines_show(phases, connection, peak, ohm):
    found = motor(phases, connection)
    assert found.line_peak_v_s == pytest.approx(peak, rel=3.1e-4)  # the highest of 128 samples
    assert found.line_ohm == pytest.approx(ohm, rel=1e-12)


def test_star_and_delta_are_the_same_machine_at_other_volts():
    star, delta = motor(), motor(connection="delta")
    assert star.motor_constant == delta.motor_constant
    ratio = star.line_peak_v_s / math.sqrt(star.line_ohm), delta.line_peak_v_s / math.sqrt(delta.line_ohm)
    assert ratio[0] == pytest.approx(ratio[1], rel=7e-4)


def test_at_a_voltage_by_hand():
    """24 V over sqrt 3 x 0.4 V s/rad are 34.6 rad/s, over 1 ohm 24 A, and 24 A give 16.6 N m."""
    found = at_voltage(motor(), 24.0)
    assert found.no_load_rad_s == pytest.approx(34.64, rel=4e-4)
    assert found.stall_a == pytest.approx(24.0)
    assert found.stall_nm == pytest.approx(16.63, rel=4e-4)
    assert found.stall_nm * found.no_load_rad_s == pytest.approx(24.0 * found.stall_a)


def test_a_winding_without_volts_is_no_motor():
    assert at_voltage(motor(size=0.0), 24.0) is None
