"""One electrical period under load: what each phase makes and carries, what the load gets, how the shaft feels."""

from dataclasses import dataclass, fields

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Load, Winding
from fieldrun.generator.load.load_currents import load_currents
from fieldrun.generator.losses import Circuit


@dataclass(frozen=True, eq=False)
class LoadWaves:
    """Waves at one speed, u electrical angles from 0 to 2 pi, both ends included.

    Parameters
    ----------
    angle_rad : (u,) electrical, rising
    emf_v : (u, phases) what each phase makes
    phase_a : (u, phases)
    line_a : (u, lines) into the diodes, or the resistors where there are none
    dc_a : (u,) into the load; nothing without a rectifier
    torque_nm : (u,) against which the shaft is turned, idle losses included
    """

    angle_rad: Floats
    emf_v: Floats
    phase_a: Floats
    line_a: Floats
    dc_a: Floats
    torque_nm: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for field in fields(self):
            object.__setattr__(self, field.name, frozen_array(getattr(self, field.name)))


def load_waves(circuit: Circuit, winding: Winding, load: Load, speed_rad_s: float, idle_w: float = 0.0) -> LoadWaves:
    """The steady state of `load_currents` at one speed, its half period joined to the other half.

    In the second half EMF and currents have changed their sign; the direct current and the torque, sum of EMF per speed
    times current, repeat.

    Parameters
    ----------
    circuit : EMF, resistance and inductance of the phases
    winding, load : how phases are joined, and to what
    speed_rad_s : mechanical [rad/s]
    idle_w : what the winding wastes without a current at its terminals, at that speed

    Raises
    ------
    SolveError
        If the currents do not become periodic.
    """
    flow = load_currents(circuit.emf, circuit.copper, circuit.inductance, winding, load, np.array([speed_rad_s]))
    pushed = (flow.emf_v_s * flow.phase_a).sum(axis=-1)[:, 0]
    return LoadWaves(
        angle_rad=_whole(flow.angle_rad[:, 0], shift=np.pi),
        emf_v=speed_rad_s * _whole(flow.emf_v_s[:, 0], sign=-1.0),
        phase_a=_whole(flow.phase_a[:, 0], sign=-1.0),
        line_a=_whole(flow.line_a[:, 0], sign=-1.0),
        dc_a=_whole(flow.dc_a[:, 0]),
        torque_nm=_whole(pushed) + idle_w / speed_rad_s,
    )


def _whole(half: Floats, sign: float = 1.0, shift: float = 0.0) -> Floats:
    """A half period, from just after 0 to pi, with the one before its end at 0 and the one that follows."""
    return np.concatenate([sign * half[-1:] - shift, half, sign * half + shift])
