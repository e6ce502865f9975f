"""`compare.json`, `compare.csv` and the picture: windings side by side, for programs and for the wall."""

import csv
import io
import json
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.read import design_hash
from fieldrun.design.shapes import SHAPE_NUMBERS, numbers_of
from fieldrun.design.units import MM, RPM
from fieldrun.outputs.compare_told import label, ordered, power_w, speed_of, terms, verdict
from fieldrun.outputs.file_names import COMPARE_FILE, COMPARE_FILES
from fieldrun.outputs.folder import comment_lines, record_text, replaced_by, whole_folder, write_text
from fieldrun.studies.compare import WindingComparison
from fieldrun.studies.wound import Row, Wound, equal_copper_wire

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""

HAIR = 1e-9
"""Masses that differ by a smaller share are equal."""

COLUMNS = (
    "winding", "shape", "phases", "belts", "yours", "rounds_per_phase", "inner_radius_mm", "outer_radius_mm",
    *SHAPE_NUMBERS, "emf_rms_v", "resistance_hot_ohm", "conductor_length_m", "copper_mass_g",
    "emf2_over_r_w", "emf2_over_r_w_per_kg", "equal_copper_w", "equal_copper_strand_mm", "end_copper_share",
    "torque_least_over_mean", "torque_most_over_mean", "emf2_over_r_before_w", "reason",
)  # fmt: skip
"""Columns of the table, the same keys as in the JSON; what does not apply is empty."""


def compare_dict(comparison: WindingComparison) -> dict[str, Any]:
    """The file's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    space = comparison.space
    return {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": comparison.name,
        "designs": [
            {
                "name": design.name,
                "design": json.loads(design.written),
                "design_hash": design_hash(design),
                "notes": list(design.notes),
            }
            for design in comparison.designs
        ],
        "design_hash": comparison.design_hash,
        "terms": comparison.terms,
        "terms_told": terms(comparison),
        **({} if space is None else {"sheets": space.sheets, "height_mm": space.height_m / MM}),
        "speed_rpm": speed_of(comparison),
        **({"equal_copper_g": 1000 * comparison.least_copper_kg} if comparison.wound else {}),
        "verdict": verdict(comparison),
        "remarks": list(comparison.remarks),
        "windings": rows_of(comparison),
    }


def rows_of(comparison: WindingComparison) -> list[dict[str, Any]]:
    """One dict for each winding, in the order of the screen; those that cannot be laid last, with their reason."""
    laid = [_names(row) | _laid(row, comparison) for row in ordered(comparison)]
    return laid + [_names(row) | {"reason": row.reason} for row in comparison.not_wound]


def _names(row: Row) -> dict[str, Any]:
    winding = row.candidate.winding
    return {
        "winding": label(row.candidate),
        "shape": winding.shape,
        "phases": winding.phases,
        "belts": winding.belts,
        "yours": row.candidate.own,
    }


def _laid(row: Wound, comparison: WindingComparison) -> dict[str, Any]:
    merits, speed, equal = row.merits, speed_of(comparison), comparison.least_copper_kg
    squared = (speed * RPM) ** 2
    return {
        "rounds_per_phase": merits.rounds_per_phase,
        "inner_radius_mm": row.lay.inner_radius_m / MM,
        "outer_radius_mm": row.lay.outer_radius_m / MM,
        **numbers_of(row.candidate.winding),
        "emf_rms_v": merits.emf_v_s_per_rad * speed * RPM,
        "resistance_hot_ohm": merits.resistance_ohm,
        "conductor_length_m": merits.conductor_length_m,
        "copper_mass_g": 1000 * merits.copper_mass_kg,
        "emf2_over_r_w": power_w(row, speed),
        "emf2_over_r_w_per_kg": merits.power_per_kg * squared,
        **(_from_equal_copper(row, squared, equal) if equal <= merits.copper_mass_kg * (1 + HAIR) else {}),
        "end_copper_share": merits.end_copper_share,
        "torque_least_over_mean": merits.torque_least,
        "torque_most_over_mean": merits.torque_most,
        **({"emf2_over_r_before_w": row.before.power_w_s2_per_rad2 * squared} if row.before else {}),
        **({"at_edge": list(row.at_edge)} if row.before else {}),
    }


def _from_equal_copper(row: Wound, speed_squared: float, equal_kg: float) -> dict[str, Any]:
    """What thinner wire on the same path gives; lighter windings would need thicker wire, which has no room."""
    return {
        "equal_copper_w": row.merits.power_per_kg * speed_squared * equal_kg,
        "equal_copper_strand_mm": equal_copper_wire(row, equal_kg).strand_diameter_m / MM,
    }


def compare_text(comparison: WindingComparison) -> str:
    """The JSON file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(compare_dict(comparison))


def csv_text(comparison: WindingComparison) -> str:
    """The table itself, with version, design and terms in comments at its top."""
    facts = _facts(comparison) | {"terms": terms(comparison), "speed_rpm": speed_of(comparison)}
    out = io.StringIO()
    out.writelines(comment_lines(facts))
    table = csv.DictWriter(out, COLUMNS, restval="", extrasaction="ignore", lineterminator="\n")
    table.writeheader()
    table.writerows(rows_of(comparison))
    return out.getvalue()


def _facts(comparison: WindingComparison) -> dict[str, Any]:
    return {"fieldrun": __version__, "design": comparison.name, "design_hash": comparison.design_hash}


def write_compare(comparison: WindingComparison, folder: Path, *, pictures: bool = True) -> None:
    """Write the comparison into a folder, beside what other commands left there of the same design; all or nothing.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    with whole_folder(folder, lambda: replaced_by(COMPARE_FILES, folder, comparison.name)) as part:
        write_text(part / COMPARE_FILE, compare_text(comparison))
        write_text(part / "compare.csv", csv_text(comparison))
        if pictures and comparison.wound:
            _draw(comparison, part)


def _draw(comparison: WindingComparison, folder: Path) -> None:
    from fieldrun.outputs.compare_picture import compare_picture
    from fieldrun.outputs.style import save_figure

    save_figure(compare_picture(comparison), folder, "compare", _facts(comparison) | {"verdict": verdict(comparison)})
