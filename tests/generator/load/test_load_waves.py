"""A whole period of a load: the halves fit, the means are those of `deliver`, and one phase pulses."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.model import Load
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.load.load_waves import load_waves
from fieldrun.generator.losses import Circuit

BATTERY = Load("battery", voltage_v=6.3)
SPEED = 30.0


def at_work(result, load=BATTERY, **winding):
    """Waves and the delivery's one point, with the winding's keys changed."""
    circuit = Circuit(result.emf, result.impedance, result.inductance)
    changed = dataclasses.replace(result.design.winding, **winding)
    point = deliver(
        circuit.emf, circuit.copper, circuit.inductance, result.losses, changed, load, np.array([SPEED])
    ).points[0]
    return load_waves(circuit, changed, load, SPEED, point.idle_w), point


def mean(waves, values):
    """By trapezoids, good to the square of a step."""
    return np.trapezoid(values, waves.angle_rad, axis=0) / (2 * np.pi)


@pytest.fixture
def plank(bundled):
    return bundled("plank-ring")


def test_a_period_closes(plank):
    waves, _ = at_work(plank)
    assert waves.angle_rad[0] == pytest.approx(0, abs=1e-12)
    assert waves.angle_rad[-1] == pytest.approx(2 * np.pi)
    assert np.all(np.diff(waves.angle_rad) > 0)
    for wave in (waves.emf_v, waves.phase_a, waves.line_a, waves.dc_a, waves.torque_nm):
        assert wave[0] == pytest.approx(wave[-1], abs=1e-6 * np.max(np.abs(wave)))


@pytest.mark.parametrize("connection", ["star", "delta", "separate"])
def test_means_are_those_of_the_delivery(plank, connection):
    waves, point = at_work(plank, connection=connection)
    assert mean(waves, waves.torque_nm) == pytest.approx(point.torque_nm, rel=2e-3)
    assert mean(waves, waves.dc_a) == pytest.approx(point.dc_current_a, rel=2e-3)
    assert np.sqrt(mean(waves, waves.phase_a**2)) == pytest.approx(point.phase_rms_a, rel=5e-3)
    assert np.ptp(waves.torque_nm) / point.torque_nm == pytest.approx(point.torque_ripple, rel=1e-6)


def test_phases_of_a_star_follow_each_other_and_add_up_to_nothing(plank):
    waves, _ = at_work(plank)
    assert waves.phase_a.sum(axis=1) == pytest.approx(0, abs=1e-9)
    first = [mean(waves, wave * np.exp(-1j * waves.angle_rad)) for wave in waves.emf_v.T]
    lags = np.degrees(np.angle(np.array(first[:2]) / np.array(first[1:])))
    assert lags == pytest.approx([120, 120], abs=0.1)


def test_without_a_rectifier_nothing_is_direct(plank):
    waves, _ = at_work(plank, Load("resistor", resistance_ohm=4.0, rectifier="none"))
    assert not waves.dc_a.any()
    assert waves.line_a == pytest.approx(waves.phase_a)


def test_the_torque_of_one_phase_comes_down_to_the_idle_one(answered):
    result = answered("plank-ring", {"winding.phases": 1})
    waves, point = at_work(result)
    assert waves.torque_nm.min() == pytest.approx(point.idle_w / SPEED, abs=1e-9)
    assert waves.torque_nm.max() > 1.9 * point.torque_nm
