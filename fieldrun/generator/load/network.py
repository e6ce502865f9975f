"""How phases, diodes and load hang together: loop currents, line currents, and what each way of conducting leaves free.

The network as a convex cost. With loop currents f, phase currents B f and line currents l = D f, whatever sits behind
the lines answers with the voltages d/dl of

    P(l) = drop sum |l| + resistance / 2 sum l^2 + common / 2 (share sum |l|)^2

A diode that carries a current is a drop and a resistance; the direct current is share * sum |l|. One that blocks shows
as the kink of |l| at 0. The currents that flow are those of least cost: no diode has to be guessed.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Load, Winding


@dataclass(frozen=True, eq=False)
class Network:
    """Topology and diodes; nothing of the winding but how its phases are joined.

    Parameters
    ----------
    phases_of : B, (phases, f) phase currents of loop currents [1]
    lines_of : D, (lines, f) line currents of loop currents [1]
    signs : (modes, lines) -1, 0 or 1: the ways in which lines can conduct; 0 blocks
    diodes : diodes in the way of each line's current
    drop_v : voltage against each line's current, battery's share included [V]
    resistance_ohm : in each line: diodes, a resistor behind no diodes [ohm]
    common_ohm : in the direct current's way [ohm]
    share : direct current over the sum of the lines' currents [1]
    """

    phases_of: Floats
    lines_of: Floats
    signs: Floats
    diodes: int
    drop_v: float
    resistance_ohm: float
    common_ohm: float
    share: float

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("phases_of", "lines_of", "signs"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def network_of(winding: Winding, load: Load) -> Network:
    """The network of a winding behind its diodes, with its load.

    One bridge: star (its point not led out; two phases too) or delta into a pair of diodes per line. Separate phases, a
    single one too, and a bridge per phase: every phase in its own bridge of four diodes, all on the same direct
    current. Doubler: each phase between the middle of two capacitors and its pair of diodes; the capacitors' voltage is
    no part of it. No rectifier: a resistor for each phase with the cable before it, joined as the phases are. Open:
    no line conducts, which leaves the current round a delta.
    """
    joined = joined_as(winding, load)
    phases_of, lines_of = _currents(winding.phases, joined)
    diodes = diodes_in_way(joined, load)
    if load.kind == "open":
        return Network(phases_of, lines_of, np.zeros((1, len(lines_of))), diodes, 0.0, 0.0, 0.0, 0.0)
    if load.rectifier == "none":
        ohms = (load.resistance_ohm or 0.0) + load.cable_ohm
        return Network(phases_of, _no_round(lines_of, joined), np.ones((1, len(lines_of))), 0, 0.0, ohms, 0.0, 0.0)
    doubler = load.rectifier == "doubler"
    share = 1.0 if joined == "separate" and not doubler else 0.5
    battery = 0.0 if doubler else share * (load.voltage_v or 0.0)
    return Network(
        phases_of=phases_of,
        lines_of=lines_of,
        signs=_signs(len(lines_of), joined),
        diodes=diodes,
        drop_v=diodes * load.diode_drop_v + battery,
        resistance_ohm=diodes * load.diode_slope_ohm,
        common_ohm=0.0 if doubler else dc_ohm(load),
        share=share,
    )


def joined_as(winding: Winding, load: Load) -> str:
    """How phases meet before the load; diodes of their own keep them apart, whatever the winding says."""
    own = load.rectifier in {"bridge per phase", "doubler"} and load.kind != "open"
    return "separate" if winding.phases == 1 or own else winding.connection


def diodes_in_way(joined: str, load: Load) -> int:
    """Diodes that a line's current passes one way: of the two in a common bridge each line has one."""
    return 2 if joined == "separate" and load.rectifier != "doubler" else 1


def dc_ohm(load: Load) -> float:
    """Resistance in the direct current's way: the load's and the cable's [ohm]."""
    return (load.resistance_ohm or 0.0) + load.cable_ohm


def _currents(phases: int, joined: str) -> tuple[Floats, Floats]:
    """B and D."""
    unit = np.eye(phases)
    if joined == "star":
        last = np.vstack([np.eye(phases - 1), -np.ones(phases - 1)])
        return last, last
    return unit, unit - np.roll(unit, -1, axis=0) if joined == "delta" else unit


def _no_round(lines_of: Floats, joined: str) -> Floats:
    """Currents of resistors across a delta's sides: what goes round the phases does not pass them."""
    return np.eye(len(lines_of)) - 1 / len(lines_of) if joined == "delta" else lines_of


def _signs(lines: int, joined: str) -> Floats:
    """All ways of conducting; in a common bridge what flows out must flow in."""
    every = np.array(list(product((0.0, 1.0, -1.0), repeat=lines)))
    if joined == "separate":
        return every
    out, back = (every > 0).any(axis=1), (every < 0).any(axis=1)
    return np.asarray(every[out == back])
