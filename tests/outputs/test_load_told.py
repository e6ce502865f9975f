"""What a builder reads of load and torque, and what programs find in the result file."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.model import Load
from fieldrun.generator.load.averages import average_current_a
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.motor import Motor, at_voltage
from fieldrun.outputs.load_told import (
    NO_TEETH,
    load_caption,
    load_sentences,
    load_table,
    motor_rows,
    points_dict,
    torque_dict,
)
from fieldrun.outputs.sentences import plain

RPM = 2 * np.pi / 60
POINT = {
    "speed_rpm", "dc_current_a", "dc_voltage_v", "dc_power_w", "phase_rms_a", "copper_loss_w", "diode_loss_w",
    "cable_loss_w", "idle_loss_w", "shaft_power_w", "torque_nm", "torque_ripple_percent", "efficiency_percent",
}  # fmt: skip
HAND = "dc_current_by_hand_a"


@pytest.fixture
def plank(bundled):
    return bundled("plank-ring")


@pytest.fixture
def loaded(plank):
    """The plank ring on another load, nothing else computed anew."""

    def with_load(load, speeds=(300.0,), **winding):
        changed = dataclasses.replace(plank.design.winding, **winding)
        design = dataclasses.replace(plank.design, load=load, winding=changed)
        parts = plank.emf, plank.impedance, plank.inductance, plank.losses
        delivery = deliver(*parts, changed, load, RPM * np.array(speeds)) if load else None
        return dataclasses.replace(plank, design=design, delivery=delivery)

    return with_load


def test_a_battery_s_sentences(plank):
    point = plank.delivery.points[-1]
    delivered, even = load_sentences(plank)
    shaft = point.torque_nm * 300 * RPM
    assert delivered == (
        f"At 300 rpm the battery gets {plain(point.dc_current_a, 'A')}, {plain(point.dc_power_w, 'W')}; turning it "
        f"takes {plain(point.torque_nm, 'N m')}, {plain(shaft, 'W')}, of which {100 * point.dc_power_w / shaft:.0f} % "
        "arrive."
    )
    swing = plain(100 * point.torque_ripple, "%")
    assert even == f"{NO_TEETH}; loaded, at 300 rpm, the torque swings by {swing} of its mean from least to greatest."


def test_the_top_speed_is_told_in_whatever_order_speeds_are_asked(loaded):
    assert load_sentences(loaded(Load("battery", 6.3), (300.0, 200.0)))[0].startswith("At 300 rpm the battery gets ")


def test_resistors_with_and_without_diodes(loaded):
    behind = loaded(Load("resistor", resistance_ohm=8.0))
    assert load_sentences(behind)[0].startswith("At 300 rpm the resistor gets ")
    bare = loaded(Load("resistor", resistance_ohm=8.0, rectifier="none"))
    point = bare.delivery.points[0]
    amps, watts = plain(point.dc_current_a, "A"), plain(point.dc_power_w, "W")
    assert load_sentences(bare)[0].startswith(f"At 300 rpm each resistor gets {amps} effective, all of them {watts};")


@pytest.mark.parametrize(
    ("ripple", "times"), [(2.0, "twice"), (1.96, "twice"), (2.04, "twice"), (2.34, "2.3 times"), (1.9, "1.9 times")]
)
def test_one_phase_pulses(plank, ripple, times):
    winding = dataclasses.replace(plank.design.winding, phases=1)
    delivery = dataclasses.replace(plank.delivery, torque_ripple=np.full(3, ripple))
    one = dataclasses.replace(plank, design=dataclasses.replace(plank.design, winding=winding), delivery=delivery)
    assert load_sentences(one)[1].endswith(f"the torque of one phase pulses between nothing and {times} the mean.")


def test_below_the_start_and_without_a_load(loaded):
    assert load_sentences(loaded(Load("battery", 100.0))) == ["At 300 rpm no current flows yet.", f"{NO_TEETH}."]
    for load in (None, Load("open")):
        idle = loaded(load)
        assert load_sentences(idle) == [f"{NO_TEETH}."]
        assert load_table(idle) is None
        assert load_caption(idle) == ""


def test_the_table_by_speed(plank):
    headings, rows = load_table(plank)
    assert headings == ("rpm", "A DC", "W DC", "efficiency", "N m", "A/phase", "by hand")
    assert [row[0] for row in rows] == ["100", "200", "300"]
    assert rows[0][1:4] == ("0", "0", "0 %")
    last, point = rows[-1], plank.delivery.points[-1]
    values = (point.dc_current_a, point.dc_power_w, point.torque_nm, point.phase_rms_a)
    assert (last[1], last[2], last[4], last[5]) == tuple(map(plain, values))
    by_hand = average_current_a(
        plank.emf, plank.impedance, plank.design.winding, plank.design.load, np.array([300 * RPM])
    )
    assert last[6] == plain(by_hand[0])
    assert load_caption(plank).startswith(
        "By hand: A DC by the mean of the rectified sine; takes the voltages as sines"
    )


@pytest.mark.parametrize(
    ("load", "kind"),
    [
        (Load("battery", 12.6, rectifier="doubler"), "DC"),
        (Load("resistor", resistance_ohm=8.0, rectifier="none"), "AC"),
    ],
)
def test_no_hand_calculation_where_the_textbook_has_none(loaded, load, kind):
    result = loaded(load)
    assert load_table(result)[0] == ("rpm", f"A {kind}", f"W {kind}", "efficiency", "N m", "A/phase")
    assert load_caption(result) == ""
    assert HAND not in points_dict(result)["points"][0]


def test_points_of_the_result_file(plank):
    points = points_dict(plank)["points"]
    assert [point["speed_rpm"] for point in points] == pytest.approx([100, 200, 300])
    for told, point in zip(points, plank.delivery.points, strict=True):
        assert set(told) == POINT | {HAND}
        assert told["efficiency_percent"] == 100 * point.efficiency
        out = sum(told[f"{name}_w"] for name in ("dc_power", "copper_loss", "diode_loss", "cable_loss", "idle_loss"))
        assert out == pytest.approx(told["shaft_power_w"], rel=1e-3)
        assert told["torque_nm"] * told["speed_rpm"] * RPM == pytest.approx(told["shaft_power_w"])


def test_points_without_diodes_and_without_a_load(loaded):
    (point,) = points_dict(loaded(Load("resistor", resistance_ohm=8.0, rectifier="none")))["points"]
    assert set(point) == {key.replace("dc_", "ac_") for key in POINT} - {"diode_loss_w"}
    assert point["ac_voltage_v"] * point["ac_current_a"] * 3 == pytest.approx(point["ac_power_w"])
    assert points_dict(loaded(None)) == {}


def test_motor_constants(plank, loaded):
    motor, told = plank.motor, torque_dict(plank)
    driven = at_voltage(motor, 6.3)
    assert told == {
        "kt_nm_per_a": pytest.approx(3 * float(plank.emf.rms[0])),
        "motor_constant_nm_per_sqrt_w": motor.motor_constant,
        "speed_constant_rpm_per_v": pytest.approx(driven.no_load_rad_s / RPM / 6.3),
        "at_voltage_v": 6.3,
        "no_load_rpm": pytest.approx(driven.no_load_rad_s / RPM),
        "stall_current_a": driven.stall_a,
        "stall_torque_nm": driven.stall_nm,
    }
    without = torque_dict(loaded(Load("resistor", resistance_ohm=8.0)))
    assert set(without) == {"kt_nm_per_a", "motor_constant_nm_per_sqrt_w", "speed_constant_rpm_per_v"}


def test_the_motor_s_row(plank):
    ((label, value, remark),) = motor_rows(plank)
    assert (label, value) == ("as a motor", plain(3 * float(plank.emf.rms[0]), "N m/A"))
    assert remark.startswith("per effective ampere in each phase; 17 rpm per volt between lines; ")


def test_a_winding_without_volts_is_no_motor(plank):
    dead = dataclasses.replace(plank, motor=Motor(0.0, 0.0, 0.0, 1.0))
    assert motor_rows(dead) == []
    assert torque_dict(dead) == {"kt_nm_per_a": 0.0, "motor_constant_nm_per_sqrt_w": 0.0}
