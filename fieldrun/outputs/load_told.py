"""What the load gets and what turning it takes: sentences, the table by speed, and the result file's tables."""

from typing import Any

from fieldrun.design.model import Load
from fieldrun.design.units import RPM
from fieldrun.generator.load.averages import average_current_a
from fieldrun.generator.load.delivery import Delivery, LoadPoint
from fieldrun.generator.motor import at_voltage
from fieldrun.generator.result import RunResult
from fieldrun.outputs.load_words import taker
from fieldrun.outputs.sentences import plain
from fieldrun.reference.rectifier import LEAVES_OUT

NO_TEETH = "No cogging: there are no steel teeth for the magnets to stick to"
"""Said of every machine of this kind."""

TWICE = 0.05
"""Share of the mean within which a torque's top is told as twice the mean."""


def load_sentences(result: RunResult) -> list[str]:
    """What the highest asked speed brings and takes, and how evenly it turns."""
    load, delivery = result.design.load, result.delivery
    if load is None or delivery is None or load.kind == "open":
        return [f"{NO_TEETH}."]
    top = max(delivery.points, key=lambda point: point.speed_rad_s)
    if top.dc_power_w <= 0:
        return [f"At {top.speed_rad_s / RPM:g} rpm no current flows yet.", f"{NO_TEETH}."]
    return [
        _delivered(load, top),
        f"{NO_TEETH}; loaded, at {_rpm(top)} rpm, {torque_text(result.design.winding.phases, top)}.",
    ]


def _rpm(point: LoadPoint) -> str:
    return f"{point.speed_rad_s / RPM:.5g}"


def _delivered(load: Load, point: LoadPoint) -> str:
    amps, watts = plain(point.dc_current_a, "A"), plain(point.dc_power_w, "W")
    gets = f"the {taker(load)} gets {amps}, {watts}"
    if load.rectifier == "none":
        gets = f"each resistor gets {amps} effective, all of them {watts}"
    return (
        f"At {_rpm(point)} rpm {gets}; turning it takes {plain(point.torque_nm, 'N m')}, "
        f"{plain(point.torque_nm * point.speed_rad_s, 'W')}, of which {100 * point.efficiency:.0f} % arrive."
    )


def torque_text(phases: int, point: LoadPoint) -> str:
    """How evenly the shaft turns, as a clause."""
    if phases > 1:
        return f"the torque swings by {plain(100 * point.torque_ripple, '%')} of its mean from least to greatest"
    times = "twice" if abs(point.torque_ripple - 2) < TWICE else f"{point.torque_ripple:.2g} times"
    return f"the torque of one phase pulses between nothing and {times} the mean"


def motor_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """A row of the table: the machine driven as a motor."""
    motor = result.motor
    if motor.line_peak_v_s <= 0:
        return []
    volts = f"{plain(1 / (motor.line_peak_v_s * RPM), 'rpm')} per volt between lines"
    heat = f"{plain(motor.motor_constant, 'N m')} per square root of a watt of heat"
    return [
        ("as a motor", plain(motor.torque_nm_per_a, "N m/A"), f"per effective ampere in each phase; {volts}; {heat}")
    ]


def load_table(result: RunResult) -> tuple[tuple[str, ...], list[tuple[str, ...]]] | None:
    """Headings and rows by speed; None without a load that takes power."""
    load, delivery = result.design.load, result.delivery
    if load is None or delivery is None or load.kind == "open":
        return None
    kind = "AC" if load.rectifier == "none" else "DC"
    headings = ("rpm", f"A {kind}", f"W {kind}", "efficiency", "N m", "A/phase")
    rows = [_row(point) for point in delivery.points]
    by_hand = _by_hand(result, delivery)
    if by_hand is None:
        return headings, rows
    hands = (plain(amps) for amps in by_hand)
    return (*headings, "by hand"), [(*row, amps) for row, amps in zip(rows, hands, strict=True)]


def load_caption(result: RunResult) -> str:
    """What stands below the table: what the hand calculation does not know; empty without one."""
    return f"By hand: A DC by the mean of the rectified sine; {LEAVES_OUT}." if _told_by_hand(result) else ""


def _told_by_hand(result: RunResult) -> bool:
    return result.delivery is not None and _by_hand(result, result.delivery) is not None


def _row(point: LoadPoint) -> tuple[str, ...]:
    return (
        _rpm(point),
        plain(point.dc_current_a),
        plain(point.dc_power_w),
        f"{100 * point.efficiency:.0f} %",
        plain(point.torque_nm),
        plain(point.phase_rms_a),
    )


def _by_hand(result: RunResult, delivery: Delivery) -> list[float] | None:
    load = result.design.load
    if load is None:
        return None
    found = average_current_a(result.emf, result.impedance, result.design.winding, load, delivery.speed_rad_s)
    return None if found is None else found.tolist()


def points_dict(result: RunResult) -> dict[str, Any]:
    """The result file's `output.points`, one for each asked speed; empty without a load."""
    load, delivery = result.design.load, result.delivery
    if load is None or delivery is None:
        return {}
    by_hand = _by_hand(result, delivery)
    estimates = [{}] * len(delivery.points) if by_hand is None else [{"dc_current_by_hand_a": a} for a in by_hand]
    return {"points": [_point(load, p) | e for p, e in zip(delivery.points, estimates, strict=True)]}


def _point(load: Load, point: LoadPoint) -> dict[str, float]:
    kind = "ac" if load.rectifier == "none" else "dc"
    told = {
        "speed_rpm": point.speed_rad_s / RPM,
        f"{kind}_current_a": point.dc_current_a,
        f"{kind}_voltage_v": point.dc_voltage_v,
        f"{kind}_power_w": point.dc_power_w,
        "phase_rms_a": point.phase_rms_a,
        "copper_loss_w": point.copper_w,
        "diode_loss_w": point.diode_w,
        "cable_loss_w": point.cable_w,
        "idle_loss_w": point.idle_w,
        "shaft_power_w": point.torque_nm * point.speed_rad_s,
        "torque_nm": point.torque_nm,
        "torque_ripple_percent": 100 * point.torque_ripple,
        "efficiency_percent": 100 * point.efficiency,
    }
    if kind == "ac":
        del told["diode_loss_w"]
    return told


def torque_dict(result: RunResult) -> dict[str, float]:
    """The result file's `torque` table: motor constants, and with a battery what its voltage does."""
    motor, load = result.motor, result.design.load
    told = {"kt_nm_per_a": motor.torque_nm_per_a, "motor_constant_nm_per_sqrt_w": motor.motor_constant}
    if motor.line_peak_v_s > 0:
        told["speed_constant_rpm_per_v"] = 1 / (motor.line_peak_v_s * RPM)
    driven = at_voltage(motor, load.voltage_v) if load is not None and load.voltage_v is not None else None
    if driven is None or load is None or load.voltage_v is None:
        return told
    return told | {
        "at_voltage_v": load.voltage_v,
        "no_load_rpm": driven.no_load_rad_s / RPM,
        "stall_current_a": driven.stall_a,
        "stall_torque_nm": driven.stall_nm,
    }
