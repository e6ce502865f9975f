"""Strands of a bundle joined in parallel, in groups or in series: the same power at other volts and ohms."""

from dataclasses import dataclass, replace

from fieldrun.design.model import Design, Load, Winding, Wire
from fieldrun.generator.emf import Emf
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.load.charging import charging_starts_rad_s


@dataclass(frozen=True)
class Joining:
    """One way to join the strands of every phase: equal groups of strands in parallel, the groups in series.

    Parameters
    ----------
    in_series : groups s, a divisor of the strands N
    in_parallel : strands of a group, N / s
    rms_v_s_per_rad : EMF of a phase [V s/rad]
    resistance_20c_ohm, resistance_hot_ohm : of a phase
    joints_per_phase : joints between groups: s - 1 in each of the parallel groups of rounds
    ends_per_joint : ends of strands that meet in each: all of one group with all of the next
    matched_w_per_speed2 : power of all phases into a load of as many ohms as they have; the same for every way
        [W s^2/rad^2]
    charging_starts_rad_s : speed from which a battery charges; None without one
    """

    in_series: int
    in_parallel: int
    rms_v_s_per_rad: float
    resistance_20c_ohm: float
    resistance_hot_ohm: float
    joints_per_phase: int
    ends_per_joint: int
    matched_w_per_speed2: float
    charging_starts_rad_s: float | None

    def charges_at(self, speed_rad_s: float) -> bool:
        """Whether a battery charges at a speed."""
        return self.charging_starts_rad_s is not None and speed_rad_s >= self.charging_starts_rad_s


@dataclass(frozen=True)
class Link:
    """What is soldered together: ends of strands `ends` with starts of strands `starts`, each from first to last."""

    ends: tuple[int, int]
    starts: tuple[int, int]


def joinings(emf: Emf, copper: Impedance, design: Design) -> tuple[Joining, ...]:
    """Every way to join the strands, all in parallel first; none for a solid wire.

    N / s strands in parallel give the EMF of one strand at s / N of its ohms, s such groups in series s times the EMF
    at s times the ohms: E as s, R as s^2, so that E^2 / 4R stays.

    Parameters
    ----------
    emf, copper : of the design as it stands, its strands joined as it says
    design : for its wire, winding and load
    """
    if design.wire.kind != "litz":
        return ()
    groups = [s for s in range(1, design.wire.strands + 1) if design.wire.strands % s == 0]
    return tuple(_joined(emf, copper, design, s) for s in groups)


def _joined(emf: Emf, copper: Impedance, design: Design, groups: int) -> Joining:
    wire, winding = design.wire, design.winding
    more = groups / wire.strands_in_series
    volts, ohms = more * float(emf.rms[0]), more**2 * copper.resistance_hot_ohm
    return Joining(
        in_series=groups,
        in_parallel=wire.strands // groups,
        rms_v_s_per_rad=volts,
        resistance_20c_ohm=more**2 * copper.resistance_20c_ohm,
        resistance_hot_ohm=ohms,
        joints_per_phase=(groups - 1) * winding.parallel,
        ends_per_joint=2 * wire.strands // groups,
        matched_w_per_speed2=winding.phases * volts**2 / (4 * ohms),
        charging_starts_rad_s=_charging(emf, winding, design.load, more),
    )


def _charging(emf: Emf, winding: Winding, load: Load | None, more: float) -> float | None:
    if load is None:
        return None
    return charging_starts_rad_s(replace(emf, waveform=more * emf.waveform), winding.connection, load)


def links(wire: Wire) -> tuple[Link, ...]:
    """Which ends meet which starts, strands numbered from 1: every group's ends with the next group's starts.

    The starts of the first group are the phase's start, the ends of the last one its end.
    """
    size = wire.strands // wire.strands_in_series
    firsts = range(1, wire.strands - size + 1, size)
    return tuple(Link((first, first + size - 1), (first + size, first + 2 * size - 1)) for first in firsts)
