"""The machine in the wind: sentences, rows of the table, and the result file's `wind` table."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from fieldrun.design.units import RPM
from fieldrun.generator.result import RunResult
from fieldrun.generator.wind.climate import Measured
from fieldrun.generator.wind.energy import YEAR_H, Energy
from fieldrun.generator.wind.operating import PowerCurve
from fieldrun.generator.wind.runaway import Runaway
from fieldrun.generator.wind.year import Fed, Wind
from fieldrun.outputs.handling import KGF
from fieldrun.outputs.sentences import plain

TOLD_M_S = (3.0, 5.0, 7.0, 10.0)
"""Winds that the table on the screen tells about."""

SELDOM_HOURS = 10.0
"""Winds of fewer hours a year are none to judge a machine by."""

MOST_OF_IT, LITTLE_OF_IT = 0.5, 0.25
"""Shares of hours and kilowatt-hours from which the rule of light winds is worth its words: a machine that furls early
or stalls may bring much in them."""

BLADES_STAND_M_S = 110.0
"""Tips beyond are too fast for blades of wood or plastic (common practice, no source)."""

DAYS_FROM_H = 36.0
"""Longer lulls are told in days too."""


def wind_sentences(result: RunResult) -> list[str]:
    """What a builder wants to know of a year's wind; nothing without a rotor, a load or a wind."""
    wind = result.wind
    if wind is None or wind.fed is None or wind.fed.energy is None or wind.fed.cut_in_m_s is None:
        return []
    return [_year(result, wind.fed.energy), _light_winds(wind.fed.energy), *_lull(wind, wind.fed.energy)]


def _year(result: RunResult, energy: Energy) -> str:
    load = result.design.load
    charges = "charges" if load is not None and load.kind == "battery" else "gives the load"
    idle, share = round(energy.hours_without_charge), f"{100 * energy.capacity_factor:.0f} %"
    return (
        f"In a mean wind of {plain(energy.mean_m_s, 'm/s')} it {charges} {plain(energy.annual_kwh, 'kWh')} a year, at "
        f"most {plain(energy.rated_w, 'W')}{_seldom(energy)} and {share} of that on average; "
        f"{idle} of the year's {YEAR_H:.0f} hours bring nothing."
    )


def _seldom(energy: Energy) -> str:
    """In which wind that is, where it hardly ever blows."""
    if energy.rated_hours >= SELDOM_HOURS or energy.rated_w == 0:
        return ""
    return f" (in {plain(energy.rated_m_s, 'm/s')}, which hardly ever blows)"


def _light_winds(energy: Energy) -> str:
    said = energy.below_mean_hours > MOST_OF_IT and energy.below_mean_energy < LITTLE_OF_IT
    rule = "Light winds are most of the hours and little of the energy: below" if said else "Below"
    return (
        f"{rule} the mean it blows {100 * energy.below_mean_hours:.0f} % of the time, with "
        f"{100 * energy.below_mean_wind:.2g} % of the wind's energy, and brings "
        f"{100 * energy.below_mean_energy:.0f} % of these kilowatt-hours."
    )


def _lull(wind: Wind, energy: Energy) -> Iterator[str]:
    """The longest time without charge, by which a battery's size is chosen."""
    if energy.longest_lull_h is None or not isinstance(wind.climate, Measured):
        return
    hours = energy.longest_lull_h
    days = f" ({plain(hours / 24, 'days')})" if hours >= DAYS_FROM_H else ""
    yield (
        f"The longest time in {wind.climate.record.name} without a reading strong enough to bring anything: "
        f"{plain(hours, 'h')}{days}; what hangs on the battery must live through it."
    )


def charging_wind(wind: Wind | None) -> str:
    """In which wind a battery starts to charge, as the end of a sentence; empty without a rotor."""
    if wind is None or wind.fed is None:
        return ""
    if wind.fed.cut_in_m_s is None:
        return ", which the rotor reaches in no wind"
    turns = f"it starts to turn in {plain(wind.starts_at_m_s, 'm/s')}" if wind.starts_at_m_s else "it turns in any wind"
    diameter = plain(2 * wind.rotor.radius_m, "m")
    return f", with a rotor of {diameter} in a wind of {plain(wind.fed.cut_in_m_s, 'm/s')} ({turns})"


def wind_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """Rows of label, value and remark: power in a few winds that the rotor faces."""
    if result.wind is None or result.wind.fed is None:
        return []
    points, top = result.wind.fed.points, result.wind.top_m_s
    told = [i for i, wind in enumerate(points.wind_m_s) if wind in TOLD_M_S and wind <= top and points.dc_w[i] > 0]
    gear = result.wind.rotor.gear_ratio
    return [(*_power(points, i), _speed(points, i, gear)) for i in told]


def _power(points: PowerCurve, i: int) -> tuple[str, str]:
    return f"in a wind of {plain(float(points.wind_m_s[i]), 'm/s')}", plain(float(points.dc_w[i]), "W")


def _speed(points: PowerCurve, i: int, gear: float) -> str:
    taken = f"the rotor takes {plain(float(points.rotor_w[i]), 'W')}, {100 * points.cp[i]:.0f} % of the wind's power"
    return f"into the load at {gear * points.speed_rad_s[i] / RPM:.0f} rpm; {taken}"


def _blades(tip_speed_m_s: float) -> str:
    fast = tip_speed_m_s > BLADES_STAND_M_S
    return ", which blades of wood or plastic do not stand: have it furl earlier, or brake it" if fast else ""


