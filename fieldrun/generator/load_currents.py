"""The steady currents of a generator on its load, over half an electrical period."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.design.model import Load, Winding
from fieldrun.generator.conduction import GAMMA, STEPS, Drive, periodic_currents, stage_angles, stage_weights
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.network import Network, dc_ohm, network_of

SETTLED = 1e-7
"""Share of the highest voltage by which the capacitors of a doubler may differ from what their charge asks for."""

HALVINGS = 80
"""Trials after which the search for a doubler's voltage gives up; eight are usual."""


@dataclass(frozen=True, eq=False)
class LoadCurrents:
    """Currents at u stages of half an electrical period and s speeds; half a period on they have changed their sign.

    Parameters
    ----------
    network : how phases, diodes and load hang together
    emf_v_s : (u, phases) EMF per speed [V s/rad]
    phase_ohm : (phases,) resistances, warm
    phase_a : (u, s, phases)
    line_a : (u, s, lines) into the diodes, or the resistors where there are none
    dc_a : (u, s) direct current; behind a doubler's capacitors it is smooth; nothing without a rectifier
    """

    network: Network
    emf_v_s: Floats
    phase_ohm: Floats
    phase_a: Floats
    line_a: Floats
    dc_a: Floats


def load_currents(  # noqa: PLR0917 - as `deliver`
    emf: Emf,
    impedance: Impedance,
    inductance: Inductance | None,
    winding: Winding,
    load: Load,
    speeds_rad_s: Floats,
    steps: int = STEPS,
) -> LoadCurrents:
    """Steady currents at every speed, without averages or a smooth-current assumption.

    Battery and resistor take the direct current as it comes, ripple and all. A doubler's two capacitors are taken as
    large: their voltage has no ripple, each holds half of the direct voltage, and the load's current is smooth.

    Parameters
    ----------
    emf, impedance, inductance : of the phases; without an inductance it counts as none
    winding, load : how phases are joined, and to what
    speeds_rad_s : (s,) mechanical, 0 allowed [rad/s]
    steps : in half an electrical period

    Raises
    ------
    ValueError
        If the EMF holds even harmonics.
    SolveError
        If the currents do not become periodic.
    """
    network = network_of(winding, load)
    per_speed = half_wave(emf.orders, emf.amplitudes, stage_angles(steps))
    ohms = impedance.resistance_hot_ohm * impedance.phase_lengths_m / np.mean(impedance.phase_lengths_m)
    henries = np.zeros((len(ohms), len(ohms))) if inductance is None else inductance.matrix_h
    loops = network.phases_of
    per_step = emf.pole_pairs * speeds_rad_s * steps / (GAMMA * np.pi)
    drive = Drive(
        emf_v=(per_speed @ loops)[:, None, :] * speeds_rad_s[:, None],
        resistance_ohm=loops.T @ (ohms[:, None] * loops),
        reactance_ohm=per_step[:, None, None] * (loops.T @ henries @ loops),
        drop_v=np.full(len(speeds_rad_s), network.drop_v),
    )
    doubled = load.rectifier == "doubler" and load.kind != "open"
    flowing = _doubled(network, drive, load) if doubled else periodic_currents(network, drive)[0]
    lines = flowing @ network.lines_of.T
    direct = network.share * np.abs(lines).sum(axis=-1)
    if doubled:
        direct = np.broadcast_to(stage_weights(steps) @ direct, direct.shape)
    return LoadCurrents(network, per_speed, ohms, flowing @ loops.T, lines, direct)


def half_wave(orders: Ints, amplitudes: Complexes, angle_rad: Floats) -> Floats:
    """EMF per speed at electrical angles (u,), as (u, phases); refuses harmonics that spoil the half-wave symmetry."""
    if np.any(orders % 2 == 0):
        raise ValueError(f"only odd harmonics change their sign after half a period; received {orders.tolist()}")
    return np.asarray((np.exp(-1j * np.outer(angle_rad, orders)) @ amplitudes.T).real)


def _doubled(network: Network, drive: Drive, load: Load) -> Floats:
    """Loop currents (u, s, f) with the capacitors' voltage that their own charge sustains through load and cable.

    The voltage v solves V + R I(v) = v, whose left side falls with v: no current flows above twice the peak.
    """
    weights, start = stage_weights(len(drive.emf_v) // 2), None
    battery = np.full(len(drive.drop_v), load.voltage_v or 0.0)

    def currents(dc_v: Floats) -> Floats:
        nonlocal start
        flowing, start = periodic_currents(network, _against(drive, dc_v / 2), start)
        return flowing

    def excess(dc_v: Floats) -> Floats:
        charge = weights @ np.abs(currents(dc_v)).sum(axis=-1)
        return np.asarray(battery + dc_ohm(load) * network.share * charge - dc_v)

    highest = np.maximum(battery, 2 * np.max(np.abs(drive.emf_v), axis=(0, 2)))
    return currents(_falling_root(excess, battery, highest))


def _against(drive: Drive, voltage_v: Floats) -> Drive:
    return Drive(drive.emf_v, drive.resistance_ohm, drive.reactance_ohm, drive.drop_v + voltage_v)


def _falling_root(excess: Callable[[Floats], Floats], low: Floats, high: Floats) -> Floats:
    """Where a falling function passes 0 between `low` and `high`, element by element, by the Illinois rule."""
    above, below = excess(low), excess(high)
    near = SETTLED * (high + 1e-300)
    for _ in range(HALVINGS):
        span = above - below
        middle = high - (high - low) * np.where(span > 0, -below / np.where(span > 0, span, 1.0), 0.0)
        found = excess(middle)
        if np.all(np.abs(found) <= near):
            return np.asarray(middle)
        left = found > 0
        low, high = np.where(left, middle, low), np.where(left, high, middle)
        above, below = np.where(left, found, above / 2), np.where(left, below / 2, found)
    raise SolveError(f"the voltage of the doubler's capacitors is not found within {HALVINGS} trials")
