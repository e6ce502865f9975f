"""What a year's wind brings: kilowatt-hours, and in which winds they come."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.generator.wind.climate import Climate, energy_share_below, longest_lull_h, mean_between, share_below
from fieldrun.generator.wind.operating import PowerCurve

YEAR_H = 8760.0

ALIKE = 1e-6
"""Watts that differ by less than this share are the same: a furled rotor goes on as it was, to rounding."""


@dataclass(frozen=True)
class WindClass:
    """Winds between two speeds: hours a year in which they blow, and what the load gets in them."""

    from_m_s: float
    to_m_s: float
    hours: float
    energy_kwh: float


@dataclass(frozen=True)
class Energy:
    """A year.

    Parameters
    ----------
    mean_m_s : mean wind at the rotor [m/s]
    annual_kwh : what the load gets [kWh]
    rated_w : the most that it ever gets [W]
    rated_m_s, rated_hours : the least wind in which it gets that [m/s], and the hours of it and of stronger ones [h]
    capacity_factor : the year's mean power over the rated one; 0 where nothing is ever delivered
    hours_without_charge : in which it gets nothing
    below_mean_hours, below_mean_wind, below_mean_energy : shares that winds below the mean have of the hours, of the
        wind's own energy, and of what the load gets
    longest_lull_h : the longest time without enough wind to charge; None where the wind is no record
    classes : one metre per second wide; what blows above the last is in none of them, and brings nothing
    """

    mean_m_s: float
    annual_kwh: float
    rated_w: float
    rated_m_s: float
    rated_hours: float
    capacity_factor: float
    hours_without_charge: float
    below_mean_hours: float
    below_mean_wind: float
    below_mean_energy: float
    longest_lull_h: float | None
    classes: tuple[WindClass, ...]


def energy_of(climate: Climate, curve: PowerCurve, cut_in_m_s: float | None, stop_m_s: float) -> Energy:
    """A year in a wind: 8760 h times the mean of the curve's watts over the wind's distribution, class by class.

    Parameters
    ----------
    climate : the wind at the rotor
    curve : of fine steps, from no wind to above the stop
    cut_in_m_s, stop_m_s : between these winds the load gets power [m/s]; the first None if it never does
    """
    top = math.ceil(stop_m_s)
    edges = np.arange(top + 1.0)
    hours = YEAR_H * np.diff(share_below(climate, edges))
    watts = [mean_between(climate, curve.wind_m_s, curve.dc_w, a, b) for a, b in pairwise(edges)]
    mean, mean_w, rated = climate.mean_m_s, math.fsum(watts), float(np.max(curve.dc_w))
    full = float(curve.wind_m_s[np.argmax(curve.dc_w >= (1 - ALIKE) * rated)])
    below_w = mean_between(climate, curve.wind_m_s, curve.dc_w, 0.0, mean)
    useful = 0.0 if cut_in_m_s is None else float(np.ptp(share_below(climate, np.array([cut_in_m_s, stop_m_s]))))
    return Energy(
        mean_m_s=mean,
        annual_kwh=mean_w * YEAR_H / 1000,
        rated_w=rated,
        rated_m_s=full,
        rated_hours=YEAR_H * float(np.ptp(share_below(climate, np.array([full, math.nextafter(stop_m_s, math.inf)])))),
        capacity_factor=mean_w / rated if rated > 0 else 0.0,
        hours_without_charge=YEAR_H * (1 - useful),
        below_mean_hours=float(share_below(climate, mean)),
        below_mean_wind=energy_share_below(climate, mean),
        below_mean_energy=below_w / mean_w if mean_w > 0 else 0.0,
        longest_lull_h=longest_lull_h(climate, math.inf if cut_in_m_s is None else cut_in_m_s),
        classes=tuple(
            WindClass(float(low), float(low) + 1, float(h), w * YEAR_H / 1000)
            for low, h, w in zip(edges[:-1], hours, watts, strict=True)
        ),
    )
