"""`result.json`: the answer for programs. Keys carry units; what does not apply is absent; nothing is null or NaN."""

import json
import math
from typing import Any

import numpy as np

from fieldrun import __version__
from fieldrun.design.units import DEGREE, KRPM, MM, RPM
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.ring_field import SteelReport
from fieldrun.generator.machine import mean_radius_m, middle_height_m
from fieldrun.generator.rescue import Rescue
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.changes_told import changes_dict
from fieldrun.outputs.folder import record_text
from fieldrun.outputs.inductance_told import inductance_dict
from fieldrun.outputs.load_told import points_dict, torque_dict
from fieldrun.outputs.losses_told import forces_dict, heat_dict, loss_dict
from fieldrun.outputs.meter_sheet import meter_dict
from fieldrun.outputs.tolerance_told import band_dict
from fieldrun.outputs.wind_told import wind_dict
from fieldrun.outputs.wire_told import wire_dict
from fieldrun.studies.changes.study import Changes
from fieldrun.studies.tolerance import ToleranceBand

SCHEMA = 1
"""Number of the result file's layout; it grows when a key changes its meaning."""

EMF_ORDERS = (1, 3, 5, 7, 9, 11, 13, 15)
"""Harmonics that the file lists."""


def result_dict(result: RunResult, band: ToleranceBand | None = None, advice: Changes | None = None) -> dict[str, Any]:
    """The result file's content as plain dicts, lists, numbers and text.

    Parameters
    ----------
    result : the answer
    band : if tolerances were asked about
    advice : if changes were tried
    """
    content: dict[str, Any] = {
        "schema": SCHEMA,
        "fieldrun": __version__,
        "name": result.design.name,
        "design": json.loads(result.design.written),
        "design_hash": result.design_hash,
        "warnings": [{"code": warning.code, "text": warning.text} for warning in result.warnings],
        "assumptions": list(result.assumptions),
        "notes": list(result.design.notes),
        "mesh": _mesh(result),
        "field": _field(result),
        "emf": _emf(result),
        "winding": _winding(result),
        "wire": wire_dict(result, asked_speeds(result.design)),
        "circuit": {
            "resistance_20c_ohm": result.impedance.resistance_20c_ohm,
            "resistance_hot_ohm": result.impedance.resistance_hot_ohm,
            **inductance_dict(result),
            **loss_dict(result),
        },
        "heat": heat_dict(result),
        "torque": torque_dict(result),
        "meter": meter_dict(result),
        "output": _output(result, advice),
        "forces": forces_dict(result),
    }
    return content if band is None else content | {"tolerance": band_dict(band)}


def result_text(result: RunResult, band: ToleranceBand | None = None, advice: Changes | None = None) -> str:
    """The file itself.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: that must never leave the program.
    """
    return record_text(result_dict(result, band, advice))


def about(result: RunResult) -> dict[str, str]:
    """What every written file carries: version, design hash, mesh and error estimate."""
    rings, elements = result.field.rings, result.quality.elements
    return {
        "fieldrun": __version__,
        "design": result.design.name,
        "design_hash": result.design_hash,
        "mesh": f"{rings.model}, {rings.unknowns} unknowns; section, {elements} elements of second order",
        "error_estimate": f"{result.accuracy.error_estimate_percent:.2g} percent of the EMF",
    }


def _mesh(result: RunResult) -> dict[str, Any]:
    rings = result.field.rings
    return {
        "model": rings.model,
        "harmonics": len(rings.field_map.orders),
        "unknowns": rings.unknowns,
        "newton_steps": rings.newton_steps,
        "section": {
            "elements": result.quality.elements,
            "unknowns": int(result.section.basis.N),
            "least_angle_deg": result.quality.least_angle_deg,
            "newton_steps": result.section.newton_steps,
        },
    }


def _field(result: RunResult) -> dict[str, Any]:
    height, radius = middle_height_m(result.lay), mean_radius_m(result.lay)
    amplitudes = amplitudes_at(result.field_map, [radius], [height])[2][:, 0]
    theta = 2 * math.pi / result.field_map.pole_pairs * np.arange(512) / 512
    axial = result.field_at(radius, theta, height)[2]
    field = {
        "b1_mean_radius_t": float(amplitudes[0].real),
        "harmonics_t": _by_order(result.field_map.orders, amplitudes.real),
        "peak_t": float(np.max(np.abs(axial))),
        "estimate_t": result.estimates[0].b1_t,
        "estimates": [
            {"name": e.name, "b1_t": e.b1_t, "leaves_out": e.leaves_out, **_difference(e.b1_t, amplitudes[0].real)}
            for e in result.estimates
        ],
        "numerical_error_percent": result.accuracy.numerical_percent,
        "error_estimate_percent": result.accuracy.error_estimate_percent,
    }
    steel = result.field.rings.steel
    if not steel:
        return field
    return field | {"steel_peak_t": max(disc.peak_t for disc in steel), "steel": [_steel(disc) for disc in steel]}


