"""How often which wind blows, against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Turbine, WindRecord
from fieldrun.generator.wind.climate import (
    climate_of,
    energy_share_below,
    height_factor,
    longest_lull_h,
    mean_between,
    share_below,
    weibull,
)

MEAN_W_M2 = {3: 31.58, 4: 74.87, 4.5: 106.60, 5: 146.22, 6: 252.67}
"""Mean power of a Rayleigh wind through a square metre at 1.225 kg/m^3: rho (6 / pi) vm^3 / 2."""

AEP_KWH = {3: 530.50, 4: 1322.89, 4.5: 1845.05, 5: 2419.93, 6: 3615.70}
"""A year of D 3 m at 30 % from 3 m/s on, constant above 10, none above 20 m/s, by closed form and by quadrature."""


def partial_moment(wind: float, mean: float) -> float:
    """INT v^3 f dv of a Rayleigh density up to a wind, by parts."""
    s2 = 2 * mean**2 / math.pi
    e = math.exp(-(wind**2) / (2 * s2))
    return -(wind**3) * e + 3 * (-s2 * wind * e + s2 * math.sqrt(math.pi * s2 / 2) * math.erf(wind / math.sqrt(2 * s2)))


def test_rayleigh_is_weibull_of_shape_two():
    climate = weibull(4.5)
    assert climate.mean_m_s == pytest.approx(4.5, rel=1e-12)
    for wind in (1.0, 4.5, 9.0):
        assert share_below(climate, wind) == pytest.approx(1 - math.exp(-math.pi / 4 * (wind / 4.5) ** 2), rel=1e-12)


def test_light_winds_are_most_of_the_hours_and_little_of_the_energy():
    assert share_below(weibull(5.2), 5.2) == pytest.approx(0.544, abs=5e-4)
    assert energy_share_below(weibull(5.2), 5.2) == pytest.approx(0.0952, abs=5e-5)


@pytest.mark.parametrize("mean", MEAN_W_M2)
def test_mean_power_of_the_wind(mean):
    winds = np.linspace(0, 12 * mean, 6001)
    power = mean_between(weibull(mean), winds, 1.225 * winds**3 / 2, 0.0, 12.0 * mean)
    assert power == pytest.approx(MEAN_W_M2[mean], rel=2e-4)
    assert power == pytest.approx(1.225 * 3 / math.pi * mean**3, rel=2e-5)


@pytest.mark.parametrize("mean", AEP_KWH)
def test_a_year_of_a_rotor_by_hand(mean):
    winds = np.linspace(0, 25, 251)
    watts = 0.30 * 1.225 * math.pi * 9 / 4 * np.minimum(winds, 10) ** 3 / 2
    assert watts[-1] == pytest.approx(1298.85, abs=0.01)
    energy = 8.76 * mean_between(weibull(mean), winds, watts, 3.0, 20.0)
    assert energy == pytest.approx(AEP_KWH[mean], rel=3e-4)


@pytest.mark.parametrize("mean", [3.0, 4.5, 6.0])
@pytest.mark.parametrize(("low", "high"), [(0.0, 4.0), (3.0, 10.0), (2.2, 2.9)])
def test_partial_moments(mean, low, high):
    winds = np.linspace(0, 25, 501)
    found = mean_between(weibull(mean), winds, winds**3, low, high)
    wanted = partial_moment(high, mean) - partial_moment(low, mean)
    assert found == pytest.approx(wanted, rel=1e-3)
    share = energy_share_below(weibull(mean), high) - energy_share_below(weibull(mean), low)
    assert wanted / (6 / math.pi * mean**3) == pytest.approx(share, rel=1e-9)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(mean=st.floats(1, 12), shape=st.floats(1.2, 4), cut=st.floats(0.5, 20))
def test_parts_of_the_wind_add_up(mean, shape, cut):
    climate = weibull(mean, shape)
    winds = np.linspace(0, 30, 61)
    values = np.sin(winds) + winds
    whole = mean_between(climate, winds, values, 0.0, 30.0)
    parts = mean_between(climate, winds, values, 0.0, cut) + mean_between(climate, winds, values, cut, 30.0)
    assert parts == pytest.approx(whole, rel=1e-6, abs=1e-8)
    assert mean_between(climate, winds, np.ones(61), 0.0, cut) == pytest.approx(float(share_below(climate, cut)))


def test_a_record_is_counted():
    record = WindRecord("r.csv", (0.0, 2.0, 5.0), (1.0, 2.0, 1.0))
    climate = climate_of(Turbine(2.0, record=record))
    assert climate.mean_m_s == pytest.approx(9 / 4)
    assert share_below(climate, np.array([0.0, 1.0, 2.0, 3.0, 9.0])) == pytest.approx([0, 0.25, 0.25, 0.75, 1])
    assert energy_share_below(climate, 3.0) == pytest.approx(16 / (16 + 125))
    winds = np.array([0.0, 10.0])
    assert mean_between(climate, winds, winds, 0.0, 5.0) == pytest.approx(1.0)
    assert mean_between(climate, winds, winds, 0.0, 10.0) == pytest.approx(9 / 4)


def test_a_record_drawn_from_a_law_is_that_law():
    """Quantiles of a Rayleigh wind, as a year's record of every ten minutes."""
    count = 52560
    shares = (np.arange(count) + 0.5) / count
    speeds = 4.5 * np.sqrt(-4 / math.pi * np.log1p(-shares))
    record = WindRecord("r.csv", tuple(speeds.tolist()), (1 / 6,) * count)
    counted, law = climate_of(Turbine(2.0, record=record)), weibull(4.5)
    winds = np.linspace(0, 25, 251)
    watts = np.minimum(winds, 9) ** 3
    assert counted.mean_m_s == pytest.approx(4.5, rel=1e-4)
    for low, high in ((0.0, 25.0), (3.0, 8.0)):
        found = mean_between(counted, winds, watts, low, high)
        assert found == pytest.approx(mean_between(law, winds, watts, low, high), rel=1e-3)


