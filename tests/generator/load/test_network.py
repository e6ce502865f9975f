"""Who can conduct, and what the load's keys become."""

import numpy as np
import pytest

from fieldrun.design.model import Load, Winding
from fieldrun.generator.load.network import network_of

KEYS = {"voltage_v": 12.0, "resistance_ohm": 0.1, "cable_ohm": 0.2, "diode_drop_v": 0.7, "diode_slope_ohm": 0.01}


def network(phases, connection, rectifier="bridge", kind="battery"):
    winding = Winding("zigzag", 0.05, 0.08, phases, 10, 1, 0.004, connection=connection)
    return network_of(winding, Load(kind, rectifier=rectifier, **KEYS))


@pytest.mark.parametrize(
    ("phases", "connection", "rectifier", "loops", "ways"),
    [
        (3, "star", "bridge", 2, 13),
        (3, "delta", "bridge", 3, 13),
        (2, "star", "bridge", 1, 3),
        (1, "star", "bridge", 1, 3),
        (3, "separate", "bridge", 3, 27),
        (3, "star", "doubler", 3, 27),
        (3, "star", "none", 2, 1),
    ],
)
def test_loops_and_ways_of_conducting(phases, connection, rectifier, loops, ways):
    found = network(phases, connection, rectifier)
    assert found.phases_of.shape == (phases, loops)
    assert len(found.signs) == ways
    for sign in found.signs if rectifier != "none" else []:
        assert any(np.array_equal(sign, -other) for other in found.signs)
        if connection != "separate" and phases > 1 and rectifier == "bridge":
            assert (sign > 0).any() == (sign < 0).any()


@pytest.mark.parametrize(
    ("joined", "rectifier", "counted"),
    [
        ((3, "star"), "bridge", (0.7 + 6.0, 0.01, 0.3, 0.5)),  # a line sees one diode and half of the battery
        ((3, "delta"), "bridge", (0.7 + 6.0, 0.01, 0.3, 0.5)),
        ((1, "separate"), "bridge", (1.4 + 12.0, 0.02, 0.3, 1.0)),
        ((3, "separate"), "bridge per phase", (1.4 + 12.0, 0.02, 0.3, 1.0)),
        ((1, "separate"), "doubler", (0.7, 0.01, 0.0, 0.5)),
        ((3, "star"), "none", (0.0, 0.3, 0.0, 0.0)),
    ],
)
def test_drops_and_ohms(joined, rectifier, counted):
    """Volts against a line, ohms in it, ohms in the direct current's way, and that current over the lines'."""
    found = network(*joined, rectifier)
    assert (found.drop_v, found.resistance_ohm, found.common_ohm, found.share) == pytest.approx(counted)


def test_currents_meet_in_a_star_and_go_round_a_delta():
    star, delta = network(3, "star"), network(3, "delta")
    assert star.phases_of.sum(axis=0) == pytest.approx(0)
    assert np.array_equal(star.lines_of, star.phases_of)
    assert delta.lines_of @ np.ones(3) == pytest.approx(0)
    assert delta.lines_of.sum(axis=0) == pytest.approx(0)


def test_resistors_across_a_delta_leave_the_round_current_to_the_winding():
    assert network(3, "delta", "none").lines_of @ np.ones(3) == pytest.approx(0)
    assert network(3, "delta", "none").lines_of @ [1, -1, 0] == pytest.approx([1, -1, 0])


def test_with_nothing_connected_no_line_conducts():
    assert np.array_equal(network(3, "star", "bridge", "open").signs, np.zeros((1, 3)))
