"""What to change, in the builder's words: the best single change, a table of all, and rounds for an earlier start."""

import math
from typing import Any

from fieldrun.design.digits import digits
from fieldrun.design.units import MM
from fieldrun.outputs.sentences import plain, weight
from fieldrun.studies.changes.figures import Figures
from fieldrun.studies.changes.rounds_for import RoundsFor
from fieldrun.studies.changes.study import Change, Changes, too_hot, worth_it

NAMES = {
    "connect-star": "phases in star",
    "connect-delta": "phases in delta",
    "connect-separate": "each phase with a bridge of its own",
    "more-strands-in-series": "more strands in series",
    "fewer-strands-in-series": "fewer strands in series",
    "fewer-parallel": "fewer groups in parallel",
    "more-parallel": "groups of layers in parallel",
    "layers-parallel": "all layers in parallel",
    "gap-narrower": "narrower gap",
    "more-rounds": "more rounds",
    "fewer-rounds": "fewer rounds",
    "thinner-wire": "thinner wire, more rounds",
    "thicker-wire": "thicker wire, fewer rounds",
    "steel-behind": "steel behind the magnets",
    "thicker-steel": "thicker steel",
    "stronger-magnets": "stronger magnets",
    "thicker-magnets": "thicker magnets",
}
"""What each change is called."""

EFFORTS = {1: "ends or spacers", 2: "wound anew", 3: "other magnets or steel"}
"""What work each effort stands for."""

CAPTION = (
    "One thing changed at a time, all else as it stands. Best: most gained for its effort (ends joined otherwise or "
    "other spacers 1, wound anew 2, other magnets or steel 3); what is told to run hotter is left out."
)

SAME_KG = 5e-4
"""Masses that differ by less are the same to a builder."""


def advice_lines(told: Changes) -> list[str]:
    """The sentences: the best change, and rounds for an earlier start."""
    return [_best(told), *([] if told.wish is None else [_wish(told.before, told.wish)])]


def _best(told: Changes) -> str:
    best = told.best
    if best is None or best.figures is None:
        more = [row.figures for row in told.rows if row.figures and worth_it(row.figures, told.before)]
        heat = " without running hotter than the winding stands" if more else ""
        return f"No single change that was tried brings a hundredth more {_goal(told.before)}{heat}."
    return f"Best single change: {NAMES[best.name]} ({keys_text(best.keys)}): {_gains(told.before, best.figures)}."


def _goal(before: Figures) -> str:
    return "kilowatt-hours" if before.annual_kwh is not None else "watts at the highest speed asked"


def keys_text(keys: tuple[tuple[str, object], ...]) -> str:
    """Keys of the design file as they stand there: `wire.copper_mm = 0.71`; what goes is left out."""
    return ", ".join(f"{key} = {_toml(value)}" for key, value in keys if value is not None)


def _toml(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)


def _gains(before: Figures, after: Figures) -> str:
    parts = [_energy(before, after), _starts(before, after), *_taken(before, after), _hotter(before, after)]
    return ", ".join(part for part in parts if part)


def _energy(before: Figures, after: Figures) -> str:
    was, now = plain(before.yields), plain(after.yields)
    return f"{was} -> {now} kWh a year" if before.annual_kwh is not None else f"{was} -> {now} W at the top speed"


def _starts(before: Figures, after: Figures) -> str:
    """When it starts, against when it started: in wind, or in rpm where no rotor is known."""
    if before.cut_in_m_s is not None:
        was, now, unit = before.cut_in_m_s, after.cut_in_m_s, "m/s"
    elif before.charging_rpm is not None:
        was, now, unit = before.charging_rpm, after.charging_rpm, "rpm"
    else:
        return ""
    does = "gives power" if before.charging_rpm is None else "charges"
    if now is None:
        return f"{does} never instead of from {plain(was, unit)}"
    as_before = "as before" if plain(was) == plain(now) else f"instead of {plain(was, unit)}"
    return f"{does} from {plain(now, unit)} {as_before}"


def _taken(before: Figures, after: Figures) -> list[str]:
    """What it takes: metal more or less, another gap."""
    masses = (
        ("copper", before.copper_kg, after.copper_kg),
        ("magnets", before.magnets_kg, after.magnets_kg),
        ("steel", before.steel_kg, after.steel_kg),
    )
    told = [
        f"{'+' if now > was else '-'}{weight(abs(now - was))} of {name}"
        for name, was, now in masses
        if abs(now - was) > SAME_KG
    ]
    if before.gap_m is not None and after.gap_m is not None and plain(before.gap_m / MM) != plain(after.gap_m / MM):
        told.append(f"gap {plain(after.gap_m / MM, 'mm')}")
    return told


def _hotter(before: Figures, after: Figures) -> str:
    """Against what it stands for ever in moving air, where that is too much and more than now."""
    if not too_hot(after, before) or after.heat is None:
        return ""
    if math.isinf(after.heat):
        return "runs hotter: its losses alone are more than it stands"
    now = "" if before.heat is None else f" (as drawn: {digits(before.heat, 2)} times)"
    return f"runs hotter: {digits(after.heat, 2)} times the current that the winding stands for ever{now}"


