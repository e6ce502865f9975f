"""What might be changed in a design: each a few keys of its file, with how much work it is."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fieldrun.design.materials import grade_names, magnet_grade
from fieldrun.design.model import Design, Load
from fieldrun.design.units import MM
from fieldrun.field.ring_field import SteelReport
from fieldrun.generator.load.network import joined_as
from fieldrun.generator.result import RunResult
from fieldrun.studies.changes.sizes import smaller_wires, thicker_wires
from fieldrun.winding.lay import Lay

Keys = Mapping[str, object]
"""Values by dotted key, as `read_design` takes them; None takes a key out."""

JOIN, SPACE, WIND, BUY = 1, 1, 2, 3
"""Effort: to join ends otherwise or to put in other spacers, to wind anew, to buy other magnets or steel."""

STEEL_STEP_MM, MAGNET_STEP_MM, GAP_STEP_MM = 2.0, 2.0, 1.0

SAME_M = 1e-6
"""Gaps that differ by less are the same."""

LEAST_STEEL_MM = 3.0
"""Thinner discs bend under the magnets' pull."""

MOST_FEWER = 3
"""Rounds per group fewer that are tried with thicker wire."""

CONNECTIONS = ("star", "delta", "separate")


@dataclass(frozen=True)
class Proposal:
    """One thing to change.

    Parameters
    ----------
    name : stable, for programs
    effort : see `JOIN`
    ways : keys to set, the best way first; the first one that can be built counts
    hopeless : why none of them is worth a try, or why there are none; empty if they are
    """

    name: str
    effort: int
    ways: tuple[Keys, ...]
    hopeless: str = ""


def proposals(result: RunResult) -> Iterator[Proposal]:
    """Everything that can be tried on a design that was answered, the least work first."""
    design, laid = result.design, result.lay
    yield from _connections(design)
    yield from _in_series(design)
    yield from _in_parallel(design, laid)
    yield from _gap(design, laid)
    if design.winding.shape != "path":
        yield from _rounds(design, laid)
        yield from _wire(design, laid)
    yield from _steel(design, result.field.rings.steel)
    yield from _magnets(design)


def _connections(design: Design) -> Iterator[Proposal]:
    load = design.load
    if design.winding.phases == 1 or load is None:
        return
    joined = joined_as(design.winding, load)
    for other in CONNECTIONS:
        if other != joined and not _is_idle(other, design.winding.phases, load):
            yield Proposal(f"connect-{other}", JOIN, ({"winding.connection": other, **_one_bridge(load)},))


def _is_idle(connection: str, phases: int, load: Load) -> bool:
    """Two phases make no delta, and without diodes phases apart are those of a star, for currents add up to nothing."""
    return (connection == "delta" and phases == 2) or (connection == "separate" and load.rectifier == "none")


def _one_bridge(load: Load) -> Keys:
    """Diodes for phases that are joined: those of a phase's own would keep them apart."""
    return {"load.rectifier": "bridge"} if load.rectifier in {"bridge per phase", "doubler"} else {}


def _in_series(design: Design) -> Iterator[Proposal]:
    """Strands of a bundle, or groups of rounds, joined more or less in series."""
    strands, now = design.wire.strands, design.wire.strands_in_series
    if design.wire.kind == "litz":
        possible = [s for s in range(1, strands + 1) if strands % s == 0]
        for name, found in (
            ("more-strands-in-series", next((s for s in possible if s > now), None)),
            ("fewer-strands-in-series", next((s for s in reversed(possible) if s < now), None)),
        ):
            if found is not None:
                yield Proposal(name, JOIN, ({"wire.strands_in_series": found},))
    groups = design.winding.parallel
    if groups > 1:
        fewer = next(g for g in range(groups - 1, 0, -1) if groups % g == 0)
        yield Proposal("fewer-parallel", JOIN, ({"winding.parallel": fewer},))


def _in_parallel(design: Design, laid: Lay) -> Iterator[Proposal]:
    """Layers joined side by side, which are alike: a winding of too many rounds for its load needs no other wire."""
    winding, rounds = design.winding, laid.rounds_per_phase
    if winding.shape == "path":
        return
    more = [
        groups
        for groups in range(winding.parallel + 1, winding.layers + 1)
        if winding.layers % groups == 0 and rounds % groups == 0
    ]
    for name, found in zip(("more-parallel", "layers-parallel"), dict.fromkeys([*more[:1], *more[-1:]]), strict=False):
        yield Proposal(name, JOIN, ({"winding.parallel": found},))


