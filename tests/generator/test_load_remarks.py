"""What is said to be taken for granted of diodes, load and cable."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Load
from fieldrun.design.read import read_design
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.load_remarks import load_assumptions

KNOWN = Inductance(np.eye(3))
DIODES = (
    "A diode that conducts drops 0.7 V and adds 0 ohm; one that blocks lets nothing through, and it switches at once."
)


def told(load, inductance=KNOWN, **winding):
    design = read_design(example_path("plank-ring"))
    changed = dataclasses.replace(design.winding, **winding)
    return load_assumptions(dataclasses.replace(design, load=load, winding=changed), inductance)


@pytest.mark.parametrize("load", [None, Load("open")])
def test_nothing_without_a_load(load):
    assert told(load) == ()


def test_battery_behind_a_bridge():
    diodes, battery = told(Load("battery", 12.6))
    assert diodes.startswith(DIODES)
    assert battery.startswith("The battery holds its voltage behind its own resistance")


def test_doubler_and_unknown_inductance():
    diodes, doubler, inductance = told(Load("resistor", resistance_ohm=3.0, rectifier="doubler"), None)
    assert diodes.startswith(DIODES)
    assert doubler.startswith("The doubler's two capacitors are large: half of the direct voltage lies on each")
    assert inductance == "The winding's inductance is not known and not counted in what the load gets."


@pytest.mark.parametrize(
    ("connection", "where"),
    [("star", ", joined in a star that is not led back"), ("delta", " across it"), ("separate", "")],
)
def test_resistors_of_each_phase(connection, where):
    (text,) = told(Load("resistor", resistance_ohm=3.0, rectifier="none"), connection=connection)
    assert text == f"Every phase has a resistor of its own{where}, with the cable's resistance before it."
