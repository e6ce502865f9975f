"""The textbook's direct current by hand, and where it and the computed one must agree."""

import math

import numpy as np
import pytest

from fieldrun.design.model import Load, Winding
from fieldrun.generator.emf import emf_of
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.load.averages import average_current_a
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.losses import Losses

E, OHM = 0.4, 0.5
TWO, FOUR, SIX = 2 * math.sqrt(2) / math.pi, 4 / math.pi, 3 * math.sqrt(2) / math.pi
SPEEDS = np.array([10.0, 50.0, 100.0])


def machine(phases, connection, ohm=OHM):
    lag = np.arange(phases) * {1: 0.0, 2: math.pi / 2, 3: 2 * math.pi / 3}[phases]
    emf = emf_of(8, np.array([1]), E * np.exp(1j * lag)[:, None], star=connection == "star")
    copper = Impedance(np.full(phases, 10.0), 10.0, ohm, ohm, 1.0)
    return emf, copper, Winding("zigzag", 0.05, 0.08, phases, 10, 1, 0.004, connection=connection)


@pytest.mark.parametrize(
    ("phases", "connection", "volts", "ohm"),
    [
        (3, "star", SIX * math.sqrt(3), 2 * OHM),
        (3, "delta", SIX, 2 / 3 * OHM),
        (3, "separate", SIX, OHM),
        (2, "star", TWO * math.sqrt(2), 2 * OHM),
        (2, "separate", FOUR, OHM),
        (1, "separate", TWO, OHM),
    ],
)
def test_by_hand(phases, connection, volts, ohm):
    load = Load("battery", 12.6, 0.05, diode_drop_v=0.7, diode_slope_ohm=0.01, cable_ohm=0.1)
    found = average_current_a(*machine(phases, connection), load, SPEEDS)
    wanted = [max(0.0, volts * E / math.sqrt(2) * w - 14.0) / (ohm + 0.02 + 0.15) for w in SPEEDS]
    assert found == pytest.approx(wanted, rel=1e-6)
    assert found[0] == 0 < found[2]


@pytest.mark.parametrize(
    ("phases", "connection"), [(3, "star"), (3, "delta"), (3, "separate"), (2, "star"), (1, "star")]
)
def test_small_loads_get_what_the_textbook_says(phases, connection):
    """With a resistor far above the winding's, phases do not overlap and the mean is exact."""
    emf, copper, winding = machine(phases, connection, ohm=0.01)
    load = Load("resistor", resistance_ohm=100.0, diode_drop_v=0.0)
    by_hand = average_current_a(emf, copper, winding, load, SPEEDS)
    computed = deliver(emf, copper, None, Losses(0.0), winding, load, SPEEDS)
    assert computed.dc_current_a == pytest.approx(by_hand, rel=1e-3)


@pytest.mark.parametrize(
    "load",
    [
        Load("open"),
        Load("battery", 12.6, rectifier="doubler"),
        Load("resistor", resistance_ohm=1.0, rectifier="none"),
    ],
)
def test_there_is_no_textbook_mean_for_these(load):
    assert average_current_a(*machine(3, "separate"), load, SPEEDS) is None
