"""How heavy the air is: by altitude and temperature."""

from fieldrun.design.units import ABSOLUTE_ZERO_C

SEA_LEVEL_PA, SEA_LEVEL_K = 101325.0, 288.15
LAPSE_K_M = 6.5e-3
GRAVITY_M_S2, GAS_J_KG_K = 9.80665, 287.05287
"""Constants of the standard atmosphere (ISO 2533:1975, from memory)."""


def standard_temperature_k(altitude_m: float) -> float:
    """Temperature of the standard atmosphere up to 11 km: 15 C at the sea, 6.5 K less for every kilometre [K]."""
    return SEA_LEVEL_K - LAPSE_K_M * altitude_m


def standard_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere up to 11 km, p = p0 (T / T0)^(g / R L) (ISO 2533) [Pa].

    The altitude is taken for the geopotential one, which is 0.016 % lower at 1000 m.
    """
    return float(
        SEA_LEVEL_PA * (standard_temperature_k(altitude_m) / SEA_LEVEL_K) ** (GRAVITY_M_S2 / (GAS_J_KG_K * LAPSE_K_M))
    )


def air_density_kg_m3(altitude_m: float = 0.0, temperature_c: float | None = None) -> float:
    """Density of dry air, p / (R T) [kg/m^3].

    Parameters
    ----------
    altitude_m : sets the pressure
    temperature_c : of the air; None for that of the standard atmosphere at that altitude
    """
    kelvin = standard_temperature_k(altitude_m) if temperature_c is None else temperature_c - ABSOLUTE_ZERO_C
    return standard_pressure_pa(altitude_m) / (GAS_J_KG_K * kelvin)
