"""The report's tables: what is listed, in the words of the screen."""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from fieldrun.design.units import KRPM, RPM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.compare_told import POWER, columns_told, label, marked, ordered, power_w, speed_of
from fieldrun.outputs.load_told import load_caption, load_table
from fieldrun.outputs.report.records import Table
from fieldrun.outputs.result_file import EMF_ORDERS
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import table_rows
from fieldrun.studies.compare import WindingComparison
from fieldrun.studies.wound import Wound

LONG = 12
"""A list of more values than this is told by its ends."""


def numbers_table(result: RunResult, content: Mapping[str, Any]) -> Table:
    """Everything the screen's table says."""
    return Table("All numbers", (), tuple(table_rows(result, content["field"])))


def load_by_speed(result: RunResult) -> Table | None:
    """What the load gets at the asked speeds; None without one that takes power."""
    found = load_table(result)
    if found is None:
        return None
    headings, rows = found
    return Table("Load by speed", headings, tuple(rows), words=frozenset(), note=load_caption(result))


def harmonics_table(content: Mapping[str, Any]) -> Table:
    """Field and voltage, order by order."""
    field, emf = content["field"]["harmonics_t"], content["emf"]["harmonics_v_s_per_rad"]
    first = emf["1"] or 1.0
    orders = [str(order) for order in EMF_ORDERS if str(order) in emf]
    rows = tuple(
        (n, plain(1000 * field[n], "mT"), plain(emf[n] * KRPM, "V"), f"{100 * emf[n] / first:.2f} %") for n in orders
    )
    return Table(
        "Harmonics",
        ("order", "field", "peak at 1000 rpm", "of the first"),
        rows,
        words=frozenset(),
        note="Field at mid-copper and mean radius; voltage of a phase, nothing connected.",
    )


def estimates_table(content: Mapping[str, Any]) -> Table:
    """The fundamental of the field, found in several ways."""
    field = content["field"]
    rows = [("finite elements", plain(field["b1_mean_radius_t"], "T"), "the answer used here")]
    for way in field["estimates"]:
        off = way.get("difference_percent")
        told = plain(way["b1_t"], "T") + ("" if off is None else f", {off:+.1f} %")
        rows.append((way["name"], told, way["leaves_out"]))
    return Table("The field's fundamental, found in other ways", (), tuple(rows))


def windings_tables(comparison: WindingComparison) -> tuple[Table, Table]:
    """Windings side by side in the same space: those with as many phases as the design, and all others."""
    first = comparison.shown_first
    rest = [row for row in ordered(comparison) if not any(row is other for other in first)]
    own = _windings("Other windings in the same space", first, comparison, columns_told(comparison))
    return own, _windings("The same with other numbers of phases", rest, comparison, "")


def _windings(caption: str, rows: Sequence[Wound], comparison: WindingComparison, note: str) -> Table:
    speed = speed_of(comparison)
    own = frozenset(i for i, row in enumerate(rows) if row.candidate.own)
    headings = ("winding", "phases", "EMF, V", "ohm", "m", "g", f"{POWER}, W", "W/kg", "ends", "torque")
    cells = tuple(_winding(row, comparison, speed) for row in rows)
    return Table(caption, headings, cells, marked=own, note=note)


def _winding(row: Wound, comparison: WindingComparison, speed: float) -> tuple[str, ...]:
    merits, watts = row.merits, power_w(row, speed)
    return (
        marked(row, comparison) if row.candidate.own else label(row.candidate),
        str(row.candidate.winding.phases),
        plain(merits.emf_v_s_per_rad * speed * RPM),
        plain(merits.resistance_ohm),
        plain(merits.conductor_length_m),
        plain(1000 * merits.copper_mass_kg),
        plain(watts),
        plain(watts / merits.copper_mass_kg),
        f"{100 * merits.end_copper_share:.0f} %",
        f"{merits.torque_least:.2f} to {merits.torque_most:.2f}",
    )


def input_tables(result: RunResult) -> tuple[Table, ...]:
    """The design file as resolved: every key, stated or by default."""
    written = json.loads(result.design.written)
    tables = {name: table for name, table in written.items() if isinstance(table, dict)}
    order = ("magnets", "rotor", "winding", "wire", "load", "wind", "former", "tolerance")
    names = [name for name in order if name in tables] + [name for name in tables if name not in order]
    return tuple(Table(f"[{name}]", (), tuple(_keys(tables[name]))) for name in names)


def _keys(table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        yield key, _value(value)


def _value(value: object) -> str:
    if isinstance(value, list):
        parts = [_value(part) for part in value]
        shown = parts if len(parts) <= LONG else [*parts[:3], f"... ({len(parts)} values) ...", parts[-1]]
        return ", ".join(shown)
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
