"""Windings side by side on the screen: what wins on which count first, then a row for each."""

from typing import TYPE_CHECKING

from rich.text import Text

from fieldrun.design.units import MM, RPM
from fieldrun.outputs.compare_told import (
    POWER,
    angles_told,
    columns_told,
    joined,
    label,
    marked,
    ordered,
    power_w,
    reasons,
    speed_of,
    terms,
    verdict,
)
from fieldrun.outputs.screen import headed_table, print_parts, safe, told
from fieldrun.outputs.sentences import plain
from fieldrun.studies.compare import OWN_BEST, WindingComparison
from fieldrun.studies.wound import Wound

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def show_compare(comparison: WindingComparison, detail: int) -> None:
    """Print a comparison to standard output.

    Parameters
    ----------
    comparison : windings side by side
    detail : -1 the sentence only, 0 the table too, 1 rounds too
    """
    title = joined([design.title for design in comparison.designs])
    parts: list[RenderableType] = [Text(safe(title), "bold"), told(verdict(comparison))]
    if detail >= 0:
        parts += ["", told(terms(comparison)), told(columns_told(comparison)), ""]
        parts += [_merits_table(comparison, rounds=detail > 0)] if comparison.wound else []
        parts += ["", _places_table(comparison)] if comparison.terms == OWN_BEST and comparison.wound else []
        parts += ["", *map(told, reasons(comparison))] if comparison.not_wound else []
    print_parts(parts)


def _merits_table(comparison: WindingComparison, *, rounds: bool) -> "Table":
    headings = ["winding", "phases", *(["rounds"] if rounds else []), "EMF, V", "ohm", "m", "g"]
    headings += [f"{POWER}, W", "W/kg", "ends", "torque"]
    rows = [_merit_cells(row, comparison, rounds=rounds) for row in ordered(comparison)]
    return headed_table(headings, rows, words={"winding"})


def _merit_cells(row: Wound, comparison: WindingComparison, *, rounds: bool) -> list[str]:
    merits, speed = row.merits, speed_of(comparison)
    return [
        marked(row, comparison),
        str(row.candidate.winding.phases),
        *([str(merits.rounds_per_phase)] if rounds else []),
        plain(merits.emf_v_s_per_rad * speed * RPM),
        plain(merits.resistance_ohm),
        plain(merits.conductor_length_m),
        plain(1000 * merits.copper_mass_kg),
        plain(power_w(row, speed)),
        plain(power_w(row, speed) / merits.copper_mass_kg),
        f"{100 * merits.end_copper_share:.0f} %",
        f"{merits.torque_least:.2f}-{merits.torque_most:.2f}",
    ]


def _places_table(comparison: WindingComparison) -> "Table":
    """Where each shape is at its best, and what that gains over the design's own radii."""
    headings = ("at its best", "phases", "gain", "radii, mm", "angles", "at the search's edge")
    rows = [_place_cells(row) for row in ordered(comparison) if row.candidate.winding.shape != "path"]
    return headed_table(headings, rows, words=set(headings) - {"phases", "gain"})


def _place_cells(row: Wound) -> list[str]:
    winding = row.candidate.winding
    ring = f"{plain(row.lay.inner_radius_m / MM)} to {plain(row.lay.outer_radius_m / MM)}"
    edge = ", ".join(key.removesuffix("_m").replace("_", " ") for key in row.at_edge)
    return [label(row.candidate), str(winding.phases), _gain(row), ring, angles_told(row), edge]


def _gain(row: Wound) -> str:
    """What the search gained; nothing to tell where there was nothing before."""
    before = row.before.power_w_s2_per_rad2 if row.before else 0.0
    return f"{100 * (row.merits.power_w_s2_per_rad2 / before - 1):+.0f} %" if before else ""
