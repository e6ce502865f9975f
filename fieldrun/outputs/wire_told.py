"""Wire as the builder handles it, for programs: one metre of it, its strands joined in every way, a bundle's making."""

from typing import Any

from fieldrun.design.units import KRPM, MM, RPM
from fieldrun.generator.joining import Joining, links
from fieldrun.generator.result import RunResult
from fieldrun.generator.wire_metre import wire_metre
from fieldrun.winding.twisting import Twisting


def wire_dict(result: RunResult, speeds_rpm: tuple[float, ...]) -> dict[str, Any]:
    """The result file's `wire` table; `speeds_rpm` as asked about."""
    wire, metre = result.design.wire, wire_metre(result.design.wire)
    table: dict[str, Any] = {
        "overall_mm": wire.overall_diameter_m / MM,
        "copper_mm2": metre.copper_m2 / MM**2,
        "resistance_20c_ohm_per_m": metre.resistance_20c_ohm,
        "resistance_hot_ohm_per_m": metre.resistance_hot_ohm,
        "catalogue_20c_ohm_per_m": metre.nominal_ohm,
        "mass_g_per_m": 1000 * metre.mass_kg,
    }
    if wire.kind == "litz":
        table |= {
            "take_up": wire.length_factor,
            "joinings": [_joining(joining, speeds_rpm) for joining in result.joinings],
            "links": [{"ends": list(link.ends), "starts": list(link.starts)} for link in links(wire)],
        }
    return table | ({} if result.twisting is None else {"twisting": _twisting(result.twisting)})


def _joining(joining: Joining, speeds_rpm: tuple[float, ...]) -> dict[str, Any]:
    table = {
        "in_series": joining.in_series,
        "in_parallel": joining.in_parallel,
        "rms_v_per_krpm": joining.rms_v_s_per_rad * KRPM,
        "resistance_20c_ohm": joining.resistance_20c_ohm,
        "resistance_hot_ohm": joining.resistance_hot_ohm,
        "joints_per_phase": joining.joints_per_phase,
        "ends_per_joint": joining.ends_per_joint,
        "matched_w_per_krpm2": joining.matched_w_per_speed2 * KRPM**2,
    }
    if joining.charging_starts_rad_s is None:
        return table
    charged = [speed for speed in speeds_rpm if joining.charges_at(speed * RPM)]
    return table | {"charging_starts_rpm": joining.charging_starts_rad_s / RPM, "charges_at_rpm": charged}


def _twisting(plan: Twisting) -> dict[str, Any]:
    return {
        "bench_mm": plan.bench_m / MM,
        "passes": plan.passes,
        "drill_turns": plan.drill_turns,
        "piece_m": plan.piece_m,
        "usable_m": plan.usable_m,
        "rounds_per_piece": plan.rounds_per_piece,
        "pieces_per_phase": plan.pieces_per_phase,
        "joints": [{"rounds": joint.rounds, "turns": joint.turns} for joint in plan.joints],
        "wire_per_piece_m": plan.wire_per_piece_m,
        "wire_m": plan.wire_m,
    }
