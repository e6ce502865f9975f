"""The gap as a sum of what lies in it, and what each millimetre of it costs."""

from fieldrun.design.units import MM
from fieldrun.generator.result import RunResult
from fieldrun.outputs.sentences import plain

SAME_MM = 0.005
"""Air below and above that differs by less is told once."""


def gap_rows(result: RunResult) -> list[tuple[str, str, str]]:
    """The gap as a row of the table; none over one bare face."""
    gap = result.design.rotor.gap_m
    return [] if gap is None else [("gap", plain(gap / MM, "mm"), f"{_filled(result, gap / MM)}{_cost(result)}")]


def _filled(result: RunResult, gap_mm: float) -> str:
    laid, resin = result.lay, result.design.winding.resin_m / MM
    middle = float(laid.sheet_heights_m[0] + laid.sheet_heights_m[-1]) / 2 / MM
    thick = laid.thickness_m / MM + resin
    below, above = middle - thick / 2, gap_mm - middle - thick / 2
    if abs(below - above) < SAME_MM:
        return f"{plain(thick, 'mm')} of winding, {plain(below, 'mm')} of air on each side"
    return f"{plain(thick, 'mm')} of winding, {plain(below, 'mm')} of air below and {plain(above, 'mm')} above"


def _cost(result: RunResult) -> str:
    if result.emf_change_per_gap_m is None:
        return ""
    percent = 100 * result.emf_change_per_gap_m * MM
    return f"; each millimetre of gap {'costs' if percent < 0 else 'adds'} {plain(abs(percent), '%')} of the volts"