def test_all_calm_is_no_energy():
    climate = climate_of(Turbine(2.0, record=WindRecord("r.csv", (0.0,), (5.0,))))
    assert energy_share_below(climate, 1.0) == 0


def test_height():
    """(30 / 10)^(1/7) = 1.170; ln(30 / 0.03) / ln(10 / 0.03) = 1.189."""
    heights = {"measured_height_m": 10.0, "hub_height_m": 30.0}
    assert height_factor(Turbine(2.0)) == 1
    assert height_factor(Turbine(2.0, **heights, shear_exponent=1 / 7)) == pytest.approx(1.16993, rel=1e-5)
    assert height_factor(Turbine(2.0, **heights, roughness_m=0.03)) == pytest.approx(1.18912, rel=1e-5)
    assert height_factor(Turbine(2.0, **heights)) == pytest.approx(3**0.2)
    lifted = climate_of(Turbine(2.0, mean_m_s=4.0, **heights))
    assert lifted.mean_m_s == pytest.approx(4 * 3**0.2)
    record = climate_of(Turbine(2.0, record=WindRecord("r.csv", (4.0,), (5.0,)), **heights))
    assert record.mean_m_s == pytest.approx(4 * 3**0.2)


def test_no_word_of_the_wind():
    assert climate_of(Turbine(2.0)) is None


def test_the_longest_lull_is_that_of_the_record_at_its_own_height():
    """Three hours of 2 m/s or less where it was measured are three of less than 4 where it blows twice as much."""
    lulls = ((1.0, 0.5), (2.0, 3.0))
    record = WindRecord("r.csv", (1.0, 2.0, 6.0), (1.0, 2.0, 5.0), lulls=lulls)
    turbine = Turbine(1.8, measured_height_m=2.0, hub_height_m=16.0, shear_exponent=1 / 3, record=record)
    climate = climate_of(turbine)
    assert climate.factor == pytest.approx(2.0, rel=1e-12)
    assert [longest_lull_h(climate, wind) for wind in (1.9, 2.1, 3.9, 4.1, 20.0)] == [0.0, 0.5, 0.5, 3.0, 3.0]


def test_a_wind_without_an_order_of_time_has_no_longest_lull():
    counted = climate_of(Turbine(1.8, record=WindRecord("r.csv", (1.0, 6.0), (1.0, 5.0))))
    assert longest_lull_h(counted, 5.0) is None
    assert longest_lull_h(weibull(4.5), 5.0) is None
