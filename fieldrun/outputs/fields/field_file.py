"""`field.json` and the folder: what was written, on which scales, and the numbers that the pictures show."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from fieldrun import __version__
from fieldrun.design.arrays import Floats
from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.fields.field_set import FieldSet
from fieldrun.outputs.fields.told import Peak, difference_of, notes, peak_of, sentences
from fieldrun.outputs.file_names import FIELD_FILE, FIELD_FILES
from fieldrun.outputs.folder import record_text, replaced_by, whole_folder, write_text
from fieldrun.outputs.result_file import about

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""


def field_dict(fields: FieldSet, files: list[str]) -> dict[str, Any]:
    """The record's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    result, grid = fields.result, fields.grid
    content = {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": result.design.name,
        "design": json.loads(result.design.written),
        "design_hash": result.design_hash,
        "mesh": about(result)["mesh"],
        "error_estimate_percent": result.accuracy.error_estimate_percent,
        "told": sentences(fields),
        "notes": [*result.design.notes, *notes(fields)],
        "grid": {
            "radii_mm": _ends(grid.radii_m / MM),
            "angles_deg": _ends(grid.angles_rad / DEGREE),
            "heights_mm": _ends(grid.heights_m / MM),
            "points": grid.points,
            "peak": _peak(peak_of(grid)),
        },
        "harmonics": _harmonics(fields),
        "scales": _scales(fields),
        "files": sorted(files),
    }
    difference = difference_of(fields)
    if fields.other is None or difference is None:
        return content
    other = {
        "name": fields.other.design.name,
        "design": json.loads(fields.other.design.written),
        "design_hash": fields.other.design_hash,
        "peak": _peak(peak_of(grid, difference[2])),
        "rms_t": float(np.sqrt(np.mean(difference[2] ** 2))),
    }
    return content | {"other": other}


def _ends(values: Floats) -> dict[str, float]:
    return {"start": float(values[0]), "stop": float(values[-1]), "count": len(values)}


def _peak(peak: Peak) -> dict[str, float]:
    return {
        "b_z_t": peak.b_z_t,
        "r_mm": peak.radius_m / MM,
        "theta_deg": peak.angle_rad / DEGREE,
        "z_mm": peak.height_m / MM,
    }


def _harmonics(fields: FieldSet) -> dict[str, Any]:
    found = fields.harmonics
    rows = [
        {"r_mm": float(radius) / MM, "b_z_t": {str(n): float(b) for n, b in zip(found.orders, row, strict=True)}}
        for radius, row in zip(found.radii_m, found.b_z_t, strict=True)
    ]
    return {"z_mm": found.height_m / MM, "radii": rows}


def _scales(fields: FieldSet) -> dict[str, float]:
    """Ends of the pictures' scales: the gap's and the difference's lie on either side of zero."""
    scales = {
        "gap_t": fields.gap_top_t,
        "over_height_t": fields.height_top_t,
        "section_t": fields.section_top_t,
    }
    return scales if fields.other is None else scales | {"difference_t": fields.difference_top_t}


def field_text(content: Mapping[str, Any]) -> str:
    """The file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(content)


def write_fields(
    fields: FieldSet, folder: Path, *, pictures: bool = True, swept: bool = False, solid: bool = False
) -> dict[str, Any]:
    """Write all files into a folder, beside what other commands left there of the same design; all or nothing.

    Parameters
    ----------
    fields : what to tell
    folder : where
    pictures : draw maps, cuts and bars
    swept, solid : write the rings over a pole pair, and tetrahedra, which must be solved for it

    Returns
    -------
    The content of `field.json`.

    Raises
    ------
    FieldrunError
        If the folder cannot be written, or the solid model finds no solution.
    """
    from fieldrun.outputs.fields.figures import draw_all
    from fieldrun.outputs.fields.tables import write_space, write_tables

    with whole_folder(folder, lambda: replaced_by(FIELD_FILES, folder, fields.result.design.name)) as part:
        write_tables(fields, part)
        write_space(fields.result, fields.view, part, swept=swept, solid=solid)
        if pictures:
            draw_all(fields, part)
        content = field_dict(fields, [FIELD_FILE, *(path.name for path in part.iterdir())])
        write_text(part / FIELD_FILE, field_text(content))
    return content
