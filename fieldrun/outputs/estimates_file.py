"""`estimates.json`, `estimates.csv` and the picture: quick estimates against finite elements."""

import csv
import io
import json
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.generator.accuracy import FLOOR_PERCENT
from fieldrun.outputs.estimates_told import arrangement, region_words, verdict
from fieldrun.outputs.file_names import ESTIMATES_FILE, ESTIMATES_FILES
from fieldrun.outputs.folder import comment_lines, record_text, replaced_by, whole_folder, write_text
from fieldrun.studies.estimates_map.judge import Outcome, Unfit
from fieldrun.studies.estimates_map.region import Region
from fieldrun.studies.estimates_map.study import EstimatesMap

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""

TABLE = "estimates.csv"


def estimates_dict(found: EstimatesMap) -> dict[str, Any]:
    """The file's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    axes, point = found.axes, found.own_point
    return {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": found.design.name,
        "design": json.loads(found.design.written),
        **{key: value for key, value in about_estimates(found).items() if key not in {"fieldrun", "design"}},
        "notes": list(found.design.notes),
        "arrangement": arrangement(found),
        "steel": found.steel,
        "gap_is": "gap" if found.pattern.rotor.gap_m is not None else "twice the winding's height",
        "height_over_gap": found.pattern.height_share,
        "pole_pitch_mm": 1e3 * found.pattern.pole_pitch_m,
        "winding": found.winding.shape,
        "allowed_percent": found.allowed_percent,
        "verdict": verdict(found),
        "grid": {
            "gap_over_pitch": list(axes.gaps),
            "thickness_over_pitch": list(axes.thicknesses),
            "share": list(axes.shares),
        },
        "yours": {"gap_over_pitch": point.gap, "thickness_over_pitch": point.thickness, "share": point.share},
        "estimates": [_row(row, found) for row in found.rows],
    }


def about_estimates(found: EstimatesMap) -> dict[str, Any]:
    """What every file of the study carries."""
    return {
        "fieldrun": __version__,
        "design": found.design.name,
        "design_hash": found.design_hash,
        "mesh": "rings and flat sections, elements of second order, standard density",
        "error_estimate_percent": round(found.numerical_percent + FLOOR_PERCENT, 3),
    }


def _row(row: Outcome | Unfit, found: EstimatesMap) -> dict[str, Any]:
    names = {"key": row.label.key, "name": row.label.name, "of": row.label.quantity}
    if isinstance(row, Unfit):
        return names | {"reason": row.reason}
    flat = row.flat_median_percent
    return names | {
        "leaves_out": row.label.leaves_out,
        "median_percent": row.median_percent,
        **({} if flat is None else {"flat_median_percent": flat}),
        "worst_percent": row.worst_percent,
        "share_within": row.share_within,
        "yours_percent": row.own_error_percent,
        "holds": region_words(row.region, found),
        **({} if row.region is None else {"region": _region(row.region)}),
    }


def _region(region: Region) -> dict[str, Any]:
    ends = {"gap_over_pitch": region.gap, "thickness_over_pitch": region.thickness, "share": region.share}
    limits = {
        f"{key}_{side}": value
        for key, pair in ends.items()
        for side, value in zip(("from", "to"), pair, strict=True)
        if value is not None
    }
    return limits | {"machines": region.machines}


def estimates_text(found: EstimatesMap) -> str:
    """The JSON file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(estimates_dict(found))


def table_text(found: EstimatesMap) -> str:
    """Every machine a line, the design's own last; facts in comments at its top."""
    out = io.StringIO()
    out.writelines(comment_lines(about_estimates(found)))
    out.write(f"# arrangement: {arrangement(found)}\n")
    truth, rows = found.truth, found.outcomes
    units = {"field": "t", "emf": "v_s_per_rad"}
    wide = [(f"{row.label.key}_{units[row.label.quantity]}", f"{row.label.key}_error_percent") for row in rows]
    table = csv.writer(out, lineterminator="\n")
    table.writerow(
        [
            *("gap_over_pitch", "thickness_over_pitch", "share", "yours"),
            *("b1_rings_t", "b1_section_t", "emf_rings_v_s_per_rad"),
            *(name for pair in wide for name in pair),
        ]
    )
    for index, point in enumerate((*found.axes.points, found.own_point)):
        own = index == len(found.axes.points)
        exact = (truth.b1_t[index], truth.flat_b1_t[index], truth.emf_v_s_per_rad[index])
        cells = [number for row in rows for number in _numbers(row, None if own else index)]
        ratios = (point.gap, point.thickness, point.share)
        table.writerow([*map(_written, ratios), int(own), *map(_written, (*exact, *cells))])
    return out.getvalue()


def _numbers(row: Outcome, index: int | None) -> tuple[float, float]:
    if index is None:
        return row.own_value, row.own_error_percent
    return float(row.values[index]), float(row.errors_percent[index])


def _written(number: float) -> str:
    return f"{number:.9g}"


def write_estimates(found: EstimatesMap, folder: Path, *, pictures: bool = True) -> None:
    """Write the study into a folder, beside what other commands left there of the same design; all of it or nothing.

    A grid of one gap or one thickness has no map to draw.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    with whole_folder(folder, lambda: replaced_by(ESTIMATES_FILES, folder, found.design.name)) as part:
        write_text(part / ESTIMATES_FILE, estimates_text(found))
        write_text(part / TABLE, table_text(found))
        if pictures and min(found.axes.shape[1:]) > 1:
            _draw(found, part)


def _draw(found: EstimatesMap, folder: Path) -> None:
    from fieldrun.outputs.estimates_picture import estimates_picture
    from fieldrun.outputs.style import save_figure

    save_figure(
        estimates_picture(found), folder, "estimates", about_estimates(found) | {"verdict": " ".join(verdict(found))}
    )
