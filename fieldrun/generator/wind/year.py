"""The machine in the wind: from a design and its generator to starts, watts and kilowatt-hours."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.errors import Fault
from fieldrun.design.model import Turbine
from fieldrun.generator.wind.climate import Climate, climate_of
from fieldrun.generator.wind.energy import Energy, energy_of
from fieldrun.generator.wind.operating import (
    SPEEDS,
    Coupled,
    Machine,
    PowerCurve,
    coupled,
    cut_in_m_s,
    power_curve,
    runs_away_from_m_s,
    stalls_from_m_s,
    stops_above_m_s,
    top_wind_m_s,
    wind_grid,
)
from fieldrun.generator.wind.turbine import WindRotor, starts_at_m_s, turbine_faults, wind_rotor

WINDS_M_S = tuple(float(wind) for wind in range(1, 21))
"""Winds that are listed."""


@dataclass(frozen=True, eq=False)
class Fed:
    """A rotor with a load on its generator.

    Parameters
    ----------
    curve : in fine steps of wind, for energy and pictures
    points : in `WINDS_M_S`
    cut_in_m_s : wind from which the load gets power; None if it never does
    stalls_from_m_s, runs_away_from_m_s : winds from which the load holds the rotor too hard, or not enough; None if it
        never does
    energy : a year; None if the design says nothing of its wind
    """

    curve: PowerCurve
    points: PowerCurve
    cut_in_m_s: float | None
    stalls_from_m_s: float | None
    runs_away_from_m_s: float | None
    energy: Energy | None


@dataclass(frozen=True, eq=False)
class Wind:
    """What a rotor makes of the wind.

    Parameters
    ----------
    rotor : with curve, air, gear and drag
    starts_at_m_s : wind in which it starts from standstill
    top_m_s, stop_m_s : the strongest wind that it faces; where it stands still
    climate : how often which wind blows, at the rotor's height; None if the design says nothing of it
    fed : with the load; None without one
    """

    rotor: WindRotor
    starts_at_m_s: float
    top_m_s: float
    stop_m_s: float
    climate: Climate | None
    fed: Fed | None


def faults_in_wind(turbine: Turbine) -> list[Fault]:
    """What is wrong with a rotor that never turns."""
    return turbine_faults(turbine, top_wind_m_s(turbine.furl_m_s, turbine.stop_m_s))


def wind_of(turbine: Turbine, machine: Machine | None, kink_rad_s: float | None, speeds: int = SPEEDS) -> Wind:
    """Everything about the wind.

    Parameters
    ----------
    turbine : of a rotor that turns
    machine : the generator with its load; None without one that takes power
    kink_rad_s : generator speed from which a battery is charged; None without one
    speeds : at which the generator is computed
    """
    rotor, climate = wind_rotor(turbine), climate_of(turbine)
    top, stop = top_wind_m_s(turbine.furl_m_s, turbine.stop_m_s), stops_above_m_s(turbine.furl_m_s, turbine.stop_m_s)
    pair = None if machine is None else coupled(rotor, machine, kink_rad_s, top, speeds)
    fed = None if pair is None else _fed(pair, turbine.furl_m_s, stop, climate)
    return Wind(rotor, starts_at_m_s(rotor) or 0.0, top, stop, climate, fed)


def _fed(pair: Coupled, furl_m_s: float | None, stop_m_s: float, climate: Climate | None) -> Fed:
    curve = power_curve(pair, wind_grid(pair.rotor, stop_m_s), furl_m_s, stop_m_s)
    cut_in = cut_in_m_s(pair, curve)
    return Fed(
        curve=curve,
        points=power_curve(pair, np.array(WINDS_M_S), furl_m_s, stop_m_s),
        cut_in_m_s=cut_in,
        stalls_from_m_s=stalls_from_m_s(curve),
        runs_away_from_m_s=runs_away_from_m_s(curve, top_wind_m_s(furl_m_s, stop_m_s)),
        energy=None if climate is None else energy_of(climate, curve, cut_in, stop_m_s),
    )
