"""What a generator delivers into a load, speed by speed: the record and the one function that fills it."""

from dataclasses import dataclass, fields

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Load, Winding
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
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
    torque_ripple : greatest less least torque within a period, over the mean; 0 where there is no torque
    efficiency : dc_power_w over the shaft's power, 0..1; 0 where nothing is delivered
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
        """What the shaft must be given [W]."""
        return self.torque_nm * self.speed_rad_s

    @property
    def points(self) -> tuple[LoadPoint, ...]:
        """Speed by speed, in the order asked."""
        columns = [getattr(self, field.name).tolist() for field in fields(LoadPoint)]
        return tuple(LoadPoint(*row) for row in zip(*columns, strict=True))


def deliver(
    emf: Emf,
    impedance: Impedance,
    inductance: Inductance | None,
    losses: Losses,
    winding: Winding,
    load: Load,
    speeds_rad_s: Floats,
) -> Delivery:
    """What the generator delivers into `load` at each speed, (s,) [rad/s]; zero speed is allowed."""
    raise NotImplementedError(np.shape(speeds_rad_s))