def runaway_caution(result: RunResult) -> str:
    """How fast everything turns and pulls with nothing connected; empty without a rotor."""
    away = result.runaway
    if away.wind_m_s is None or away.tip_speed_m_s is None:
        return ""
    if away.magnet_n is not None:
        pulls = (
            f"each magnet pulls outwards with {plain(away.magnet_n, 'N')}, the weight of {_kilograms(away.magnet_n)}"
        )
        cure = "hold magnets by more than glue"
    else:
        halves = away.halves_n or 0.0
        pulls = f"the winding's halves pull apart with {plain(halves, 'N')}, the weight of {_kilograms(halves)}"
        cure = "a cast winding that spins wants a band around it"
    return (
        f"Caution: with nothing connected, in a wind of {away.wind_m_s:g} m/s, the generator runs up to "
        f"{away.speed_rad_s / RPM:.0f} rpm, its rim at {plain(away.rim_speed_m_s, 'm/s')} and the rotor's tips at "
        f"{plain(away.tip_speed_m_s, 'm/s')}{_blades(away.tip_speed_m_s)}; {pulls}: {cure}, and never stand in the "
        "plane of the rotor."
    )


def _kilograms(newtons: float) -> str:
    return plain(newtons / KGF, "kg")


def wind_dict(result: RunResult) -> dict[str, Any]:
    """The result file's `output.wind`; empty without a rotor."""
    wind = result.wind
    if wind is None:
        return {}
    told: dict[str, Any] = {
        "starts_at_m_s": wind.starts_at_m_s,
        **({"furls_at_m_s": wind.top_m_s} if wind.top_m_s < wind.stop_m_s else {}),
        "stops_at_m_s": wind.stop_m_s,
        "air_density_kg_m3": wind.rotor.density_kg_m3,
        "runaway": _runaway_dict(result.runaway),
    }
    if isinstance(wind.climate, Measured):
        told["record"] = _record_dict(wind.climate)
    return {"wind": told | ({} if wind.fed is None else _fed_dict(wind, wind.fed))}


def _runaway_dict(away: Runaway) -> dict[str, float]:
    told = {
        "wind_m_s": away.wind_m_s,
        "generator_rpm": away.speed_rad_s / RPM,
        "tip_speed_m_s": away.tip_speed_m_s,
        "rim_speed_m_s": away.rim_speed_m_s,
        "peak_v": away.peak_v,
        "line_rms_v": away.line_rms_v,
        "magnet_load_n": away.magnet_n,
        "coil_halves_load_n": away.halves_n,
    }
    return {key: value for key, value in told.items() if value is not None}


def _record_dict(measured: Measured) -> dict[str, Any]:
    record = measured.record
    return {
        "file": record.name,
        "first": record.first,
        "last": record.last,
        "hours": float(np.sum(record.hours)),
        "interval_s": record.interval_s,
        "gaps": record.gaps,
        "missing_hours": record.missing_hours,
        "longest_gap_hours": record.longest_gap_hours,
    }


def _fed_dict(wind: Wind, fed: Fed) -> dict[str, Any]:
    told = {
        "cut_in_m_s": fed.cut_in_m_s,
        "stalls_from_m_s": fed.stalls_from_m_s,
        "runs_away_from_m_s": fed.runs_away_from_m_s,
    }
    told = {key: value for key, value in told.items() if value is not None}
    return told | _energy_dict(fed.energy) | {"points": _points(wind, fed.points)}


def _energy_dict(energy: Energy | None) -> dict[str, Any]:
    if energy is None:
        return {}
    return {
        "mean_m_s": energy.mean_m_s,
        "annual_energy_kwh": energy.annual_kwh,
        "rated_w": energy.rated_w,
        "rated_from_m_s": energy.rated_m_s,
        "capacity_factor": energy.capacity_factor,
        "hours_without_charge": energy.hours_without_charge,
        **({} if energy.longest_lull_h is None else {"longest_time_without_charge_hours": energy.longest_lull_h}),
        "below_mean_hours_percent": 100 * energy.below_mean_hours,
        "below_mean_wind_energy_percent": 100 * energy.below_mean_wind,
        "below_mean_energy_percent": 100 * energy.below_mean_energy,
        "classes": [
            {"from_m_s": c.from_m_s, "to_m_s": c.to_m_s, "hours": c.hours, "energy_kwh": c.energy_kwh}
            for c in energy.classes
        ],
    }


def _points(wind: Wind, curve: PowerCurve) -> list[dict[str, Any]]:
    gear = wind.rotor.gear_ratio
    columns = {
        "wind_m_s": curve.wind_m_s,
        "rotor_rpm": curve.speed_rad_s / RPM,
        "generator_rpm": gear * curve.speed_rad_s / RPM,
        "tip_speed_ratio": curve.tip_speed_ratio,
        "power_coefficient": curve.cp,
        "rotor_w": curve.rotor_w,
        "drag_w": curve.drag_w,
        "dc_w": curve.dc_w,
        "phase_rms_a": curve.phase_rms_a,
    }
    rows = zip(*(values.tolist() for values in columns.values()), strict=True)
    states = (state_of(wind, curve, i) for i in range(len(curve.wind_m_s)))
    return [dict(zip(columns, row, strict=True)) | {"state": state} for row, state in zip(rows, states, strict=True)]


def state_of(wind: Wind, curve: PowerCurve, index: int) -> str:
    """What the machine does in a wind, in a word or two: still, turns, works, stalls, runs away, furled or stopped."""
    speed = float(curve.wind_m_s[index])
    if speed > wind.stop_m_s:
        return "stopped"
    if curve.speed_rad_s[index] == 0:
        return "still"
    if speed > wind.top_m_s:
        return "furled"
    if curve.dc_w[index] == 0:
        return "turns"
    away = wind.fed.runs_away_from_m_s if wind.fed else None
    if away is not None and speed >= away:
        return "runs away"
    return "stalls" if curve.stalled[index] else "works"
