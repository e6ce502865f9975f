"""A year: kilowatt-hours, hours without charge, classes."""

import math

import numpy as np
import pytest

from fieldrun.design.model import WindRecord
from fieldrun.generator.wind.climate import Measured, weibull
from fieldrun.generator.wind.energy import energy_of
from fieldrun.generator.wind.operating import PowerCurve


def cubic(cut_in=3.0, rated=10.0, stop=20.0):
    """D 3 m at 30 % from 3 to 10 m/s, constant to 20: known in closed form."""
    winds = np.unique(np.concatenate([np.linspace(0, stop, 401), [cut_in - 1e-9, stop + 1e-9]]))
    watts = 0.30 * 1.225 * math.pi * 9 / 4 * np.minimum(winds, rated) ** 3 / 2
    watts[(winds < cut_in) | (winds > stop)] = 0
    zero = np.zeros_like(winds)
    names = ["speed_rad_s", "rotor_w", "drag_w", "phase_rms_a", "tip_speed_ratio", "cp"]
    flags = {"stalled": zero.astype(bool), "loose": zero.astype(bool)}
    return PowerCurve(wind_m_s=winds, dc_w=watts, **dict.fromkeys(names, zero), **flags)


@pytest.mark.parametrize(("mean", "kwh"), [(3, 530.50), (4, 1322.89), (4.5, 1845.05), (5, 2419.93), (6, 3615.70)])
def test_the_year_of_a_rotor_by_hand(mean, kwh):
    """By closed form and by quadrature, apart from this package."""
    energy = energy_of(weibull(mean), cubic(), 3.0, 20.0)
    assert energy.annual_kwh == pytest.approx(kwh, rel=1e-4)
    assert energy.rated_w == pytest.approx(1298.85, abs=0.01)
    assert energy.capacity_factor == pytest.approx(kwh / (1.29885 * 8760), rel=1e-4)


def test_in_which_wind_the_most_is_given_and_how_long():
    """Rayleigh: from 10 m/s to 20 m/s exp(-pi/4 (10/m)^2) - exp(-pi/4 (20/m)^2) of the year."""
    energy = energy_of(weibull(6.0), cubic(), 3.0, 20.0)
    share = math.exp(-math.pi / 4 * (10 / 6) ** 2) - math.exp(-math.pi / 4 * (20 / 6) ** 2)
    assert energy.rated_m_s == pytest.approx(10.0, rel=1e-9)
    assert energy.rated_hours == pytest.approx(8760 * share, rel=1e-6)


def test_hours_without_charge_are_calm_and_storm():
    energy = energy_of(weibull(6.0), cubic(), 3.0, 20.0)
    calm = 1 - math.exp(-math.pi / 4 * (3 / 6) ** 2)
    storm = math.exp(-math.pi / 4 * (20 / 6) ** 2)
    assert energy.hours_without_charge == pytest.approx(8760 * (calm + storm), rel=1e-9)
    assert energy_of(weibull(6.0), cubic(), None, 20.0).hours_without_charge == 8760


def test_classes_add_up():
    energy = energy_of(weibull(5.0), cubic(), 3.0, 20.0)
    assert len(energy.classes) == 20
    assert [c.from_m_s for c in energy.classes] == list(range(20))
    assert sum(c.energy_kwh for c in energy.classes) == pytest.approx(energy.annual_kwh, rel=1e-12)
    beyond = 8760 * math.exp(-math.pi / 4 * (20 / 5) ** 2)
    assert sum(c.hours for c in energy.classes) == pytest.approx(8760 - beyond, rel=1e-12)
    assert energy.classes[1].energy_kwh == pytest.approx(0, abs=1e-9)


def test_light_winds_are_most_of_the_hours():
    energy = energy_of(weibull(4.5), cubic(0.0, 100.0, 40.0), 0.0, 40.0)
    assert energy.below_mean_hours == pytest.approx(0.544, abs=1e-3)
    assert energy.below_mean_wind == pytest.approx(0.0952, abs=1e-4)
    assert energy.below_mean_energy == pytest.approx(energy.below_mean_wind, rel=1e-3)  # a rotor of constant cp


def test_a_record_s_year():
    record = WindRecord("r.csv", (2.0, 5.0, 12.0, 30.0), (10.0, 5.0, 4.0, 1.0))
    climate = Measured(np.array(record.speeds_m_s), np.array(record.hours) / 20, record)
    energy = energy_of(climate, cubic(), 3.0, 20.0)
    watts = (0.25 * 1298.85 / 8 + 0.2 * 1298.85) / 1000
    assert energy.annual_kwh == pytest.approx(8760 * watts, rel=1e-4)
    assert energy.hours_without_charge == pytest.approx(8760 * 0.55)
    assert energy.mean_m_s == pytest.approx((20 + 25 + 48 + 30) / 20)


def test_nothing_from_nothing():
    curve = cubic(30.0, 10.0, 20.0)
    energy = energy_of(weibull(4.0), curve, None, 20.0)
    assert (energy.annual_kwh, energy.capacity_factor, energy.below_mean_energy) == (0, 0, 0)
