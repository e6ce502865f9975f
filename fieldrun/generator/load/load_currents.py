"""The steady currents of a generator on its load, over half an electrical period."""

from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.model import Load, Winding
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.load.angle_grid import rough_grid
from fieldrun.generator.load.conduction import Drive, Periodic, periodic_currents, periodic_on
from fieldrun.generator.load.falling_root import falling_root
from fieldrun.generator.load.network import Network, dc_ohm, network_of
from fieldrun.generator.losses import Circuit

ASIDE = 3e-3
"""Share of the highest voltage within which divided steps move a doubler's voltage."""

STEPS = 120
"""Steps in half an electrical period, 1.5 degrees each, before those with switching diodes are divided."""

ROUNDING = 1e-12
"""Share of what a short circuit would carry below which a current is rounding."""


@dataclass(frozen=True, eq=False)
class LoadCurrents:
    """Currents at u stages of half an electrical period and s speeds; half a period on they have changed their sign.

    Parameters
    ----------
    network : how phases, diodes and load hang together
    angle_rad : (u, s) electrical angles of the stages
    weight : (u, s) their weights in a mean
    emf_v_s : (u, s, phases) EMF per speed [V s/rad]
    phase_ohm : (phases,) resistances, warm
    phase_a : (u, s, phases)
    line_a : (u, s, lines) into the diodes, or the resistors where there are none
    dc_a : (u, s) direct current; behind a doubler's capacitors it is smooth; nothing without a rectifier
    """

    network: Network
    angle_rad: Floats
    weight: Floats
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
    drive = _drive(Circuit(emf, impedance, inductance), network, speeds_rad_s)
    doubled = load.rectifier == "doubler" and load.kind != "open"
    found = _doubled(network, drive, load, steps) if doubled else periodic_currents(network, drive, steps)
    shorted_a = np.abs(found.emf_v).max(axis=(0, 2)) / np.diag(drive.resistance_ohm).min()
    current = _without_rounding(found.current_a, shorted_a)
    lines = _without_rounding(current @ network.lines_of.T, shorted_a)
    direct = network.share * np.abs(lines).sum(axis=-1)
    weight = found.grid.weight
    if doubled:
        direct = np.broadcast_to((weight * direct).sum(axis=0), direct.shape)
    return LoadCurrents(
        network=network,
        weight=weight,
        angle_rad=found.grid.angle_rad,
        emf_v_s=half_wave(emf.orders, emf.amplitudes, found.grid.angle_rad),
        phase_ohm=_phase_ohm(impedance),
        phase_a=current @ network.phases_of.T,
        line_a=lines,
        dc_a=direct,
    )


def _without_rounding(current_a: Floats, shorted_a: Floats) -> Floats:
    """Currents, and none where rounding alone is left: diodes that do not conduct must not start to charge.

    Of lines too: what goes round a delta leaves rounding where two phases meet. `shorted_a` (s,) is what a short
    circuit would carry.
    """
    return np.where(np.abs(current_a) > ROUNDING * shorted_a[:, None], current_a, 0.0)


def _drive(circuit: Circuit, network: Network, speeds_rad_s: Floats) -> Drive:
    emf, loops = circuit.emf, network.phases_of
    amplitudes = loops.T @ emf.amplitudes
    ohms = _phase_ohm(circuit.copper)
    henries = np.zeros((len(ohms), len(ohms))) if circuit.inductance is None else circuit.inductance.matrix_h
    return Drive(
        emf_v=lambda angle_rad: speeds_rad_s[:, None] * half_wave(emf.orders, amplitudes, angle_rad),
        resistance_ohm=loops.T @ (ohms[:, None] * loops),
        reactance_ohm=emf.pole_pairs * speeds_rad_s[:, None, None] * (loops.T @ henries @ loops),
        drop_v=np.full(len(speeds_rad_s), network.drop_v),
    )


def _phase_ohm(impedance: Impedance) -> Floats:
    """Warm resistance of each phase by its own length."""
    lengths = impedance.phase_lengths_m
    return np.asarray(impedance.resistance_hot_ohm * lengths / lengths.mean())


def half_wave(orders: Ints, amplitudes: Complexes, angle_rad: Floats) -> Floats:
    """Sum of odd harmonics at electrical angles (...), as (..., phases), in the unit of `amplitudes` (phases, n).

    Raises
    ------
    ValueError
        If a harmonic is even: the currents' half-wave symmetry would be gone.
    """
    if np.any(orders % 2 == 0):
        raise ValueError(f"only odd harmonics change their sign after half a period; received {orders.tolist()}")
    turn = np.exp(-1j * angle_rad)
    powers = np.stack([turn**order for order in orders.tolist()], axis=-1)
    return np.asarray((powers @ amplitudes.T).real)


def _doubled(network: Network, drive: Drive, load: Load, steps: int) -> Periodic:
    """The steady state with the voltage at the capacitors that their own charge sustains through load and cable.

    The voltage v solves V + R I(v) = v, whose left side falls with v: no current flows above twice the peak. It is
    sought on rough steps, then near by on divided ones.
    """
    grid, battery = rough_grid(steps, len(drive.drop_v)), np.full(len(drive.drop_v), load.voltage_v or 0.0)
    highest = np.maximum(battery, 2 * np.max(np.abs(drive.emf_v(grid.angle_rad)), axis=(0, 2)))
    found: Periodic | None = None

    def excess(dc_v: Floats) -> Floats:
        nonlocal found
        against = replace(drive, drop_v=drive.drop_v + dc_v / 2)
        found = periodic_on(network, against, grid, found.start_v if found else None)
        charge = (found.grid.weight * np.abs(found.current_a).sum(axis=-1)).sum(axis=0)
        return np.asarray(battery + dc_ohm(load) * network.share * charge - dc_v)

    near = falling_root(excess, battery, highest)
    found = periodic_currents(network, replace(drive, drop_v=drive.drop_v + near / 2), steps)
    grid = found.grid
    below, above = (np.clip(near + side * ASIDE * highest, battery, highest) for side in (-1, 1))
    below = np.where(excess(below) >= 0, below, battery)
    above = np.where(excess(above) <= 0, above, highest)
    excess(falling_root(excess, below, above))
    return found
