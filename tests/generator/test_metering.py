"""What meters show: closed forms of sines and of a wave with a third harmonic, and waves sampled one by one."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Load
from fieldrun.generator.emf import rms
from fieldrun.generator.metering import AVERAGE_METER, average_reading, between_leads, lines, open_dc_v, peak

ORDERS = np.array([1, 3, 5])
THREE = np.exp(-2j * np.pi / 3 * np.outer([0, 1, 2], ORDERS))


def test_a_sine_reads_alike_on_every_meter():
    wave = np.array([2.0 + 0j, 0, 0])
    assert rms(wave) == pytest.approx(math.sqrt(2))
    assert average_reading(ORDERS, wave) == pytest.approx(math.sqrt(2), rel=1e-3)
    assert peak(ORDERS, wave) == pytest.approx(2.0, rel=1e-3)
    assert pytest.approx(1.1107, abs=5e-5) == AVERAGE_METER


def test_a_third_harmonic_moves_the_averaging_meter_by_a_third_of_itself():
    """Rectified mean of cos x - a cos 3x, a < 1/3: 2/pi (1 + a/3), by integration between its zeros."""
    wave = np.array([1.0 + 0j, -0.2, 0])
    assert average_reading(ORDERS, wave) == pytest.approx((1 + 0.2 / 3) / math.sqrt(2), rel=1e-3)
    assert rms(wave) == pytest.approx(math.sqrt(1.04 / 2))


@settings(derandomize=True, max_examples=40)
@given(st.lists(st.floats(-1, 1), min_size=3, max_size=3), st.sampled_from(["star", "delta", "separate"]))
def test_lines_are_what_two_leads_show(sizes, connection):
    """By waves in time: differences in star; in delta the loop's own current uses the mean up."""
    amplitudes = THREE * np.array(sizes)
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    waves = (amplitudes @ np.exp(-1j * np.outer(ORDERS, angle))).real
    between = {
        "star": [waves[0] - waves[1], waves[0] - waves[2], waves[1] - waves[2]],
        "delta": list(waves - waves.mean(axis=0)),
        "separate": list(waves),
    }[connection]
    expected = [math.sqrt(np.mean(line**2)) for line in between]
    assert rms(lines(amplitudes, connection)) == pytest.approx(expected, abs=1e-12)


def test_direct_voltage_behind_diodes():
    """Three sines in star: the top of a line is sqrt(3) times a phase's; half of the stated drops is left."""
    amplitudes = THREE * np.array([1.0, 0, 0])
    battery = Load(kind="battery", voltage_v=12.0, diode_drop_v=0.8)
    assert open_dc_v(ORDERS, amplitudes, "star", battery, 10.0) == pytest.approx(10 * math.sqrt(3) - 0.8, rel=1e-3)
    assert open_dc_v(ORDERS, amplitudes, "delta", battery, 10.0) == pytest.approx(10 - 0.8, rel=1e-3)
    doubler = Load(kind="battery", voltage_v=12.0, rectifier="doubler", diode_drop_v=0.8)
    assert open_dc_v(ORDERS, amplitudes[:1], "separate", doubler, 10.0) == pytest.approx(20 - 0.8, rel=1e-3)
    assert open_dc_v(ORDERS, amplitudes, "star", None, 10.0) == pytest.approx(10 * math.sqrt(3) - 0.7, rel=1e-3)
    assert open_dc_v(ORDERS, amplitudes, "star", battery, 0.01) == 0


@pytest.mark.parametrize(
    ("connection", "phases", "times"),
    [("star", 3, 2), ("delta", 3, 2 / 3), ("separate", 3, 1), ("star", 1, 1), ("star", 2, 2)],
)
def test_ohms_between_leads(connection, phases, times):
    """Delta by the rule of parallel ways: R beside 2 R."""
    assert between_leads(connection, phases) == pytest.approx(times)