def _wish(before: Figures, wish: RoundsFor) -> str:
    """Rounds for a wanted wind; what they cost in strong winds is said in the same breath."""
    wind = plain(wish.cut_in_m_s, "m/s")
    if wish.figures is None:
        return f"Charging from {wind} on is out of reach by more rounds alone: {wish.reason}."
    now = wish.figures
    if now.rounds == before.rounds:
        return f"To charge from {wind} on, no fewer than the {now.rounds} rounds per phase that it has will do."
    energy = ""
    if before.annual_kwh is not None:
        energy = f"; the year then brings {plain(before.yields)} -> {plain(now.yields)} kWh, {_why(before, now)}"
    copper = ", ".join(part for part in (*_taken(before, now), _hotter(before, now)) if part)
    return (
        f"To charge from {wind} on, wind {now.rounds} rounds per phase instead of {before.rounds} "
        f"({keys_text(wish.keys)}): it starts in {plain(now.cut_in_m_s or 0.0, 'm/s')}"
        f"{f', {copper}' if copper else ''}{energy}."
    )


def _why(before: Figures, now: Figures) -> str:
    """What more rounds, or fewer, do in strong winds and in light ones."""
    more, gains = now.rounds > before.rounds, now.yields >= before.yields
    if more:
        text = "light winds gain more than strong ones lose to their resistance"
        return text if gains else "for in strong winds more rounds of thinner wire resist more than they give"
    return "for in strong winds fewer rounds resist less" if gains else "for fewer rounds give fewer volts"


def changes_table(told: Changes) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows: what is changed, what comes of it, what it takes."""
    before = told.before
    wind = before.cut_in_m_s is not None
    starts = "from m/s" if wind else "from rpm"
    gets = "kWh a year" if before.annual_kwh is not None else "W at top"
    now = ("as it stands", _start_value(before, wind=wind), plain(before.yields), "", "")
    return ("change", starts, gets, "in the design file", "takes"), [
        now,
        *(_row(row, before, wind=wind, best=row is told.best) for row in told.rows),
    ]


def _row(row: Change, before: Figures, *, wind: bool, best: bool) -> tuple[str, ...]:
    name = f"{NAMES[row.name]}{' (best)' if best else ''}"
    if row.figures is None:
        return name, "", "", keys_text(row.keys), f"no: {row.reason}"
    taken = _taken(before, row.figures) or [EFFORTS[row.effort]]
    taken += [hot] if (hot := _hotter(before, row.figures)) else []
    return name, _start_value(row.figures, wind=wind), plain(row.figures.yields), keys_text(row.keys), ", ".join(taken)


def _start_value(figures: Figures, *, wind: bool) -> str:
    value = figures.cut_in_m_s if wind else figures.charging_rpm
    return "never" if value is None else plain(value)


def changes_lines(told: Changes) -> list[str]:
    """The table as lines of text."""
    (_, starts, gets, *_), rows = changes_table(told)
    lines = []
    for name, start, value, keys, takes in rows:
        found = f"{starts} {start}, {gets} {value}" if value else ""
        lines.append(f"  {name}: " + "; ".join(part for part in (found, keys, takes) if part))
    return lines


def changes_dict(told: Changes) -> dict[str, Any]:
    """The result file's `changes`."""
    content: dict[str, Any] = {
        "before": _figures(told.before),
        "rows": [_row_dict(row) for row in told.rows],
    }
    if told.best is not None:
        content["best"] = told.best.name
    if told.wish is not None:
        content["rounds_for"] = {"wanted_cut_in_m_s": told.wish.cut_in_m_s, **_way(told.wish)}
    return content


def _row_dict(row: Change) -> dict[str, Any]:
    return {"name": row.name, "effort": row.effort, **_way(row)}


def _way(way: Change | RoundsFor) -> dict[str, Any]:
    """Keys to set, keys to take out, and figures or the reason why there are none."""
    taken_out = [key for key, value in way.keys if value is None]
    return {
        "keys": {key: value for key, value in way.keys if value is not None},
        **({"remove": taken_out} if taken_out else {}),
        "can_be_built": way.figures is not None,
        **({"reason": way.reason} if way.figures is None else _figures(way.figures)),
    }


def _figures(figures: Figures) -> dict[str, float]:
    told = {
        "rounds_per_phase": figures.rounds,
        "charging_starts_rpm": figures.charging_rpm,
        "cut_in_m_s": figures.cut_in_m_s,
        "annual_energy_kwh": figures.annual_kwh,
        "top_speed_power_w": figures.top_w,
        "copper_g": 1000 * figures.copper_kg,
        "magnets_g": 1000 * figures.magnets_kg,
        "steel_g": 1000 * figures.steel_kg,
        "gap_mm": None if figures.gap_m is None else figures.gap_m / MM,
        "current_over_what_it_stands": figures.heat
        if figures.heat is not None and math.isfinite(figures.heat)
        else None,
    }
    return {key: value for key, value in told.items() if value is not None}
