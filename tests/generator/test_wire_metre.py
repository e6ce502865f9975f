"""One metre of wire, against the whole winding that is made of it."""

import math

import numpy as np
import pytest

from fieldrun.design.materials import COPPER_RESISTIVITY_20C_OHM_M
from fieldrun.design.model import Winding
from fieldrun.design.wire import litz_wire, solid_wire
from fieldrun.generator.impedance import impedance
from fieldrun.generator.wire_metre import wire_metre
from fieldrun.winding.pieces import LINE, Pieces

WINDING = Winding("path", None, None, 1, 1, 1, 0.0)
SEVEN_METRES = Pieces(
    np.array([LINE]), np.array([[1.0, 0.0, 0.0]]), np.array([[8.0, 0.0, 0.0]]), np.array([0]), np.array([0])
)

WIRES = {"solid": solid_wire(0.5e-3, temperature_c=80), "bundle": litz_wire(0.1e-3, 20, lay_m=0.012, temperature_c=80)}


@pytest.mark.parametrize("name", WIRES)
def test_a_winding_of_seven_metres_is_seven_times_a_metre(name):
    metre, whole = wire_metre(WIRES[name]), impedance(SEVEN_METRES, WIRES[name], WINDING)
    assert 7 * metre.resistance_20c_ohm == pytest.approx(whole.resistance_20c_ohm, rel=1e-12)
    assert 7 * metre.resistance_hot_ohm == pytest.approx(whole.resistance_hot_ohm, rel=1e-12)
    assert 7 * metre.mass_kg == pytest.approx(whole.copper_mass_kg, rel=1e-12)


def test_a_bundle_is_its_strands_side_by_side_and_a_little_longer():
    bundle, strand = WIRES["bundle"], wire_metre(solid_wire(0.1e-3, temperature_c=80))
    metre = wire_metre(bundle)
    assert bundle.length_factor > 1.001
    assert metre.resistance_20c_ohm == pytest.approx(strand.resistance_20c_ohm / 20 * bundle.length_factor)
    assert metre.mass_kg == pytest.approx(20 * strand.mass_kg * bundle.length_factor)
    assert metre.copper_m2 == pytest.approx(20 * strand.copper_m2)


def test_catalogues_promise_a_little_less_than_standard_copper():
    metre = wire_metre(WIRES["solid"])
    assert metre.nominal_ohm / metre.resistance_20c_ohm == pytest.approx(58 / 58.5)
    standard = COPPER_RESISTIVITY_20C_OHM_M / (math.pi / 4 * 0.5e-3**2)
    assert metre.resistance_20c_ohm == pytest.approx(standard, rel=1e-12)
