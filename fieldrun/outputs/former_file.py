"""What `former` leaves in a design's folder: drawings, solid, steps, wire list and a record for programs."""

import csv
import io
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.errors import MissingError
from fieldrun.design.units import DEGREE, MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.casting import Casting, casting_of
from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.drawings.dxf_file import drawing_dxf
from fieldrun.outputs.drawings.former_drawing import board_drawing
from fieldrun.outputs.drawings.magnet_drawing import both_faces, with_magnets
from fieldrun.outputs.drawings.measure_bars import with_bars
from fieldrun.outputs.drawings.pdf_page import Paper
from fieldrun.outputs.drawings.svg_file import drawing_svg
from fieldrun.outputs.file_names import FORMER_FILE, FORMER_FILES
from fieldrun.outputs.folder import record_text, replaced_by, whole_folder, write_text
from fieldrun.outputs.former_book import Printed, former_book
from fieldrun.outputs.result_file import about
from fieldrun.outputs.wire_list import WireList, wire_list
from fieldrun.winding.former import Former
from fieldrun.winding.former_outline import outline_of
from fieldrun.winding.stations import PHASE_LETTERS, Station
from fieldrun.winding.steps import steps_of

SCHEMA = 1
"""Number of the record's layout; it grows when a key changes its meaning."""

DIGITS = 9
"""Decimals of a step's length [mm], so that thousands of them still add up."""


def write_former(result: RunResult, former: Former, folder: Path, paper: Paper) -> tuple[Printed, str]:
    """Write all files into a folder, beside what a run of the same design left there; all of them or nothing.

    Without gmsh the solids are left out, and only they.

    Returns
    -------
    The PDF, and what kept the solids from being made, empty if they are there.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    wires, facts = wire_list(result, former), about(result)
    printed = former_book(result, former, wires, paper)
    with whole_folder(folder, lambda: replaced_by(FORMER_FILES, folder, result.design.name)) as part:
        (part / "former.pdf").write_bytes(printed.content)
        _drawings(result, former, part, tuple(facts.items()))
        write_text(part / "winding-steps.csv", steps_csv(result, former))
        write_text(part / "wire-list.csv", wire_csv(result, wires))
        missing = _solids(former, part, facts)
        write_text(part / FORMER_FILE, former_text(result, former, printed))
    return printed, missing


def _drawings(result: RunResult, former: Former, part: Path, facts: tuple[tuple[str, str], ...]) -> None:
    board = board_drawing(former, result.lay, result.design, facts)
    magnets = both_faces(result.design, facts)
    write_text(part / "former.svg", drawing_svg(with_bars(board)))
    write_text(part / "former_mm.dxf", drawing_dxf(board))
    write_text(part / "magnets.svg", drawing_svg(with_bars(magnets)))
    write_text(part / "magnets_mm.dxf", drawing_dxf(magnets))
    write_text(part / "overlay.svg", drawing_svg(with_bars(with_magnets(board, result.design))))


def _solids(former: Former, part: Path, facts: dict[str, str]) -> str:
    from fieldrun.outputs.drawings.plate_solid import write_plate
    from fieldrun.outputs.drawings.skin import stl_bytes

    said = one_line("; ".join(f"{key} {value}" for key, value in facts.items()), 400)
    said = said.encode("ascii", "replace").decode()
    try:
        skin = write_plate(outline_of(former, kerf=False), former.thickness_m, part / "former.step", said)
    except MissingError as error:
        return str(error)
    (part / "former.stl").write_bytes(stl_bytes(skin, f"{facts['fieldrun']} {facts['design_hash']} former, mm"))
    return ""


def steps_csv(result: RunResult, former: Former) -> str:
    """Every stretch of wire from station to station, in the order of winding."""
    loops, full = former.loops, former.plan.comb == "all"
    heading = ["step", "phase", "layer", "half", "round", "from", "to", "way", "sheet", "wires_between", "length_mm"]
    rows = [
        (
            number + 1,
            PHASE_LETTERS[loops.phase[step.loop]],
            loops.layer[step.loop] + 1,
            loops.belt[step.loop] + 1,
            loops.round[step.loop] + 1,
            step.start.label,
            step.end.label,
            step.way,
            "" if step.sheet is None else step.sheet,
            0 if full else loops.round[step.loop],
            f"{step.length_m / MM:.{DIGITS}f}",
        )
        for number, step in enumerate(steps_of(former, result.lay))
    ]
    return _table(result, heading, rows)


def wire_csv(result: RunResult, wires: WireList) -> str:
    """Every piece to cut; `cut_m` is exact, `measure_off_m` rounded up."""
    heading = ["phase", "piece", "conductor_m", "links_m", "tails_m", "spare_m", "cut_m", "measure_off_m"]
    rows = [
        (
            cut.phase,
            cut.piece,
            *(f"{length:.12g}" for length in (cut.conductor_m, cut.links_m, cut.tails_m, cut.spare_m, cut.cut_m)),
            f"{cut.measured_m:g}",
        )
        for cut in wires.cuts
    ]
    return _table(result, heading, rows)


def _table(result: RunResult, heading: list[str], rows: Iterable[tuple[Any, ...]]) -> str:
    text = io.StringIO()
    for key, value in about(result).items():
        text.write(f"# {key}: {one_line(value, 400)}\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([heading, *rows])
    return text.getvalue()


def former_dict(result: RunResult, former: Former, printed: Printed) -> dict[str, Any]:
    """The record's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    wires, casting = wire_list(result, former), casting_of(result, former)
    return {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": result.design.name,
        "design": json.loads(result.design.written),
        "design_hash": result.design_hash,
        "about": about(result),
        "notes": list(result.design.notes),
        "board": _board(former),
        "stations": [_station(station) for station in former.stations],
        "sheets": {"paper": former.plan.sheet, "former": printed.former_sheets, "pages": printed.pages},
        "wire": _wire(wires),
        "casting": _casting(casting),
    }


