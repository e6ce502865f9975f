"""The same machine driven as a motor: torque per ampere, speed per volt, what it does at a voltage."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.model import Connection, Winding
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.load.charging import rectified_peak


@dataclass(frozen=True)
class Motor:
    """Constants of an ironless machine, the winding warm; without saturation they hold at any current.

    Parameters
    ----------
    torque_nm_per_a : torque per effective ampere in every phase
    motor_constant : torque per square root of the copper's heat [N m / sqrt(W)]
    line_peak_v_s : highest voltage between two lines per speed [V s/rad]; also torque per ampere of direct current that
        a controller sends through two lines at their best moment
    line_ohm : resistance between two lines
    """

    torque_nm_per_a: float
    motor_constant: float
    line_peak_v_s: float
    line_ohm: float


@dataclass(frozen=True)
class AtVoltage:
    """What a motor does at a direct voltage: ends of the straight line between running light and standing still.

    Parameters
    ----------
    no_load_rad_s : speed at which the lines' peak reaches the voltage
    stall_a, stall_nm : direct current and torque at standstill, two lines at their best moment; what the supply, the
        controller and the wire's heat allow is far less
    """

    no_load_rad_s: float
    stall_a: float
    stall_nm: float


def motor_of(emf: Emf, copper: Impedance, winding: Winding) -> Motor:
    """Motor constants by energy: what a current takes from the EMF it gives to the shaft, and back.

    Torque per ampere = phases x E_rms, for currents of the EMF's own shape; a sine drive gets the fundamental's share,
    1 / sqrt(1 + distortion^2) of it (a distortion of 10 % costs 0.5 %). Motor constant = that over sqrt(phases R).

    Parameters
    ----------
    emf, copper, winding : EMF per speed, warm resistance, and how phases are joined
    """
    mean_square = float(np.mean(emf.rms**2))
    torque = winding.phases * math.sqrt(mean_square)
    heat = math.sqrt(winding.phases * copper.resistance_hot_ohm)
    connection: Connection = "separate" if winding.phases == 1 else winding.connection
    peak = rectified_peak(emf, connection, "bridge")
    return Motor(torque, torque / heat, peak, copper.resistance_hot_ohm * _phases_between_lines(winding))


def _phases_between_lines(winding: Winding) -> float:
    """Resistance between two lines over that of a phase: two in series; one beside the other two; one alone."""
    if winding.phases == 1:
        return 1.0
    return {"star": 2.0, "delta": 2 / 3, "separate": 1.0}[winding.connection]


def at_voltage(motor: Motor, voltage_v: float) -> AtVoltage | None:
    """Speed without load and standstill at a direct voltage; None without an EMF.

    No friction, no eddy currents, no controller in the way: V = R I + k w with k the lines' peak per speed.
    """
    if motor.line_peak_v_s <= 0:
        return None
    current = voltage_v / motor.line_ohm
    return AtVoltage(voltage_v / motor.line_peak_v_s, current, current * motor.line_peak_v_s)
