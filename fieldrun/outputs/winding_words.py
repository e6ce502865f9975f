"""How to wind, in the builder's words: the first round notch by notch, what follows it, how phases are joined."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.sentences import listed, plain
from fieldrun.winding.former import Former
from fieldrun.winding.shapes import SHAPES
from fieldrun.winding.stations import PHASE_LETTERS

MOST_ROWS = 400
"""Rounds that are ticked off one by one; of more, whole groups."""

RIGHT_ARROW = " \N{RIGHTWARDS ARROW} "


@dataclass(frozen=True)
class Run:
    """What is wound in one go: a round of an open shape, or a whole group of many; a closed shape's turns at one pair.

    `rounds` are those of its group that it holds, first and last; `start` is the station where the first begins,
    `wire` which of those in parallel it belongs to, `metres` how much of that one is used by its end.
    """

    phase: str
    layer: int
    belt: int
    turn: int
    rounds: tuple[int, int]
    wire: int
    start: str
    metres: float


def stations_word(former: Former) -> str:
    """What holds the wire."""
    kinds = {station.kind for station in former.stations}
    if not former.notched:
        return "pin"
    return "notch or pin" if "corner" in kinds else "notch"


def walks(result: RunResult, former: Former) -> list[tuple[str, str]]:
    """For every phase its first round (of a closed shape, of a path, loop by loop) from station to station."""
    loops = former.loops
    first = (loops.layer == 0) & (loops.round == 0)
    told = []
    for phase in range(result.design.winding.phases):
        for belt in range(result.design.winding.belts):
            own = np.flatnonzero(first & (loops.phase == phase) & (loops.belt == belt))
            half = "second half: " if belt else ""
            told.append((PHASE_LETTERS[phase], half + ";  ".join(_walk(former, int(loop)) for loop in own)))
    return told


def _walk(former: Former, loop: int) -> str:
    own = former.corners.station[former.corners.loop == loop]
    labels = [former.stations[i].label for i in own]
    return RIGHT_ARROW.join([*labels, labels[0]])


def closed(result: RunResult) -> bool:
    """Whether every pair of poles has turns of its own."""
    shape = result.design.winding.shape
    return shape != "path" and SHAPES[shape].closed


def runs_of(result: RunResult, former: Former) -> list[Run]:
    """The whole winding as runs, in the order of winding."""
    loops, corners = former.loops, former.corners
    key = np.stack([loops.layer, loops.phase, loops.belt, loops.wire], axis=1)
    if closed(result):
        key = np.column_stack([key, loops.turn])
    elif loops.count <= MOST_ROWS:
        key = np.column_stack([key, loops.round])
    begins = np.flatnonzero(np.r_[True, np.any(np.diff(key, axis=0) != 0, axis=1)])
    ends = np.r_[begins[1:], loops.count]
    used = np.zeros((result.design.winding.phases, int(loops.wire.max()) + 1))
    told = []
    for a, b in zip(begins, ends, strict=True):
        phase = int(loops.phase[a])
        wire = int(loops.wire[a])
        used[phase, wire] += float(np.sum(loops.length_m[a:b] + loops.link_m[a:b]))
        station = former.stations[corners.station[np.flatnonzero(corners.loop == a)[0]]].label
        run = Run(
            phase=PHASE_LETTERS[phase],
            layer=int(loops.layer[a]) + 1,
            belt=int(loops.belt[a]) + 1,
            turn=int(loops.turn[a]) + 1,
            rounds=(int(loops.round[a]) + 1, int(loops.round[b - 1]) + 1),
            wire=wire + 1,
            start=station,
            metres=float(used[phase, wire]),
        )
        told.append(run)
    return told


def how_to_wind(result: RunResult, former: Former) -> list[str]:
    """The rules, as numbered points."""
    winding, laid = result.design.winding, result.lay
    told = [_place(result, former), _first(result, former)]
    if laid.rounds_per_group > 1:
        told.append(_others(result, former))
    if winding.belts == 2:
        told.append(
            "The second half of each phase is wound backwards, from its own first notch: the walk turns the other way "
            "round, or its volts would cancel the first half's."
        )
    if winding.layers > 1:
        told.append(
            f"{winding.layers} layers lie on each other: finish a layer of all phases before the next, and press it "
            "flat. Every layer uses the same notches."
            if former.notched
            else f"{winding.layers} layers lie on each other round the same pins: finish a layer of all phases first."
        )
    return [*told, _passes(former), _uncut(result)]


def _place(result: RunResult, former: Former) -> str:
    crossed = len(result.lay.sheet_heights_m) > result.design.winding.layers
    face = (
        "where legs cross, the one wound later lies above: two wires at most in a layer, reckoned with those that run "
        "outward above"
        if crossed and not former.stays
        else "legs that run outward lie on the front face, those that run inward on the back"
        if former.stays
        else "all legs lie on the front face"
    )
    side = "the side of the upper magnets" if result.design.rotor.faces == 2 else "the side away from the magnets"
    return f"Lay the board with its front face up, {side}; {face}."


def _first(result: RunResult, former: Former) -> str:
    phases = result.design.winding.phases
    starts = [f"{PHASE_LETTERS[k]}1" for k in range(phases)]
    tail = plain(result.design.cutting.tail_m / MM, "mm")
    each = "The phase starts" if phases == 1 else "Phases start"
    return (
        f'{each} at {listed(starts)}, the bold numbers: leave a tail of {tail}, mark it "start" with its letter, and '
        f"follow the numbers in the arrow's direction, from each {stations_word(former)} to the next."
    )


def _others(result: RunResult, former: Former) -> str:
    count, side = result.lay.rounds_per_group, "counterclockwise"
    if result.lay.step_rad < 0:
        side = "clockwise"
    rim = result.lay.rim_m_per_phase
    width = "" if rim is None else f"; after {plain(rim / MM, 'mm')} of the inner rim a group is full"
    if closed(result):
        what = f"turns at each pair of poles, one after the other, before going on: {count}"
        group = f"Wind {what} in a group, each beside the one before on its {side} side, touching it{width}."
        return f"{group} {_held(former)}"
    group = f"{count} rounds make a group, each beside the one before on its {side} side, touching it{width}."
    return f"{group} {_held(former)}"


def _held(former: Former) -> str:
    """What holds the rounds after the first."""
    what = "notches" if former.notched else "pins"
    if former.plan.comb == "all":
        return f"Each has {what} of its own."
    if former.stays and former.notched:
        return (
            "Only the first has notches that lead it to the other face: bring the others through them too and spread "
            'them on the faces, or cut a notch for every round (comb = "all").'
        )
    return f"Only the first is held by {what}: tape the corners of the others to it as you go."


def _passes(former: Former) -> str:
    if former.hub_passes == 0:
        return "The wire stays on one face: nothing has to go through the middle of the board."
    if not former.threaded:
        return (
            f"The wire goes through the middle of the board {former.hub_passes} times: use a bobbin that fits the hole."
        )
    return (
        f"Inner notches are closed slots, because the middle of the board carries the winding: the wire is threaded "
        f"through them {former.hub_passes} times, end first, so wind with short pieces."
    )


def _uncut(result: RunResult) -> str:
    if result.twisting is not None and result.twisting.pieces_per_phase > 1:
        return "Pieces of bundle are joined where the page on wire says: at the inner ends, out of the magnets' reach."
    winding = result.design.winding
    more = (["halves"] if winding.belts > 1 else []) + (["layers"] if winding.layers > 1 else [])
    between = listed(["turns" if closed(result) else "rounds", *more])
    groups = f", but for the {winding.parallel} wires in parallel" if winding.parallel > 1 else ""
    return f"Do not cut the wire between {between}{groups}: it leads on by itself, along the inner ends."


def connection(result: RunResult) -> list[str]:
    """What is joined to what when all is wound."""
    winding = result.design.winding
    letters = [PHASE_LETTERS[k] for k in range(winding.phases)]
    told = []
    if winding.parallel > 1:
        told.append(
            f"Each phase is {winding.parallel} wires in parallel: join their starts, and join their ends, but measure "
            "each before: equal ohms, or a group is short."
        )
    if winding.phases == 1:
        return [*told, "The phase's start and end are the two leads."]
    starts, ends = ([f"{what} {letter}" for letter in letters] for what in ("start", "end"))
    if winding.connection == "star":
        return [*told, f"Star point: join {listed(ends)} and insulate them. {_cap(listed(starts))} are the leads."]
    if winding.connection == "delta":
        links = [f"end {a} with start {b}" for a, b in zip(letters, [*letters[1:], letters[0]], strict=True)]
        return [*told, f"Delta: join {listed(links)}. The {len(letters)} joints are the leads."]
    return [*told, f"Phases stay separate: {listed(starts)} with their ends are {2 * len(letters)} leads."]


def _span(rounds: tuple[int, int]) -> str:
    first, last = rounds
    return str(first) if first == last else f"{first} to {last}"


def _cap(text: str) -> str:
    return text[0].upper() + text[1:]


def run_rows(
    runs: Sequence[Run], *, turns: bool, layers: bool, belts: bool, wires: bool = False
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows of the list to tick off."""
    headings = ["phase", *(["wire"] if wires else []), *(["layer"] if layers else [])]
    headings += [*(["half"] if belts else []), *(["pair"] if turns else [])]
    rows = [
        (
            run.phase,
            *([f"{run.phase}{run.wire}"] if wires else []),
            *([str(run.layer)] if layers else []),
            *([str(run.belt)] if belts else []),
            *([str(run.turn)] if turns else []),
            _span(run.rounds),
            run.start,
            f"{run.metres:.2f}",
        )
        for run in runs
    ]
    return (*headings, "turns" if turns else "round", "from", "metres"), rows
