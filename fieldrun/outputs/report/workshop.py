"""What leaves for the workshop: the former, how to wind on it, what to cut, and what a meter must read."""

from dataclasses import dataclass

from markupsafe import Markup

from fieldrun.design.errors import DesignError
from fieldrun.generator.result import RunResult
from fieldrun.generator.wire_metre import wire_metre
from fieldrun.outputs.bundle_words import bundle_lines
from fieldrun.outputs.meter_sheet import meter_caption, meter_table
from fieldrun.outputs.report.records import Chapter, Picture, Table
from fieldrun.outputs.sentences import plain, weight
from fieldrun.outputs.winding_words import how_to_wind
from fieldrun.outputs.wire_list import wire_list
from fieldrun.outputs.wire_list_told import piece_table, wire_notes
from fieldrun.winding.former import Former, former_of

FULL_SIZE = "A preview, smaller than life: `fieldrun former` prints it full size, with every template."


@dataclass(frozen=True, eq=False)
class Board:
    """The former, or why there is none."""

    former: Former | None
    reasons: tuple[str, ...] = ()


def board_of(result: RunResult) -> Board:
    """Plan the former; a winding that none can hold is no fault of the machine."""
    try:
        return Board(former_of(result.design, result.lay))
    except DesignError as error:
        return Board(None, tuple(fault.text for fault in error.faults))


def winding_chapter(result: RunResult, board: Board, pictures: tuple[Picture, ...]) -> Chapter:
    """Where the wire works, what to cut of it, and how a bundle's strands are joined."""
    tables = (_wire_facts(result), *(() if board.former is None else (_pieces(result, board.former),)))
    joined = tuple(line.strip() for line in bundle_lines(result))
    return Chapter("winding", "Winding and wire", pictures=pictures, tables=tables, points=joined)


def former_chapter(result: RunResult, board: Board, drawing: Markup | None) -> Chapter:
    """The board and the walk on it."""
    title = "The former, and how to wind on it"
    if board.former is None:
        return Chapter("former", title, points=tuple(f"No former: {reason}" for reason in board.reasons))
    picture = () if drawing is None else (Picture("picture-former", "The former", FULL_SIZE, (drawing,), "house"),)
    return Chapter("former", title, pictures=picture, points=tuple(how_to_wind(result, board.former)))


def meter_chapter(result: RunResult) -> Chapter:
    """What the finished winding must show on the bench."""
    headings, rows = meter_table(result)
    table = Table("What your meter should read", headings, tuple(rows), note=meter_caption(result))
    return Chapter("meter", "What your meter should read", tables=(table,))


def _wire_facts(result: RunResult) -> Table:
    design, copper, metre = result.design, result.impedance, wire_metre(result.design.wire)
    kind = "bundle" if design.wire.kind == "litz" else "wire"
    mass = plain(1000 * metre.mass_kg, "g")
    rows = (
        (f"{kind} over everything", plain(1000 * design.wire.overall_diameter_m, "mm"), "what packs"),
        (f"one metre of {kind}", plain(metre.resistance_20c_ohm, "ohm"), f"at 20 C; {mass} of copper"),
        ("in each phase", plain(copper.conductor_length_m, "m"), f"{result.lay.rounds_per_phase} rounds, links apart"),
        ("copper in all", weight(copper.copper_mass_kg), "as wound"),
    )
    return Table("Wire", (), rows)


def _pieces(result: RunResult, former: Former) -> Table:
    wires = wire_list(result, former)
    headings, rows = piece_table(wires)
    return Table("What to cut", headings, rows, note=" ".join(wire_notes(result, wires)))
