"""What a generator delivers into a load, speed by speed: the record and the one function that fills it."""

from dataclasses import dataclass, fields

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Load, Winding
from fieldrun.design.units import KRPM
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.load.charging import rectified_peak
from fieldrun.generator.load.load_currents import STEPS, LoadCurrents, load_currents
from fieldrun.generator.losses import Losses


@dataclass(frozen=True)
class LoadPoint:
    """One speed of a `Delivery`, the same names as plain numbers."""

    speed_rad_s: float
    dc_current_a: float
    dc_voltage_v: float
    dc_power_w: float
    phase_rms_a: float
    copper_w: float
    diode_w: float
    cable_w: float
    idle_w: float
    torque_nm: float
    torque_ripple: float
    efficiency: float


@dataclass(frozen=True, eq=False)
class Delivery:
    """Means over one electrical period in the steady state, arrays over speeds, (s,).

    Parameters
    ----------
    speed_rad_s : of the generator, mechanical
    dc_current_a : mean current into the load; without a rectifier the effective current of one phase's resistor
    dc_voltage_v : mean voltage at the load's terminals, behind the cable; without a rectifier the effective one
    dc_power_w : mean power into the load's terminals, heat in a battery's own resistance included
    phase_rms_a : effective current of a phase (root of the mean square over all phases), delta's round current included
    copper_w, diode_w, cable_w : what winding, diodes and cable turn into heat
    idle_w : what the winding wastes without a current at its terminals (eddy currents; currents between strands and
        groups)
    torque_nm : mean torque that the shaft must be given, without bearings: dc_power_w and all losses over the speed
    torque_ripple : greatest less least torque within a period, over the mean; 0 where there is no torque [1]
    efficiency : dc_power_w over the shaft's power, 0..1; 0 where nothing is delivered [1]
    """

    speed_rad_s: Floats
    dc_current_a: Floats
    dc_voltage_v: Floats
    dc_power_w: Floats
    phase_rms_a: Floats
    copper_w: Floats
    diode_w: Floats
    cable_w: Floats
    idle_w: Floats
    torque_nm: Floats
    torque_ripple: Floats
    efficiency: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for field in fields(self):
            object.__setattr__(self, field.name, frozen_array(getattr(self, field.name)))

    @property
    def shaft_power_w(self) -> Floats:
        """What the shaft must be given, torque x speed, (s,) [W]."""
        return self.torque_nm * self.speed_rad_s

    @property
    def points(self) -> tuple[LoadPoint, ...]:
        """Speed by speed, in the order asked."""
        columns = [getattr(self, field.name).tolist() for field in fields(LoadPoint)]
        return tuple(LoadPoint(*row) for row in zip(*columns, strict=True))


def deliver(  # noqa: PLR0917 - the parts of a generator, each as it was found
    emf: Emf,
    impedance: Impedance,
    inductance: Inductance | None,
    losses: Losses,
    winding: Winding,
    load: Load,
    speeds_rad_s: Floats,
    steps: int = STEPS,
) -> Delivery:
    """What the generator delivers into a load, from the steady currents of its circuit at each speed.

    The EMF with all its harmonics drives every phase's own warm resistance and inductance into diodes of fixed drop and
    slope; a battery is a voltage behind a resistance, the cable lies behind the diodes. The currents come from
    `load_currents`. Power is counted, not assumed: the torque is the EMF's with the currents, and the load's power and
    the losses are counted from the same currents one by one, so that their sum tells how far to trust them.

    Parameters
    ----------
    emf, impedance, inductance : of the phases; without an inductance it counts as none
    losses : for what is wasted without a current at the terminals; the current round a delta is in the phases' currents
    winding, load : how phases are joined, and to what
    speeds_rad_s : (s,) mechanical, 0 allowed [rad/s]
    steps : in half an electrical period

    Raises
    ------
    SolveError
        If the currents do not become periodic.
    """
    speeds = np.asarray(speeds_rad_s, dtype=float)
    flow = load_currents(emf, impedance, inductance, winding, load, speeds, steps)
    idle_w_s2 = losses.idle_w_s2 - losses.delta_w_krpm2 / KRPM**2
    power = _power(flow, load)
    if load.kind == "open":
        power["dc_voltage_v"] = _floating_v(emf, winding, load, speeds)
    shaft = _shaft(flow, idle_w_s2 * speeds)
    shaft_w = shaft["torque_nm"] * speeds
    efficiency = power["dc_power_w"] / np.where(shaft_w > 0, shaft_w, 1.0)
    return Delivery(speed_rad_s=speeds, idle_w=idle_w_s2 * speeds**2, efficiency=efficiency, **power, **shaft)


def _power(flow: LoadCurrents, load: Load) -> dict[str, Floats]:
    """Mean currents, and where the power goes beyond the winding's EMF."""

    def mean(values: Floats) -> Floats:
        return np.asarray(np.einsum("us,us...->s...", flow.weight, values))

    phases = mean(flow.phase_a**2)
    lines, line_squares = (mean(values.sum(axis=-1)) for values in (np.abs(flow.line_a), flow.line_a**2))
    behind_diodes = load.rectifier != "none"
    current = mean(flow.dc_a) if behind_diodes else np.sqrt(line_squares / flow.line_a.shape[-1])
    squared = mean(flow.dc_a**2) if behind_diodes else line_squares
    volts, ohms = load.voltage_v or 0.0, load.resistance_ohm or 0.0
    return {
        "dc_current_a": current,
        "dc_voltage_v": volts + ohms * current,
        "dc_power_w": volts * current + ohms * squared,
        "phase_rms_a": np.sqrt(phases.mean(axis=-1)),
        "copper_w": phases @ flow.phase_ohm,
        "diode_w": flow.network.diodes * (load.diode_drop_v * lines + load.diode_slope_ohm * line_squares),
        "cable_w": load.cable_ohm * squared,
    }


def _shaft(flow: LoadCurrents, idle_nm: Floats) -> dict[str, Floats]:
    """Torque against which the magnets are turned: EMF per speed times current, and what idle losses take."""
    torque = (flow.emf_v_s * flow.phase_a).sum(axis=-1) + idle_nm
    mean, swing = (flow.weight * torque).sum(axis=0), np.ptp(torque, axis=0)
    return {"torque_nm": mean, "torque_ripple": swing / np.where(mean > 0, mean, np.inf)}


def _floating_v(emf: Emf, winding: Winding, load: Load, speeds: Floats) -> Floats:
    """Direct voltage that a capacitor behind the diodes is charged to with nothing connected."""
    peak = rectified_peak(emf, winding.connection, load.rectifier) * speeds
    if load.rectifier == "none":
        return np.asarray(peak)
    if load.rectifier == "doubler":
        return np.maximum(2 * (peak - load.diode_drop_v), 0.0)
    return np.maximum(peak - 2 * load.diode_drop_v, 0.0)
