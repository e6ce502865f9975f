"""The report's numbers as plain tables: a few lines of comment that say where they come from, then columns."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from fieldrun.design.units import RPM
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.folder import comment_lines
from fieldrun.outputs.result_file import about
from fieldrun.outputs.summary import table_rows


def csv_tables(result: RunResult, content: Mapping[str, Any]) -> dict[str, str]:
    """Every table that applies, by the name of its file.

    Parameters
    ----------
    result : the answer
    content : the result file's content
    """
    tables = {
        "numbers.csv": _text(result, ("name", "value", "remark"), table_rows(result, content["field"])),
        "waveform.csv": _waveform(result),
        "harmonics.csv": _harmonics(result, content),
    }
    points = content["output"].get("points")
    if points:
        tables["points.csv"] = _text(result, tuple(points[0]), [tuple(point.values()) for point in points])
    return tables | _power(result)


def _text(
    result: RunResult, columns: Sequence[str], rows: Sequence[Sequence[object]], more: Mapping[str, str] | None = None
) -> str:
    out = io.StringIO()
    facts = {**about(result), **(more or {})}
    out.writelines(comment_lines(facts))
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def _waveform(result: RunResult) -> str:
    """Open-circuit volts of every phase over one electrical period at the highest asked speed."""
    speed, emf = asked_speeds(result.design)[-1], result.emf
    degrees = np.degrees(emf.rotor_angle_rad)
    volts = emf.waveform * speed * RPM
    columns = ("rotor_angle_deg", "electrical_angle_deg", *(f"phase_{k + 1}_v" for k in range(len(volts))))
    rows = np.vstack([degrees, degrees * emf.pole_pairs, volts]).T.tolist()
    return _text(result, columns, rows, {"speed_rpm": f"{speed:g}"})


def _harmonics(result: RunResult, content: Mapping[str, Any]) -> str:
    field, emf = content["field"]["harmonics_t"], content["emf"]["harmonics_v_s_per_rad"]
    return _text(result, ("order", "field_t", "emf_v_s_per_rad"), [(order, field[order], emf[order]) for order in emf])


def _power(result: RunResult) -> dict[str, str]:
    """The machine in steady winds, in the fine steps it was computed in."""
    wind = result.wind
    if wind is None or wind.fed is None:
        return {}
    curve = wind.fed.curve
    columns = {
        "wind_m_s": curve.wind_m_s,
        "rotor_w": curve.rotor_w,
        "drag_w": curve.drag_w,
        "dc_w": curve.dc_w,
        "generator_rpm": wind.rotor.gear_ratio * curve.speed_rad_s / RPM,
        "phase_rms_a": curve.phase_rms_a,
        "tip_speed_ratio": curve.tip_speed_ratio,
        "power_coefficient": curve.cp,
    }
    rows = np.column_stack(list(columns.values())).tolist()
    return {"power-curve.csv": _text(result, tuple(columns), rows)}
