"""`verify.json` and its pictures: the comparison for programs and for the wall. Keys carry units."""

import json
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.units import KRPM, MM
from fieldrun.outputs.file_names import VERIFY_FILE, VERIFY_FILES
from fieldrun.outputs.folder import record_text, replaced_by, whole_folder, write_text
from fieldrun.outputs.verify_table import verdict
from fieldrun.studies.verify import Absence, Answer, Comparison, difference_percent

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""


def verify_dict(comparison: Comparison) -> dict[str, Any]:
    """The file's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    judge = comparison.judge
    return {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": comparison.design.name,
        "design": json.loads(comparison.design.written),
        "design_hash": comparison.design_hash,
        "notes": list(comparison.design.notes),
        "mean_radius_mm": comparison.mean_radius_m / MM,
        "height_mm": comparison.height_m / MM,
        "winding_radii_mm": [radius / MM for radius in comparison.winding_radii_m],
        "magnet_radii_mm": [radius / MM for radius in comparison.magnet_radii_m],
        "rounds_per_phase": comparison.rounds_per_phase,
        "default": comparison.default.key,
        "best": comparison.best.key,
        "judged": judge is not None,
        "holds": comparison.holds,
        "allowed_percent": comparison.allowed_percent,
        "verdict": verdict(comparison),
        "ways": [_row(row, comparison.best) for row in comparison.rows],
    }


def _row(row: Answer | Absence, best: Answer) -> dict[str, Any]:
    if isinstance(row, Absence):
        return {"key": row.key, "name": row.name, "reason": row.reason}
    emf = row.emf_per_round_v_s_per_rad
    off = {
        "emf_difference_percent": difference_percent(emf, best.emf_per_round_v_s_per_rad),
        "b1_difference_percent": difference_percent(row.b1_t, best.b1_t),
    }
    return {
        "key": row.key,
        "name": row.name,
        "leaves_out": row.leaves_out,
        "b1_t": row.b1_t,
        "emf_per_round_rms_v_s_per_rad": emf,
        "emf_per_round_rms_v_per_krpm": emf * KRPM,
        **{key: percent for key, percent in off.items() if percent is not None},
        "time_s": row.time_s,
        "radius_mm": (row.radii_m / MM).tolist(),
        "b1_over_radius_t": row.b1_over_radius_t.tolist(),
    }


def verify_text(comparison: Comparison) -> str:
    """The file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(verify_dict(comparison))


def write_verify(comparison: Comparison, folder: Path, *, pictures: bool = True) -> None:
    """Write the comparison into a folder, beside what a run of the same design left there; all of it or nothing.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    with whole_folder(folder, lambda: replaced_by(VERIFY_FILES, folder, comparison.design.name)) as part:
        write_text(part / VERIFY_FILE, verify_text(comparison))
        if pictures:
            _draw(comparison, part)


def _draw(comparison: Comparison, folder: Path) -> None:
    from fieldrun.outputs.style import save_figure
    from fieldrun.outputs.verify_picture import verify_picture

    facts = {
        "design": comparison.design.name,
        "design_hash": comparison.design_hash,
        "verdict": " ".join(verdict(comparison)),
    }
    save_figure(verify_picture(comparison), folder, "verify", facts)
