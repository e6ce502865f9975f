"""The wire list as a table and in words."""

from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.sentences import plain, weight
from fieldrun.outputs.wire_list import Bobbin, WireList

SLIM_M = 0.003
"""A bobbin need not be measured if so slim a one would do."""


def piece_table(wires: WireList) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Headings and rows: every piece with what its length is made of, in metres."""
    headings = ("piece", "in the winding", "links", "tails", "spare", "cut")
    rows = tuple(
        (
            f"{cut.phase}{cut.piece}" if _several(wires) else cut.phase,
            f"{cut.conductor_m:.2f} m",
            f"{cut.links_m:.2f} m",
            f"{cut.tails_m:.2f} m",
            f"{cut.spare_m:.2f} m",
            f"{cut.measured_m:.1f} m",
        )
        for cut in wires.cuts
    )
    return headings, rows


def _several(wires: WireList) -> bool:
    return any(cut.piece > 1 for cut in wires.cuts)


def wire_notes(result: RunResult, wires: WireList) -> list[str]:
    """What the table does not say: which wire, how much in all, bundles, bobbins."""
    wire, spare = result.design.wire, plain(100 * result.design.cutting.spare, "%")
    overall = plain(wire.overall_diameter_m / MM, "mm")
    if wire.kind == "litz":
        strand = plain(wire.strand_diameter_m / MM, "mm")
        what = f"{wire.strands} strands of {strand} copper, {overall} over everything at most"
    else:
        what = f"{plain(wire.strand_diameter_m / MM, 'mm')} copper, {overall} over its enamel at most"
    bench = wires.strand_passes is not None
    told = [_wire_note(what, "" if bench else f"; {spare} is spare"), _total(wires)]
    if bench:
        told.append(
            f"Twisted at home: every piece is {wires.strand_passes} passes of the single wire between the posts, "
            "twisted as told below; its length is what the bench gives, and the spare column what is left over."
        )
    if wires.bobbin is not None:
        told.append(_bobbin_note(wires, wires.bobbin))
    return told


def _wire_note(what: str, spare: str) -> str:
    return (
        f"Wire: {what}. Lengths to cut are rounded up to the next decimetre; links lead from round to round and are "
        f"not in the phase's length that ohms are reckoned from{spare}."
    )


def _total(wires: WireList) -> str:
    single = " of single wire" if wires.strand_passes else ""
    return (
        f"In all {plain(wires.wire_m, 'm')}{single}, {weight(wires.copper_kg)} of copper; enamel adds a few per cent "
        "to what a spool weighs."
    )


def _bobbin_note(wires: WireList, bobbin: Bobbin) -> str:
    width = plain(bobbin.width_m / MM, "mm")
    holds = (
        f"for the longest piece it must be {width} wide between its flanges, on a core a third as thick"
        if bobbin.width_m > SLIM_M
        else "a far smaller one holds the longest piece"
    )
    return (
        f"Wire goes through the middle of the board {wires.hub_passes} times in all. The largest loaded bobbin that "
        f"passes is {plain(bobbin.diameter_m / MM, 'mm')} across; {holds}."
    )
