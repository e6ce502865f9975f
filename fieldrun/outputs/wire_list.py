"""What wire to cut: for every phase its pieces, with tails, links and spare, and what all of it weighs."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.generator.result import RunResult
from fieldrun.generator.wire_metre import wire_metre
from fieldrun.winding.former import Former
from fieldrun.winding.stations import PHASE_LETTERS
from fieldrun.winding.twisting import Twisting

ROUNDED_M = 0.1
"""Wire is measured off in decimetres."""

ROUNDED_KG = 0.01

PLAY_M = 0.004
"""Less than the hole, so that a bobbin goes through it easily."""

CORE = 1 / 3
"""Core of a bobbin over its flanges."""

LOOSE = 1.15
"""Room that wire takes on a bobbin, over that of wires in rows and columns."""


@dataclass(frozen=True)
class Cut:
    """One piece of wire, or of a bundle twisted at home: `cut_m` is the sum of the four lengths before it [m].

    `spare_m` is the share bought in excess; of a bundle twisted at home, what its bench leaves over.
    """

    phase: str
    piece: int
    conductor_m: float
    links_m: float
    tails_m: float
    spare_m: float
    cut_m: float

    @property
    def measured_m(self) -> float:
        """What to measure off, rounded up."""
        return rounded_up(self.cut_m, ROUNDED_M)


@dataclass(frozen=True)
class Bobbin:
    """The largest loaded bobbin that goes through the middle, and how wide it is with the longest piece on it [m]."""

    diameter_m: float
    width_m: float


@dataclass(frozen=True)
class WireList:
    """Everything to cut.

    Parameters
    ----------
    cuts : by phases and pieces
    wire_m : wire to unreel, all pieces rounded up; of a bundle twisted at home, single wire
    copper_kg : its copper, rounded up; enamel is not in it
    strand_passes : of a bundle twisted at home: how often the single wire goes from post to post, for each piece
    hub_passes : how often wire goes through the middle of the board in all
    bobbin : None if wire never does
    """

    cuts: tuple[Cut, ...]
    wire_m: float
    copper_kg: float
    strand_passes: int | None
    hub_passes: int
    bobbin: Bobbin | None


def wire_list(result: RunResult, former: Former) -> WireList:
    """Work out what to cut.

    cut = (conductor + links) (1 + spare) + 2 tails for each wire of each phase; a bundle twisted at home comes in
    pieces as long as its bench makes them.
    """
    plan = result.twisting
    cuts = _whole_wires(result, former) if plan is None else _bench_pieces(result, former, plan)
    wire = result.design.wire
    if plan is None:
        total = math.fsum(cut.measured_m for cut in cuts)
        copper = total * wire_metre(wire).mass_kg
    else:
        total = rounded_up(plan.wire_m, ROUNDED_M)
        copper = total * wire_metre(wire).mass_kg / (wire.strands * wire.length_factor)
    return WireList(
        cuts=cuts,
        wire_m=total,
        copper_kg=rounded_up(copper, ROUNDED_KG),
        strand_passes=None if plan is None else plan.passes,
        hub_passes=former.hub_passes,
        bobbin=_bobbin(former, max(cut.measured_m for cut in cuts), wire.overall_diameter_m),
    )


def _whole_wires(result: RunResult, former: Former) -> tuple[Cut, ...]:
    winding, cutting = result.design.winding, result.design.cutting
    cuts = []
    for phase in range(winding.phases):
        for piece, (conductor, links) in enumerate(_wires(former, phase, winding.parallel)):
            tails, spare = 2 * cutting.tail_m, cutting.spare * (conductor + links)
            whole = math.fsum((conductor, links, tails, spare))
            cuts.append(Cut(PHASE_LETTERS[phase], piece + 1, conductor, links, tails, spare, whole))
    return tuple(cuts)


def _wires(former: Former, phase: int, parallel: int) -> list[tuple[float, float]]:
    """Conductor and links of a phase's wires [m]; a path that is not parted between loops is parted equally."""
    loops = former.loops
    own = loops.phase == phase
    parts = [own & (loops.wire == wire) for wire in np.unique(loops.wire[own])]
    sums = [(math.fsum(loops.length_m[part]), math.fsum(loops.link_m[part])) for part in parts]
    if len(sums) < parallel:
        return [(sums[0][0] / parallel, sums[0][1] / parallel)] * parallel
    return sums


def _bench_pieces(result: RunResult, former: Former, plan: Twisting) -> tuple[Cut, ...]:
    winding, tails = result.design.winding, 2 * result.design.cutting.tail_m
    cuts = []
    for phase in range(winding.phases):
        own = former.loops.phase == phase
        conductor, links = math.fsum(former.loops.length_m[own]), math.fsum(former.loops.link_m[own])
        for piece, (a, b) in enumerate(pairwise(_joint_shares(result, plan, conductor))):
            used, linked = (b - a) * conductor, (b - a) * links
            spare = plan.piece_m - tails - used - linked
            cuts.append(Cut(PHASE_LETTERS[phase], piece + 1, used, linked, tails, spare, plan.piece_m))
    return tuple(cuts)


def _joint_shares(result: RunResult, plan: Twisting, phase_m: float) -> list[float]:
    """Where pieces begin and end, as shares of a phase."""
    if plan.joints_in_legs:
        inside = [i * plan.usable_m / phase_m for i in range(1, plan.pieces_per_phase)]
    else:
        turns = 1 if result.design.winding.shape == "path" else result.lay.pole_pairs
        whole = result.lay.rounds_per_phase * turns
        inside = [(joint.rounds * turns + joint.turns) / whole for joint in plan.joints]
    return [0.0, *inside, 1.0]


def _bobbin(former: Former, longest_m: float, wire_m: float) -> Bobbin | None:
    if former.hub_passes == 0 or former.threaded:
        return None
    diameter = 2 * former.hub_radius_m - PLAY_M
    if diameter <= 0:
        return None
    room = math.pi / 4 * diameter**2 * (1 - CORE**2)
    return Bobbin(diameter, longest_m * LOOSE * wire_m**2 / room)


def rounded_up(value: float, step: float) -> float:
    """The next multiple of a step; rounding noise does not cost another one."""
    return round(math.ceil(value / step - 1e-9) * step, 9)
