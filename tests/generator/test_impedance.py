"""Length, ohms and kilograms, against hand calculations and the laws of joining wires."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.generator.impedance import copper_area_m2, impedance
from fieldrun.winding.lay import lay

P = 8
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3, temperature_c=75.0)
BASE = Winding("serpentine", 0.060, 0.110, 3, 4, 1, 0.005)
ROUND_M = math.pi * (0.060 + 0.110) + 2 * P * 0.050
"""One round of a serpentine: half of either circle in arcs, and 2 p legs."""

ROUNDED = 1.7241e-8 * 58e6
"""The sources below round 1/58 ohm mm2/m to 0.017241, two parts in a hundred thousand low."""


def test_a_serpentine_by_hand() -> None:
    found = impedance(lay(BASE, P, WIRE).pieces, WIRE, BASE)
    area = math.pi / 4 * 0.8e-3**2
    assert found.conductor_length_m == pytest.approx(4 * ROUND_M, rel=1e-12)
    np.testing.assert_allclose(found.phase_lengths_m, 4 * ROUND_M, rtol=1e-12)
    assert found.resistance_20c_ohm == pytest.approx(4 * ROUND_M / area / 58e6, rel=1e-12)
    assert found.copper_mass_kg == pytest.approx(3 * 4 * ROUND_M * area * 8890, rel=1e-12)


@pytest.mark.parametrize(("celsius", "resistivity"), [(20, 1.7241e-8), (75, 2.09676e-8), (120, 2.40167e-8)])
def test_copper_gets_more_resistive_as_it_warms(celsius: float, resistivity: float) -> None:
    """3.93e-3 per kelvin of the resistivity at 20 C (IEC 60028, looked up at second hand): computed to six digits."""
    wire = replace(WIRE, temperature_c=celsius)
    found = impedance(lay(BASE, P, wire).pieces, wire, BASE)
    assert found.resistance_hot_ohm == pytest.approx(
        4 * ROUND_M * resistivity / ROUNDED / copper_area_m2(wire), rel=3e-6
    )


@pytest.mark.parametrize("metre", [{"copper": 0.5e-3, "ohm": 0.087808}, {"copper": 1.0e-3, "ohm": 0.021952}])
def test_ohms_per_metre_of_round_wire(metre: dict[str, float]) -> None:
    """Computed to five digits; the nominal resistances of IEC 60317, at 1/58.5, are 0.86 % lower."""
    wire = Wire("solid", metre["copper"], 1, 1.2 * metre["copper"])
    found = impedance(lay(BASE, P, wire).pieces, wire, BASE)
    assert found.resistance_20c_ohm / found.conductor_length_m == pytest.approx(metre["ohm"] / ROUNDED, rel=1e-5)


def test_parallel_groups_and_strands_in_series() -> None:
    pieces = lay(BASE, P, WIRE).pieces
    litz = Wire("litz", 0.2e-3, 7, 0.86e-3, length_factor=1.02)
    plain = impedance(pieces, litz, BASE)
    assert plain.resistance_20c_ohm == pytest.approx(
        4 * ROUND_M * 1.02 / 58e6 / (7 * math.pi / 4 * 0.2e-3**2), rel=1e-12
    )
    grouped = impedance(pieces, litz, replace(BASE, parallel=2))
    assert grouped.resistance_hot_ohm == pytest.approx(plain.resistance_hot_ohm / 4, rel=1e-12)
    series = impedance(pieces, replace(litz, strands_in_series=7), BASE)
    assert series.resistance_hot_ohm == pytest.approx(49 * plain.resistance_hot_ohm, rel=1e-12)
    for other in (grouped, series):
        assert other.copper_mass_kg == plain.copper_mass_kg
        assert other.conductor_length_m == plain.conductor_length_m


def test_twist_adds_to_ohms_and_mass_alike() -> None:
    pieces = lay(BASE, P, WIRE).pieces
    straight, twisted = (Wire("litz", 0.2e-3, 7, 0.86e-3, length_factor=f) for f in (1.0, 1.024282))
    one, other = impedance(pieces, straight, BASE), impedance(pieces, twisted, BASE)
    assert other.resistance_20c_ohm / one.resistance_20c_ohm == pytest.approx(1.024282, rel=1e-12)
    assert other.copper_mass_kg / one.copper_mass_kg == pytest.approx(1.024282, rel=1e-12)


def test_a_larger_winding_of_thicker_wire_keeps_its_ratio_of_length_to_copper() -> None:
    """Scaled by 3: length 3, resistance 1/3, mass 27."""
    wire = Wire("solid", 3 * 0.8e-3, 1, 3 * 0.86e-3, temperature_c=75.0)
    large = replace(BASE, inner_radius_m=0.180, outer_radius_m=0.330, height_m=0.015)
    one, three = impedance(lay(BASE, P, WIRE).pieces, WIRE, BASE), impedance(lay(large, P, wire).pieces, wire, large)
    assert three.conductor_length_m == pytest.approx(3 * one.conductor_length_m, rel=1e-12)
    assert three.resistance_hot_ohm == pytest.approx(one.resistance_hot_ohm / 3, rel=1e-12)
    assert three.copper_mass_kg == pytest.approx(27 * one.copper_mass_kg, rel=1e-12)
