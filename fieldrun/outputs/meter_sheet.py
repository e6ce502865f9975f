"""What the builder's meter should read: a few rows to hold beside the winding on the bench."""

from collections.abc import Sequence
from typing import Any

from fieldrun.design.units import RPM
from fieldrun.generator.emf import rms
from fieldrun.generator.metering import average_reading, between_leads, lines, open_dc_v, peak
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.sentences import plain
from fieldrun.studies.measured.rounds import one_round

DRILL_RPM = 200.0
"""A cordless drill in its low gear: what a first round is turned with."""

MOST_SPEEDS = 4
"""Columns of the sheet."""


def sheet_speeds(result: RunResult) -> tuple[float, ...]:
    """A drill's speed and the first of the asked ones [rpm]."""
    return tuple(sorted({DRILL_RPM, *asked_speeds(result.design)[: MOST_SPEEDS - 1]}))


def meter_dict(result: RunResult) -> dict[str, Any]:
    """The result file's `meter` table."""
    winding, ohm = result.design.winding, result.impedance.resistance_20c_ohm
    alone = float(rms(one_round(result)))
    return {
        "phase_20c_ohm": ohm,
        "between_leads_20c_ohm": ohm * between_leads(winding.connection, winding.phases),
        "points": [_point(result, alone, speed) for speed in sheet_speeds(result)],
    }


def _point(result: RunResult, round_v_s: float, rpm: float) -> dict[str, float]:
    emf, speed, design = result.emf, rpm * RPM, result.design
    connection, load = design.winding.connection, design.load
    return {
        "speed_rpm": rpm,
        "frequency_hz": emf.pole_pairs * rpm / 60,
        "one_round_rms_v": round_v_s * speed,
        "phase_rms_v": float(emf.rms[0]) * speed,
        "phase_average_v": float(average_reading(emf.orders, emf.amplitudes[0])) * speed,
        "line_rms_v": float(rms(lines(emf.amplitudes, connection))[0]) * speed,
        "phase_peak_v": float(peak(emf.orders, emf.amplitudes[0])) * speed,
        "open_dc_v": open_dc_v(emf.orders, emf.amplitudes, connection, load, speed),
    }


def meter_table(result: RunResult) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows: what to read at which speed."""
    points = meter_dict(result)["points"]

    def row(name: str, key: str, scale: float = 1.0) -> tuple[str, ...]:
        return (name, *(plain(scale * point[key]) for point in points))

    rows = [
        row("hertz", "frequency_hz"),
        row("one round, mV effective", "one_round_rms_v", 1000.0),
        row("phase, V effective", "phase_rms_v"),
        row("  on a meter that averages", "phase_average_v"),
        *([row("between lines, V effective", "line_rms_v")] if _has_lines(result) else []),
        row("phase, V peak", "phase_peak_v"),
        row("DC behind the bridge, V", "open_dc_v"),
    ]
    return ("your meter should read", *(f"{point['speed_rpm']:g} rpm" for point in points)), rows


def _has_lines(result: RunResult) -> bool:
    return result.design.winding.phases > 1 and result.design.winding.connection != "separate"


def meter_caption(result: RunResult) -> str:
    """Ohms, and what the sheet takes for granted."""
    winding, ohm = result.design.winding, result.impedance.resistance_20c_ohm
    leads = between_leads(winding.connection, winding.phases)
    between = f", between two leads in {winding.connection} {plain(leads * ohm, 'ohm')}" if _has_lines(result) else ""
    return (
        f"All with nothing connected. A phase has {plain(ohm, 'ohm')} at 20 C{between}. "
        "`fieldrun measured` tells what other readings mean."
    )


def meter_lines(result: RunResult) -> Sequence[str]:
    """The sheet as lines of text."""
    headings, rows = meter_table(result)
    widths = [max(len(row[i]) for row in [headings, *rows]) for i in range(len(headings))]
    table = [
        "  ".join(
            cell.ljust(width) if i == 0 else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        for row in [headings, *rows]
    ]
    return [*(line.rstrip() for line in table), meter_caption(result)]