def _steel(disc: SteelReport) -> dict[str, Any]:
    r, theta, z = disc.peak_at
    return {
        "part": disc.name,
        "steel": disc.steel,
        "peak_t": disc.peak_t,
        "peak_r_mm": r / MM,
        "peak_theta_deg": theta / DEGREE,
        "peak_z_mm": z / MM,
        "above_knee_percent": 100 * disc.above_knee,
    }


def _difference(estimate: float, found: float) -> dict[str, float]:
    return {} if found == 0 else {"difference_percent": 100 * (estimate / found - 1)}


def _by_order(orders: Any, values: Any) -> dict[str, float]:
    return {str(n): float(value) for n, value in zip(orders, values, strict=True) if n in EMF_ORDERS}


def _emf(result: RunResult) -> dict[str, Any]:
    emf, per_gap_m = result.emf, result.emf_change_per_gap_m
    by_gap = {} if per_gap_m is None else {"change_per_gap_mm_percent": 100 * MM * per_gap_m}
    return by_gap | {
        "fundamental_v_s_per_rad": float(np.abs(emf.amplitudes[0, 0])),
        "harmonics_v_s_per_rad": _by_order(emf.orders, np.abs(emf.amplitudes[0])),
        "rms_v_s_per_rad": float(emf.rms[0]),
        "rms_v_per_krpm": float(emf.rms[0]) * KRPM,
        "line_rms_v_per_krpm": emf.line_rms * KRPM,
        "thd_percent": emf.thd_percent,
        "phase_angle_rad": emf.phase_angle_rad.tolist(),
        "waveform": {
            "rotor_angle_deg": np.degrees(emf.rotor_angle_rad).tolist(),
            "phase_v_s_per_rad": emf.waveform.tolist(),
        },
    }


def _winding(result: RunResult) -> dict[str, Any]:
    laid, shares = result.lay, result.factors
    winding = {
        "rounds_per_phase": laid.rounds_per_phase,
        "conductor_length_m": result.impedance.conductor_length_m,
        "copper_mass_kg": result.impedance.copper_mass_kg,
        "thickness_mm": laid.thickness_m * 1e3,
        "fill": shares.fill,
        "factors": {"belt": shares.belt, "shape": shares.shape, "total": shares.total},
        "end_copper_share": shares.end_copper_share,
    }
    if laid.end_bundle is not None:
        winding["end_bundle_wires"] = laid.end_bundle.wires
    if laid.rim_m_per_phase is not None:
        winding["rim_mm_per_phase"] = laid.rim_m_per_phase * 1e3
    if result.rescue is not None:
        winding["rescue"] = _rescue(result.rescue)
    return winding


def _rescue(rescue: Rescue) -> dict[str, Any]:
    return {
        "rounds": rescue.rounds,
        "as_wound_rms_v_per_krpm": rescue.as_wound * KRPM,
        "best_rounds": rescue.best_rounds,
        "best_rms_v_per_krpm": rescue.best * KRPM,
        "open_after": rescue.open_after,
        "halves_rms_v_per_krpm": rescue.halves * KRPM,
        "thirds_after": list(rescue.thirds_after),
        "thirds_rms_v_per_krpm": rescue.thirds * KRPM,
    }


def _output(result: RunResult, advice: Changes | None) -> dict[str, Any]:
    rms, ohms = float(result.emf.rms[0]) * KRPM, result.impedance.resistance_hot_ohm
    output = {"matched_w_per_krpm2": result.design.winding.phases * rms**2 / (4 * ohms)}
    if result.charging_starts_rad_s is not None:
        output["charging_starts_rpm"] = result.charging_starts_rad_s / RPM
    wind = wind_dict(result)
    if advice is not None:  # beside what it changes
        told = {"changes": changes_dict(advice)}
        wind = {"wind": wind["wind"] | told} if wind else told
    return output | points_dict(result) | wind
