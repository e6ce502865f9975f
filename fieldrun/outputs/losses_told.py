"""Losses, heat and what turns: rows of the table in plain words, and tables of the result file."""

from typing import Any

from fieldrun.design.units import KRPM, RPM
from fieldrun.generator.heating import FORMERS_SOFTEN_C, USUAL_DENSITY_A_MM2, Cooling, Heat
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import top_speed_rpm
from fieldrun.outputs.sentences import plain

A_PER_MM2 = 1e6
"""Amperes per square metre in one per square millimetre."""

GRAM = 1e-3
"""Kilograms in a gram."""


def loss_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """Rows of label, value and remark: what is wasted with nothing connected, how much current is safe, what turns."""
    return [*_idle_rows(result), *_heat_rows(result), *_moving_rows(result)]


def _idle_rows(result: RunResult) -> list[tuple[str, str, str]]:
    losses, speed = result.losses, top_speed_rpm(result.design)
    square = (speed * RPM) ** 2
    watts = f"{plain(losses.eddy_w_s2 * square, 'W')} at {speed:g} rpm"
    rows = [("eddy loss in the wire", watts, "currents within each strand, loaded or not; grows with speed squared")]
    if losses.strands is not None:
        least, most = (plain(w * square, "W") for w in (losses.strands.in_order_w_s2, losses.strands.at_most_w_s2))
        rows.append(
            ("loss between strands", f"{least} at {speed:g} rpm", f"not twisted: at most {most} if turned over")
        )
    if losses.groups is not None:
        watts = f"{plain(losses.groups.loss_w_s2 * square, 'W')} at {speed:g} rpm"
        rows.append(("loss between groups", watts, "in parallel, wound one after the other; nothing connected"))
    if losses.delta_a_krpm is not None:
        amps = f"{plain(losses.delta_a_krpm, 'A')} at 1000 rpm"
        waste = f"third harmonics, nothing connected; wastes {plain(losses.delta_w_krpm2, 'W')}"
        rows.append(("current round the delta", amps, waste))
    return rows


def _heat_rows(result: RunResult) -> list[tuple[str, str, str]]:
    heat = result.heat
    formers = ", ".join(f"{name} {limit:g}" for name, limit in FORMERS_SOFTEN_C.items())
    still = f"warms the copper to {heat.limit_c:g} C, where resin softens ({formers}), air {heat.air_c:g} C"
    return [
        ("current in still air", *_stood(heat, heat.still, still)),
        (
            "current in moving air",
            *_stood(heat, heat.moving, f"stirred by the discs; {_usual()}; both by rules of thumb"),
        ),
    ]


def _stood(heat: Heat, cooling: Cooling, remark: str) -> tuple[str, str]:
    """How much current is stood, and what of it; none where the winding is too warm without any."""
    if cooling.current_a > 0:
        return _amps(cooling), remark
    watts = f"{plain(heat.idle_w, 'W')} at {heat.speed_rad_s / RPM:g} rpm"
    return "none", f"without current its losses, {watts}, already warm the copper past {heat.limit_c:g} C"


def _amps(cooling: Cooling) -> str:
    return f"{plain(cooling.current_a, 'A')} a phase, {plain(cooling.density_a_m2 / A_PER_MM2, 'A/mm2')}"


def _usual() -> str:
    still, moving = (f"{low:g} to {high:g}" for low, high in USUAL_DENSITY_A_MM2.values())
    return f"textbooks allow {moving} A/mm2, still {still}"


def _moving_rows(result: RunResult) -> list[tuple[str, str, str]]:
    moving = result.moving
    parts = ", ".join(f"{part.name} {plain(part.mass_kg / GRAM, 'g')}" for part in moving.parts)
    inertia = f"{plain(moving.inertia_kg_m2, 'kg m2')} about the shaft"
    return [("mass that turns", plain(moving.mass_kg, "kg"), f"{parts}; {inertia}; no hub, no shaft")]


def loss_dict(result: RunResult) -> dict[str, float]:
    """What of the losses belongs in the result file's `circuit` table."""
    losses = result.losses
    told = {"eddy_loss_w_per_krpm2": losses.eddy_w_s2 * KRPM**2}
    if losses.strands is not None:
        told["strand_loss_w_per_krpm2"] = losses.strands.in_order_w_s2 * KRPM**2
        told["strand_loss_at_most_w_per_krpm2"] = losses.strands.at_most_w_s2 * KRPM**2
    if losses.groups is not None:
        told["group_difference_percent"] = 100 * losses.groups.difference
        told["group_circulating_a_per_krpm"] = losses.groups.current_a_s * KRPM
        told["group_loss_w_per_krpm2"] = losses.groups.loss_w_s2 * KRPM**2
    if losses.delta_a_krpm is not None:
        told["delta_circulating_a_per_krpm"] = losses.delta_a_krpm
    return told


def heat_dict(result: RunResult) -> dict[str, Any]:
    """The result file's `heat` table: how much current the winding stands for ever."""
    heat = result.heat
    return {
        "limit_c": heat.limit_c,
        "air_c": heat.air_c,
        "speed_rpm": heat.speed_rad_s / RPM,
        "idle_loss_w": heat.idle_w,
        "still_air": _cooling_dict(heat.still),
        "moving_air": _cooling_dict(heat.moving),
    }


def _cooling_dict(cooling: Cooling) -> dict[str, float]:
    return {
        "heat_transfer_w_per_m2_k": cooling.transfer_w_m2_k,
        "rise_k_per_w": cooling.rise_k_per_w,
        "current_a": cooling.current_a,
        "current_density_a_per_mm2": cooling.density_a_m2 / A_PER_MM2,
        "copper_loss_w": cooling.copper_w,
    }


def forces_dict(result: RunResult) -> dict[str, float]:
    """The result file's `forces` table: what pulls and what turns."""
    told = {
        "rotating_mass_kg": result.moving.mass_kg,
        "rotating_inertia_kg_m2": result.moving.inertia_kg_m2,
    }
    pull = result.forces.disc_pull_n
    return told if pull is None else {"disc_pull_n": pull} | told
