"""The standard atmosphere against its table."""

import pytest

from fieldrun.generator.wind.air import air_density_kg_m3, standard_pressure_pa

TABLE = {0: 1.22500, 500: 1.16727, 1000: 1.11164, 1500: 1.05807, 2000: 1.00649, 3000: 0.90912}
"""Density by altitude (ISO 2533, from its constants as remembered, computed apart from this package)."""


@pytest.mark.parametrize("altitude", TABLE)
def test_the_table(altitude):
    assert air_density_kg_m3(altitude) == pytest.approx(TABLE[altitude], abs=5e-6)


def test_cold_air_is_heavier():
    """By the ratio of absolute temperatures, at the same pressure."""
    assert air_density_kg_m3(0.0, 15.0) == pytest.approx(1.225, rel=1e-6)
    assert air_density_kg_m3(0.0, -20.0) / air_density_kg_m3(0.0, 30.0) == pytest.approx(303.15 / 253.15, rel=1e-12)


def test_pressure_weighs_the_air_above():
    """By dp = -rho g dh: the two formulas of the atmosphere are one."""
    for altitude in (0.0, 800.0, 2500.0):
        slope = (standard_pressure_pa(altitude + 1) - standard_pressure_pa(altitude - 1)) / 2
        assert slope == pytest.approx(-9.80665 * air_density_kg_m3(altitude), rel=1e-6)
