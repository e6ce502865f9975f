"""What is said of a load: a winding that its current cooks, and what was taken for granted."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Load
from fieldrun.design.read import read_design
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.load.load_remarks import delivery_warnings, load_assumptions

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


def warned(result, **delivery):
    changed = dataclasses.replace(result.delivery, **delivery)
    return delivery_warnings(result.design, changed, result.heat)


def test_a_current_that_cooks_the_winding_is_told_with_speed_and_temperature(bundled):
    hut = bundled("hut-charger")
    (remark,) = warned(hut, copper_w=hut.delivery.copper_w / 2)
    assert remark.code == "winding-too-warm"
    assert remark.text.startswith(f"at 500 rpm the load draws {hut.delivery.phase_rms_a[-1]:.2g} A from each phase")
    # at the temperature told, what the copper wastes there and the idle losses pass through the faces again
    told = float(remark.text.split("come to about ")[1].split(" C")[0])
    copper_w = hut.delivery.copper_w[-1] / 2 * (1 + 3.93e-3 * (told - 20)) / (1 + 3.93e-3 * 40)
    watts = copper_w + hut.delivery.idle_w[-1]
    assert hut.heat.air_c + hut.heat.moving.rise_k_per_w * watts == pytest.approx(told, abs=2)


def test_the_limit_is_the_current_that_is_told_to_be_stood(bundled):
    """Copper loss as at the limit, and the idle loss counted there: just not warned of, a little more is."""
    hut = bundled("hut-charger")
    idle, copper = np.full(4, hut.heat.idle_w), np.full(4, hut.heat.moving.copper_w)
    assert warned(hut, idle_w=idle, copper_w=0.999 * copper) == ()
    assert len(warned(hut, idle_w=idle, copper_w=1.01 * copper)) == 1


def test_temperatures_that_no_enamel_stands_are_not_told_by_the_degree(bundled):
    hut = bundled("hut-charger")
    (remark,) = delivery_warnings(hut.design, hut.delivery, hut.heat)
    assert remark in hut.warnings
    assert (
        "it would come to more than 240 C, the most that any enamel stands, and resin softens from 60 C" in remark.text
    )


def test_heat_without_end_is_told_as_such(bundled):
    hut = bundled("hut-charger")
    (remark,) = warned(hut, copper_w=np.array([0, 0, 0, 5e3]))
    assert "it would grow hotter without end" in remark.text


def test_no_current_warms_nothing(bundled):
    hut = bundled("hut-charger")
    assert warned(hut, copper_w=np.zeros(4)) == ()
    assert delivery_warnings(hut.design, None, hut.heat) == ()
