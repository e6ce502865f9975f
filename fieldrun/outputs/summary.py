"""The answer in the builder's words: sentences first, then one table."""

import math
from typing import Any

from fieldrun.design.units import KRPM, MM, RPM
from fieldrun.field.ring_field import SteelReport
from fieldrun.generator.remarks import peak_place
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.bundle_words import bundle_rows, bundle_sentences
from fieldrun.outputs.gap_told import gap_rows
from fieldrun.outputs.handling import handling_caution, pull_rows
from fieldrun.outputs.inductance_told import inductance_rows
from fieldrun.outputs.load_told import load_sentences, motor_rows
from fieldrun.outputs.load_words import begins
from fieldrun.outputs.losses_told import loss_rows
from fieldrun.outputs.sentences import listed, plain, weight
from fieldrun.outputs.wind_told import charging_wind, runaway_caution, wind_rows, wind_sentences
from fieldrun.reference.estimates import Estimate

HOPELESS_PERCENT = 100.0
"""An estimate farther off than this is told to fail, not by how much."""

FASTEST_RPM = 1e5
"""No disc this size turns faster: what is told beyond is told in two figures."""

CAUTION = (
    "Caution: strong magnets crush fingers, a rotor at overspeed can burst, and its open-circuit voltage can be "
    "dangerous. Local codes and licensed practice decide; this is arithmetic, not approval."
)


def cautions(result: RunResult) -> list[str]:
    """What must be read before anything is built."""
    told = (handling_caution(result.forces, result.design.rotor), runaway_caution(result), CAUTION)
    return [text for text in told if text]


def sentences(result: RunResult) -> list[str]:
    """What a builder wants to know first, one sentence each."""
    told = [
        _volts(result),
        _copper(result),
        _charging(result),
        *load_sentences(result),
        *wind_sentences(result),
        _rim(result),
    ]
    return [sentence for sentence in told if sentence] + bundle_sentences(result, asked_speeds(result.design))


def _volts(result: RunResult) -> str:
    speeds = asked_speeds(result.design)
    rms = float(result.emf.rms[0])
    parts = [f"{plain(rms * speed * RPM, 'V')} at {speed:g} rpm" for speed in speeds]
    each = "the winding gives" if result.design.winding.phases == 1 else "each phase gives"
    line = ""
    if result.design.winding.phases == 3 and result.design.winding.connection == "star":
        line = f"; between two lines {plain(result.emf.line_rms * speeds[-1] * RPM, 'V')} at {speeds[-1]:g} rpm"
    return f"With nothing connected {each} {listed(parts)} (effective value, as a meter on AC shows it{line})."


def _copper(result: RunResult) -> str:
    phases, copper = result.design.winding.phases, result.impedance
    each = "It takes" if phases == 1 else f"Each of the {phases} phases takes"
    rounds = result.lay.rounds_per_phase
    return (
        f"{each} {rounds} round{'s' if rounds > 1 else ''}, {plain(copper.conductor_length_m, 'm')} of wire, and has "
        f"{plain(copper.resistance_20c_ohm, 'ohm')} cold ({plain(copper.resistance_hot_ohm, 'ohm')} at "
        f"{result.design.wire.temperature_c:g} C); the copper weighs {weight(copper.copper_mass_kg)} in all."
    )


def _charging(result: RunResult) -> str:
    speed, load = result.charging_starts_rad_s, result.design.load
    if speed is None or load is None or load.voltage_v is None:
        return ""
    wind = charging_wind(result.wind)
    return f"{begins(load)} at {_rpm(speed / RPM)} rpm{wind}."


def _rpm(value: float) -> str:
    """Whole revolutions, and two figures in plain digits where no machine turns."""
    if 10 <= value < FASTEST_RPM:
        return f"{value:.0f}"
    figures = f"{value:.1e}"
    return f"{float(figures):.{max(0, 1 - int(figures.split('e')[1]))}f}"


def _rim(result: RunResult) -> str:
    rim, winding = result.lay.rim_m_per_phase, result.design.winding
    if rim is None or result.rescue is not None:  # its warning tells where to stop instead
        return ""
    belts = f"{winding.belts} belts" if winding.belts > 1 else ""
    layers = f"{winding.layers} layers" if winding.layers > 1 else ""
    where = " of each of ".join(part for part in (belts, layers) if part)
    each = f" in each of its {where}" if where else ""
    return f"Stop after {rim / MM:.1f} mm of the inner rim per phase{each}."