def _gap(design: Design, laid: Lay) -> Iterator[Proposal]:
    if design.rotor.gap_m is not None:
        narrower = design.rotor.gap_m / MM - GAP_STEP_MM
        stack: tuple[Keys, ...] = () if design.winding.shape == "path" else ({"rotor.gap_mm": "stack"},)
        tight = "as narrow already as winding and clearances allow" if _is_tight(design, laid) else ""
        yield Proposal("gap-narrower", SPACE, ({"rotor.gap_mm": round(narrower, 2)}, *stack), tight)


def _is_tight(design: Design, laid: Lay) -> bool:
    """Whether the gap is no more than the winding's stack takes; of a path of one's own that is not known."""
    winding, gap = design.winding, design.rotor.gap_m or 0.0
    stack = laid.thickness_m + winding.former_in_gap_m + winding.resin_m + 2 * winding.clearance_m
    return winding.shape != "path" and gap < stack + SAME_M


def _per_step(design: Design) -> int:
    return design.winding.belts * design.winding.layers


def _rounds(design: Design, laid: Lay) -> Iterator[Proposal]:
    """One round more or less in each group; where no more fit, one more layer with the gap that it takes."""
    step, now, layers = _per_step(design), laid.rounds_per_phase, design.winding.layers
    layer: Keys = {"winding.layers": layers + 1, "winding.rounds": now // layers * (layers + 1)}
    yield Proposal("more-rounds", WIND, ({"winding.rounds": now + step}, {**layer, **_closed_up(design)}))
    if now > step:
        yield Proposal("fewer-rounds", WIND, ({"winding.rounds": now - step},))


def _closed_up(design: Design) -> Keys:
    """The gap that the winding takes, where there is a gap."""
    return {} if design.rotor.gap_m is None else {"rotor.gap_mm": "stack"}


def _wire(design: Design, laid: Lay) -> Iterator[Proposal]:
    """Thinner wire and more rounds, or thicker wire and fewer, in the same belts: about as much copper."""
    step, now = _per_step(design), laid.rounds_per_phase
    thinner = tuple({**keys, "winding.rounds": now + step} for keys in smaller_wires(design.wire))
    yield Proposal("thinner-wire", WIND, thinner, "" if thinner else "thinner wire is in no table")
    fewer = [rounds for rounds in range(now, now - (MOST_FEWER + 1) * step, -step) if rounds > 0]
    thicker: list[Keys] = [
        {**keys, "winding.rounds": rounds} for keys in thicker_wires(design.wire) for rounds in fewer
    ]
    wider: list[Keys] = [{**keys, **_closed_up(design)} for keys in thicker] if design.rotor.gap_m is not None else []
    yield Proposal("thicker-wire", WIND, (*thicker, *wider), "" if thicker else "thicker wire is in no table")


def _steel(design: Design, found: tuple[SteelReport, ...]) -> Iterator[Proposal]:
    """Steel where there is none; thicker steel where it is full anywhere: below its knee more of it does nothing."""
    plate = design.rotor.backing
    if plate is None:
        thickness = max(LEAST_STEEL_MM, float(round(design.magnets.thickness_m / MM)))
        yield Proposal("steel-behind", BUY, ({"rotor.backing": "mild steel", "rotor.backing_mm": thickness},))
    elif plate.steel is not None:
        thicker: Keys = {"rotor.backing_mm": round(plate.thickness_m / MM + STEEL_STEP_MM, 6)}
        full = any(disc.above_knee > 0 for disc in found)
        peak = max((disc.peak_t for disc in found), default=0.0)
        idle = f"it would do nothing: the steel carries {peak:.3g} T at most, below its knee"
        yield Proposal("thicker-steel", BUY, (thicker,), "" if full else idle)


def _magnets(design: Design) -> Iterator[Proposal]:
    magnets = design.magnets
    if magnets.grade:
        stronger = next_grade(magnets.grade)
        ways: tuple[Keys, ...] = () if stronger is None else ({"magnets.grade": stronger},)
        yield Proposal("stronger-magnets", BUY, ways, "" if ways else f"{magnets.grade} is the strongest of its kind")
    yield Proposal(
        "thicker-magnets", BUY, ({"magnets.thickness_mm": round(magnets.thickness_m / MM + MAGNET_STEP_MM, 6)},)
    )


def next_grade(name: str) -> str | None:
    """The next stronger grade that stands the same heat; None if there is none.

    Raises
    ------
    DesignError
        If nobody knows the grade.
    """
    now = magnet_grade(name)
    same = [grade for grade in map(magnet_grade, grade_names()) if _kind(grade.name) == _kind(now.name)]
    stronger = [grade for grade in same if grade.remanence_t > now.remanence_t]
    return min(stronger, key=lambda grade: grade.remanence_t).name if stronger else None


def _kind(name: str) -> str:
    """A grade's name without its number: N45SH is of the kind N SH."""
    return "".join(" " if letter.isdigit() else letter for letter in name)
