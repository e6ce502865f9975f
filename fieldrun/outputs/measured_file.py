"""`measured.json` and its pictures: bench readings beside the prediction, for programs. Keys carry units."""

import json
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.errors import visible
from fieldrun.design.readings import KINDS, Reading
from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.file_names import MEASURED_FILE, MEASURED_FILES
from fieldrun.outputs.folder import record_text, replaced_by, whole_folder, write_text
from fieldrun.outputs.measured_told import verdict
from fieldrun.outputs.measured_words import explained
from fieldrun.outputs.result_file import about
from fieldrun.studies.measured.fits import Fit
from fieldrun.studies.measured.ranking import Explanation
from fieldrun.studies.measured.scan import ScanFit
from fieldrun.studies.measured.study import Measured

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""

UNIT_KEYS = {"V": "v", "A": "a", "ohm": "ohm"}


def measured_dict(found: Measured) -> dict[str, Any]:
    """The file's content as plain dicts, lists, numbers and text; a key that does not apply is absent."""
    result = found.bench.result
    content: dict[str, Any] = {
        "schema": SCHEMA,
        "name": result.design.name,
        **{key: value for key, value in about(result).items() if key != "design"},
        "fieldrun": __version__,
        "design": json.loads(result.design.written),
        "readings": visible(Path(found.readings_file).name),
        "verdict": verdict(found),
        "agrees": found.agrees,
        "contradicts": found.contradicts,
        "noise_percent": 100 * found.bench.noise,
        "noise_assumed": found.bench.noise_assumed,
        "rows": _rows(found),
        "explanations": [_explanation(one, found) for one in found.explanations],
        "not_told_apart": [
            {"key": other.explanation.key, **({} if other.telling is None else {"measure": other.telling})}
            for other in found.alternatives
        ],
        "fits_suppose": found.fitted.key,
        "not_seen": [guess.key for guess in found.unseen],
    }
    if found.odd is not None:
        content["odd_reading_line"] = found.bench.rows[found.odd.row].line
    if found.gap is not None:
        content["gap"] = _fit(found.gap, "mm", MM)
    if found.remanence is not None:
        content["remanence"] = _fit(found.remanence, "t", 1.0)
    if found.both is not None:
        content["gap_and_remanence"] = _both(found)
    if found.scan is not None:
        content["scan"] = {"file": visible(Path(found.scan_file).name), **_scan(found.scan)}
    return content


def _rows(found: Measured) -> list[dict[str, Any]]:
    bench, best = found.bench, found.best
    columns = (bench.rows, bench.as_drawn, bench.ratio, bench.used, best.predicted, bench.sigma)
    return [
        {
            "line": row.line,
            "kind": row.kind,
            **_when(row),
            f"measured_{UNIT_KEYS[KINDS[row.kind]]}": row.value,
            f"predicted_{UNIT_KEYS[KINDS[row.kind]]}": float(should),
            "ratio": float(ratio),
            "used": bool(used),
            f"explained_{UNIT_KEYS[KINDS[row.kind]]}": float(there),
            "error_percent": 100 * float(sigma),
        }
        for row, should, ratio, used, there, sigma in zip(*columns, strict=True)
    ]


def _when(row: Reading) -> dict[str, float]:
    speed = {row.speed_in: row.speed} if row.speed_in else {}
    return speed | ({} if row.temperature_c is None else {"temperature_c": row.temperature_c})


def _explanation(one: Explanation, found: Measured) -> dict[str, Any]:
    free: dict[str, Any] = {}
    if one.gap is not None:
        free["gap"] = _fit(one.gap, "mm", MM)
    if one.remanence is not None:
        free["remanence"] = _fit(one.remanence, "t", 1.0)
    if one.ohm_ratio is not None:
        free["ohm_ratio"] = one.ohm_ratio
    return {
        "key": one.key,
        "text": explained(one, found),
        "score": one.score,
        "chi_square": one.chi_square,
        "left_percent": one.left_percent,
        "explains": one.explains,
        **free,
    }


def _fit(fit: Fit, unit: str, scale: float) -> dict[str, Any]:
    numbers = {"value": fit.value, "error": fit.error, "drawn": fit.drawn}
    return {f"{key}_{unit}": value / scale for key, value in numbers.items()} | {"at_edge": fit.at_edge}


def _both(found: Measured) -> dict[str, Any]:
    both = found.both
    if both is None:
        return {}
    told = {
        "told_apart": both.told_apart,
        "correlation": both.correlation,
        "condition": both.condition,
        "gap_mm_per_percent_remanence": both.exchange_m / MM,
    }
    scaled = {
        "gap_mm": (both.gap_m, MM),
        "gap_error_mm": (both.gap_error_m, MM),
        "remanence_t": (both.remanence_t, 1.0),
        "remanence_error_t": (both.remanence_error_t, 1.0),
    }
    return told | {key: value / unit for key, (value, unit) in scaled.items() if value is not None}


def _scan(scan: ScanFit) -> dict[str, Any]:
    return {
        "points": len(scan.points),
        "turned_deg": scan.turned_rad / DEGREE,
        "strength_ratio": scan.strength,
        "left_percent": 100 * scan.left_share,
        "point_error_t": scan.sigma,
        "predicted_t": scan.as_drawn.tolist(),
    }


def measured_text(found: Measured) -> str:
    """The file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(measured_dict(found))


def write_measured(found: Measured, folder: Path, *, pictures: bool = True) -> None:
    """Write the study into a folder, beside what other commands left there of the same design; all or nothing.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    with whole_folder(folder, lambda: replaced_by(MEASURED_FILES, folder, found.bench.result.design.name)) as part:
        write_text(part / MEASURED_FILE, measured_text(found))
        if pictures:
            _draw(found, part)


def _draw(found: Measured, folder: Path) -> None:
    from fieldrun.outputs.measured_picture import measured_picture
    from fieldrun.outputs.style import save_figure

    facts = about(found.bench.result) | {"verdict": " ".join(verdict(found))}
    save_figure(measured_picture(found), folder, "measured", facts)
    if found.scan is not None:
        from fieldrun.outputs.scan_picture import scan_picture

        save_figure(scan_picture(found.scan, found.bench.result.field_map), folder, "scan", facts)