def former_text(result: RunResult, former: Former, printed: Printed) -> str:
    """The record itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    content = former_dict(result, former, printed)
    return record_text(content)


def _board(former: Former) -> dict[str, Any]:
    lands = {"inner": former.inner_land_m, "outer": former.outer_land_m, "corner": former.corner_land_m}
    return {
        "ends": former.plan.ends,
        "comb": former.plan.comb,
        "notch_mm": former.notch_m / MM,
        "notch_length_mm": former.slot_m / MM,
        "outer_diameter_mm": 2 * former.outer_radius_m / MM,
        "hub_hole_mm": 2 * former.hub_radius_m / MM,
        "inner_notches_open": former.opens,
        "thickness_mm": former.thickness_m / MM,
        "kerf_mm": former.plan.kerf_m / MM,
        "stays_in_gap": former.stays,
        "keeps_disc": former.keeps_disc,
        "hub_passes": former.hub_passes,
        "least_wood_mm": {kind: land / MM for kind, land in lands.items() if land is not None},
    }


def _station(station: Station) -> dict[str, Any]:
    x, y = station.xy_m
    return {
        "label": station.label,
        "phase": station.phase + 1,
        "kind": station.kind,
        "x_mm": x / MM,
        "y_mm": y / MM,
        "radius_mm": station.radius_m / MM,
        "angle_deg": station.angle_rad / DEGREE,
        "wires": station.wires,
    }


def _wire(wires: WireList) -> dict[str, Any]:
    table: dict[str, Any] = {
        "cuts": [
            {
                "phase": cut.phase,
                "piece": cut.piece,
                "conductor_m": cut.conductor_m,
                "links_m": cut.links_m,
                "tails_m": cut.tails_m,
                "spare_m": cut.spare_m,
                "cut_m": cut.cut_m,
                "measure_off_m": cut.measured_m,
            }
            for cut in wires.cuts
        ],
        "wire_m": wires.wire_m,
        "copper_kg": wires.copper_kg,
        "hub_passes": wires.hub_passes,
    }
    if wires.strand_passes is not None:
        table["strand_passes"] = wires.strand_passes
    if wires.bobbin is not None:
        table |= {"bobbin_mm": wires.bobbin.diameter_m / MM, "bobbin_width_mm": wires.bobbin.width_m / MM}
    return table


def _casting(casting: Casting) -> dict[str, Any]:
    table = {
        "hub_disc_mm": casting.hub_disc_m / MM,
        "across_mm": casting.across_m / MM,
        "spacer_mm": casting.spacer_m / MM,
        "resin_ml": casting.resin_m3 * 1e6,
        "resin_kg": casting.resin_kg,
        "mix_kg": casting.mix_kg,
        "inner_ends_beyond_magnets_mm": casting.beyond_m[0] / MM,
        "outer_ends_beyond_magnets_mm": casting.beyond_m[1] / MM,
    }
    return table if casting.air_m is None else table | {"air_mm": casting.air_m / MM}
