"""The direct current by textbook averages, for the same machine and load as `deliver`."""

import math

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Load, Winding
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.load.network import dc_ohm, joined_as
from fieldrun.reference.rectifier import pulses_mean, smooth_current

ENDS = 2
"""Diodes that the direct current passes, whatever the bridge."""

PULSES = {1: 2, 2: 4, 3: 6}
"""Pulses in a period by number of phases."""


def average_current_a(emf: Emf, copper: Impedance, winding: Winding, load: Load, speeds_rad_s: Floats) -> Floats | None:
    """Direct current by the mean of the rectified sine, (s,) [A]; None without one (doubler, no diodes).

    Star: the line voltage and two phases' resistance; two phases in star make one voltage, of two pulses. Delta: a
    phase's voltage and two thirds of its resistance. Separate: a phase's voltage and its resistance, the highest phase
    at work.

    Parameters
    ----------
    emf, copper : EMF per speed, of which the fundamental counts, and warm resistance
    winding, load : how phases are joined, and to what
    speeds_rad_s : (s,) mechanical
    """
    if load.kind == "open" or load.rectifier in {"doubler", "none"}:
        return None
    joined = joined_as(winding, load)
    effective, phases = _effective_v_s(emf, joined), {"star": 2.0, "delta": 2 / 3}.get(joined, 1.0)
    pulses = 2 if joined == "star" and winding.phases == 2 else PULSES[winding.phases]
    ohms = phases * copper.resistance_hot_ohm + ENDS * load.diode_slope_ohm + dc_ohm(load)
    against = (load.voltage_v or 0.0) + ENDS * load.diode_drop_v
    mean = pulses_mean(pulses) * effective * np.asarray(speeds_rad_s)
    return np.array([smooth_current(volts, against, ohms) for volts in mean.tolist()])


def _effective_v_s(emf: Emf, joined: str) -> float:
    """Effective value per speed of the fundamental that the bridge sees [V s/rad]."""
    first = emf.amplitudes[:, emf.orders == 1].sum(axis=1)
    seen = first[0] - first[1] if joined == "star" else first[0]
    return float(abs(seen)) / math.sqrt(2)
