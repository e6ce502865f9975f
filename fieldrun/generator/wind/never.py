"""Why a load gets no power in any wind: the rotor turns away too early, is held, or never turns fast enough."""

from dataclasses import dataclass
from typing import Literal

from fieldrun.design.model import Turbine
from fieldrun.generator.wind.operating import (
    TOP_WIND_M_S,
    Coupled,
    Machine,
    coupled,
    cut_in_m_s,
    power_curve,
    top_wind_m_s,
    wind_grid,
)
from fieldrun.generator.wind.turbine import free_speed_rad_s, wind_rotor


@dataclass(frozen=True)
class Never:
    """What keeps power from the load.

    Parameters
    ----------
    cause : `stops` or `furls`, if the load would get power in stronger winds; `held`, if drag and what the winding
        wastes keep the rotor slower than it must be; else `slow`
    top_m_s : the strongest wind that the rotor faces
    would_m_s : wind from which the load would get power if the rotor faced every wind; None if it would not even so
    """

    cause: Literal["stops", "furls", "held", "slow"]
    top_m_s: float
    would_m_s: float | None = None


def never_why(turbine: Turbine, machine: Machine, kink_rad_s: float | None) -> Never:
    """Find the cause for a load that gets no power, by letting the rotor face the winds that it turns away from.

    Parameters
    ----------
    turbine, machine : what meets at the shaft
    kink_rad_s : generator speed from which a battery is charged; None without one
    """
    rotor, top = wind_rotor(turbine), top_wind_m_s(turbine.furl_m_s, turbine.stop_m_s)
    if top < TOP_WIND_M_S:
        would = _cut_in_m_s(coupled(rotor, machine, kink_rad_s, TOP_WIND_M_S))
        if would is not None:
            return Never("stops" if top == turbine.stop_m_s else "furls", top, would)
    fast = kink_rad_s is None or rotor.gear_ratio * free_speed_rad_s(rotor, top) > kink_rad_s
    return Never("held" if fast else "slow", top)


def _cut_in_m_s(pair: Coupled) -> float | None:
    return cut_in_m_s(pair, power_curve(pair, wind_grid(pair.rotor, TOP_WIND_M_S)))
