"""The rotor in the wind: its torque at any wind and speed, when it starts, and how fast it runs with nothing to do."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import Fault
from fieldrun.design.model import Turbine
from fieldrun.generator.wind.air import air_density_kg_m3
from fieldrun.generator.wind.power_coefficient import RotorCurve, rotor_curve

USUAL_DRAG_NM_M2 = 0.015
"""Friction of two sealed ball bearings over the square of the rotor's diameter: 0.05 N m for a rotor of 1.8 m, and less
for a smaller one, whose bearings are smaller (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class WindRotor:
    """A rotor ready to be put into the wind.

    Parameters
    ----------
    curve : its torque coefficient
    radius_m, area_m2 : of the tips [m], and the area that it sweeps [m^2]
    density_kg_m3 : of the air [kg/m^3]
    gear_ratio : generator speed over rotor speed; the gear itself loses nothing
    drag_nm : friction at the generator's shaft, the same at every speed [N m]
    """

    curve: RotorCurve
    radius_m: float
    area_m2: float
    density_kg_m3: float
    gear_ratio: float = 1.0
    drag_nm: float = 0.0


def wind_rotor(turbine: Turbine) -> WindRotor:
    """Everything that a design says of its rotor, defaults filled in; swept: pi D^2 / 4, or D x height if upright."""
    diameter, height = turbine.rotor_diameter_m, turbine.rotor_height_m
    return WindRotor(
        curve=rotor_curve(turbine),
        radius_m=diameter / 2,
        area_m2=math.pi * diameter**2 / 4 if height is None else diameter * height,
        density_kg_m3=air_density_kg_m3(turbine.altitude_m, turbine.air_temperature_c),
        gear_ratio=turbine.gear_ratio,
        drag_nm=USUAL_DRAG_NM_M2 * diameter**2 if turbine.drag_nm is None else turbine.drag_nm,
    )


def wind_power_w(rotor: WindRotor, wind_m_s: Floats | float) -> Floats:
    """What the wind carries through the rotor's area, rho A v^3 / 2, (...) to (...) [W]."""
    return np.asarray(rotor.density_kg_m3 * rotor.area_m2 * np.asarray(wind_m_s, dtype=float) ** 3 / 2)


def tip_speed_ratio(rotor: WindRotor, wind_m_s: Floats, speed_rad_s: Floats) -> Floats:
    """Lambda = omega R / v; winds and speeds broadcast, (...) [1]; 0 without wind."""
    wind = np.asarray(wind_m_s, dtype=float)
    return np.asarray(np.where(wind > 0, speed_rad_s * rotor.radius_m / np.where(wind > 0, wind, 1.0), 0.0))


def rotor_torque_nm(rotor: WindRotor, wind_m_s: Floats, speed_rad_s: Floats) -> Floats:
    """Torque on the rotor's shaft, cq rho A R v^2 / 2; winds and speeds broadcast, (...) [N m]."""
    wind = np.asarray(wind_m_s, dtype=float)
    coefficient = rotor.curve.torque_coefficients(tip_speed_ratio(rotor, wind, speed_rad_s))
    return np.asarray(coefficient * _torque_nm(rotor) * wind**2)


def starts_at_m_s(rotor: WindRotor) -> float | None:
    """Wind in which the torque at standstill overcomes the drag, cq rho A R v^2 / 2 = gear ratio x drag [m/s].

    None for a rotor that has no such torque.
    """
    pull = rotor.curve.start_torque_coefficient * _torque_nm(rotor)
    return math.sqrt(rotor.gear_ratio * rotor.drag_nm / pull) if pull > 0 else None


def turbine_faults(turbine: Turbine, top_wind_m_s: float) -> list[Fault]:
    """What is wrong with a rotor that nothing ever turns.

    Parameters
    ----------
    turbine : as the design states it
    top_wind_m_s : the strongest wind in which it faces the wind
    """
    rotor = wind_rotor(turbine)
    start, coefficient = starts_at_m_s(rotor), rotor.curve.start_torque_coefficient
    if start is None:
        key = "cp_curve" if turbine.start_torque_coefficient is None else "start_torque_coefficient"
        text = f"the rotor never turns: its torque coefficient at standstill is {coefficient:.3g}, not above 0"
        return [Fault(f"wind.{key}", f"{text}; if something starts it, give that as start_torque_coefficient")]
    if start < top_wind_m_s:
        return []
    given = [key for key in ("drag_nm", "start_torque_coefficient") if getattr(turbine, key) is not None]
    pull = coefficient * _torque_nm(rotor) * top_wind_m_s**2
    text = (
        f"the rotor never turns: in {top_wind_m_s:g} m/s, the strongest wind it meets, it pulls with {pull:.3g} N m at "
        f"standstill, against a drag of {rotor.gear_ratio * rotor.drag_nm:.3g} N m at its shaft"
    )
    cure = "check drag_nm, gear_ratio, start_torque_coefficient and rotor_diameter_m"
    return [Fault(f"wind.{[*given, 'rotor_diameter_m'][0]}", f"{text}; {cure}")]


def free_speed_rad_s(rotor: WindRotor, wind_m_s: float) -> float:
    """Rotor speed where it gives no torque: what it runs up to with nothing connected, drag left out [rad/s]."""
    return rotor.curve.free_tip_speed_ratio * wind_m_s / rotor.radius_m


def _torque_nm(rotor: WindRotor) -> float:
    """Torque of a coefficient of 1 in a wind of 1 m/s [N m]."""
    return rotor.density_kg_m3 * rotor.area_m2 * rotor.radius_m / 2
