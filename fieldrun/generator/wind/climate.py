"""How often which wind blows: a mean spread out by Weibull's law, or what was measured."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammainc

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.lulls import longest_below_h
from fieldrun.design.model import Turbine, WindRecord

USUAL_SHEAR = 0.2
"""Growth of wind with height as a power: the normal wind profile of IEC 61400-1 and -2 (from memory)."""


@dataclass(frozen=True)
class Weibull:
    """Weibull's distribution; shape 2 is Rayleigh's, by which IEC 61400-12-1 states annual energies (from memory)."""

    scale_m_s: float
    shape: float

    @property
    def mean_m_s(self) -> float:
        """Mean wind [m/s]."""
        return self.scale_m_s * math.gamma(1 + 1 / self.shape)


@dataclass(frozen=True, eq=False)
class Measured:
    """A record of hours by speed, at the rotor's height.

    Parameters
    ----------
    speeds_m_s : (k,) rising [m/s]
    shares : (k,) of the recorded time, adding up to 1
    record : where it comes from
    factor : wind at the rotor over the recorded one
    """

    speeds_m_s: Floats
    shares: Floats
    record: WindRecord
    factor: float = 1.0

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("speeds_m_s", "shares"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def mean_m_s(self) -> float:
        """Mean wind [m/s]."""
        return float(self.speeds_m_s @ self.shares)


Climate = Weibull | Measured


def weibull(mean_m_s: float, shape: float = 2.0) -> Weibull:
    """The distribution of a given mean: scale = mean / Gamma(1 + 1 / shape)."""
    return Weibull(mean_m_s / math.gamma(1 + 1 / shape), shape)


def climate_of(turbine: Turbine) -> Climate | None:
    """The wind at the rotor's height: the record or the mean times `height_factor`; None if the design says nothing."""
    factor = height_factor(turbine)
    if turbine.record is not None:
        hours = np.array(turbine.record.hours)
        return Measured(factor * np.array(turbine.record.speeds_m_s), hours / hours.sum(), turbine.record, factor)
    return None if turbine.mean_m_s is None else weibull(factor * turbine.mean_m_s, turbine.weibull_shape)


def height_factor(turbine: Turbine) -> float:
    """Wind at the rotor over wind where it was measured.

    Power law (h / h0)^a, or log law by the ground's roughness z: ln(h / z) / ln(h0 / z); both are wind engineering's
    common practice (no source looked up) and hold over open and even ground only.
    """
    measured, hub = turbine.measured_height_m, turbine.hub_height_m
    if measured is None or hub is None:
        return 1.0
    if turbine.roughness_m is not None:
        return math.log(hub / turbine.roughness_m) / math.log(measured / turbine.roughness_m)
    return float((hub / measured) ** (USUAL_SHEAR if turbine.shear_exponent is None else turbine.shear_exponent))


def share_below(climate: Climate, wind_m_s: Floats | float) -> Floats:
    """Share of time with less wind, (...) to (...) [1]: Weibull's 1 - exp(-(v / c)^k), or counted."""
    wind = np.asarray(wind_m_s, dtype=float)
    if isinstance(climate, Weibull):
        return np.asarray(-np.expm1(-((np.maximum(wind, 0) / climate.scale_m_s) ** climate.shape)))
    before = np.concatenate([[0.0], np.cumsum(climate.shares)])
    return np.asarray(before[np.searchsorted(climate.speeds_m_s, wind)])


def longest_lull_h(climate: Climate, wind_m_s: float) -> float | None:
    """The longest time with less wind without a break, as recorded [h]; None where no order of time is known."""
    if isinstance(climate, Weibull) or not climate.record.lulls:
        return None
    return longest_below_h(climate.record.lulls, wind_m_s / climate.factor)


def energy_share_below(climate: Climate, wind_m_s: float) -> float:
    """Share of the wind's energy, which goes with the cube of its speed, that comes with less wind.

    Weibull: the regularised incomplete gamma function P(1 + 3 / k, (v / c)^k).
    """
    if isinstance(climate, Weibull):
        return float(gammainc(1 + 3 / climate.shape, (wind_m_s / climate.scale_m_s) ** climate.shape))
    cubes = climate.shares * climate.speeds_m_s**3
    total = float(cubes.sum())
    return float(cubes[climate.speeds_m_s < wind_m_s].sum()) / total if total > 0 else 0.0


def mean_between(climate: Climate, winds_m_s: Floats, values: Floats, low_m_s: float, high_m_s: float) -> float:
    """Mean over all time of a quantity that counts only while the wind lies between two speeds.

    By parts, INT P dF = [P F] - INT F dP, which needs no density; exact to rounding for straight lines.

    Parameters
    ----------
    climate : the wind
    winds_m_s, values : (k,) the quantity P, straight lines between rising winds; constant beyond the last
    low_m_s, high_m_s : winds from the first on and below the second
    """
    if isinstance(climate, Measured):
        counts = (climate.speeds_m_s >= low_m_s) & (climate.speeds_m_s < high_m_s)
        return float(np.interp(climate.speeds_m_s[counts], winds_m_s, values) @ climate.shares[counts])
    inner = winds_m_s[(winds_m_s > low_m_s) & (winds_m_s < high_m_s)]
    knots = np.concatenate([[low_m_s], inner, [high_m_s]])
    heights = np.interp(knots, winds_m_s, values)
    ends = heights[[0, -1]] * share_below(climate, knots[[0, -1]])
    return float(ends[1] - ends[0] - np.diff(heights) @ _mean_share(climate, knots))


def _mean_share(climate: Weibull, knots: Floats) -> Floats:
    """Mean of the share below, over each interval."""
    node, weight = np.polynomial.legendre.leggauss(4)
    middle, half = (knots[1:] + knots[:-1]) / 2, np.diff(knots) / 2
    return np.asarray(share_below(climate, middle[:, None] + half[:, None] * node) @ weight / 2)