def table_rows(result: RunResult, field: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Rows of label, value and remark.

    Parameters
    ----------
    result : the answer
    field : the result file's `field` table
    """
    emf, copper, laid = result.emf, result.impedance, result.lay
    rows = [
        ("EMF per phase", f"{plain(float(emf.rms[0]) * KRPM, 'V')} per 1000 rpm", _how_sure(result)),
        ("distortion", plain(emf.thd_percent, "%"), "share of the harmonics in the fundamental"),
        ("rounds per phase", str(laid.rounds_per_phase), _side_by_side(laid.rounds_per_group)),
        ("wire per phase", plain(copper.conductor_length_m, "m"), "links between turns not counted"),
        ("resistance per phase", plain(copper.resistance_20c_ohm, "ohm"), "at 20 C"),
        *inductance_rows(result),
        ("copper in all", weight(copper.copper_mass_kg), ""),
        (
            "winding thickness",
            plain(laid.thickness_m / MM, "mm"),
            _sheets(result),
        ),
        *gap_rows(result),
        *bundle_rows(result),
        ("winding factor", plain(result.factors.total, ""), "EMF over that of radial legs all on one line"),
        ("field at the winding", plain(field["peak_t"], "T"), "largest, at mid-copper and mean radius"),
        ("its fundamental", plain(field["b1_mean_radius_t"], "T"), "finite elements"),
        *(_estimate_row(e, field["b1_mean_radius_t"]) for e in result.estimates),
    ]
    rows += [(f"field in the {disc.name}", plain(disc.peak_t, "T"), _peak(disc)) for disc in result.field.rings.steel]
    return (
        rows
        + loss_rows(result)
        + motor_rows(result)
        + pull_rows(result.forces, result.design.rotor)
        + wind_rows(result)
    )


def _peak(disc: SteelReport) -> str:
    return f"largest, {peak_place(disc)}"


def _how_sure(result: RunResult) -> str:
    percent = f"{result.accuracy.error_estimate_percent:.1g} %"
    return f"effective, open circuit; computed to {percent}, for a machine exactly as stated"


def _sheets(result: RunResult) -> str:
    """Sheets of wire, and why they are more than the layers that the design asks for."""
    laid, winding = result.lay, result.design.winding
    crossed = laid.sheets == 2 * winding.layers and winding.shape != "path"
    why = ": legs that cross take two a layer" if crossed else ""
    return f"{laid.sheets} sheet{'s' if laid.sheets > 1 else ''} of wire{why}"


def _side_by_side(rounds: int) -> str:
    return f"{rounds} side by side" if rounds > 1 else ""


def _estimate_row(estimate: Estimate, found_t: float) -> tuple[str, str, str]:
    off = "" if found_t == 0 else _off(100 * (estimate.b1_t / found_t - 1))
    return (f"  by {estimate.name}", plain(estimate.b1_t, "T"), f"{off}  {estimate.leaves_out}".strip())


def _off(percent: float) -> str:
    return f"{percent:+.1f} %" if abs(percent) < HOPELESS_PERCENT else "does not hold here."


def changes(earlier: dict[str, Any], now: dict[str, Any]) -> str:
    """What an edited design changed: "was ..., now ..."; empty if nothing that is told about did."""
    told = (
        ("emf", "rms_v_per_krpm", "EMF", 1, "V per 1000 rpm"),
        ("circuit", "resistance_20c_ohm", "resistance", 1, "ohm"),
        ("winding", "copper_mass_kg", "copper", 1000, "g"),
        ("output", "charging_starts_rpm", "charging from", 1, "rpm"),
    )
    parts = []
    for table, key, label, scale, unit in told:
        was, new = (_number(result.get(table), key) for result in (earlier, now))
        if was is not None and new is not None and plain(was) != plain(new):
            parts.append(f"{label} was {plain(scale * was, unit)}, now {plain(scale * new, unit)}")
    return "; ".join(parts)


def _number(table: Any, key: str) -> float | None:
    """A number of a result file, None if a file from elsewhere holds something else there."""
    value = table.get(key) if isinstance(table, dict) else None
    return value if isinstance(value, int | float) and math.isfinite(value) else None
