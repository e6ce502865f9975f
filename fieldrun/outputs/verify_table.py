"""All ways side by side on the screen: the verdict first, then the table."""

from typing import TYPE_CHECKING

from rich.text import Text

from fieldrun.design.units import KRPM, MM
from fieldrun.outputs.screen import headed_table, print_parts, safe, told
from fieldrun.outputs.sentences import plain
from fieldrun.studies.verify import JUDGE, Absence, Answer, Comparison, difference_percent

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

WORTH_TELLING_PERCENT = 0.1
"""Error of flat sections below which they are not told off."""


def show_verify(comparison: Comparison, detail: int) -> None:
    """Print a comparison to standard output.

    Parameters
    ----------
    comparison : all ways side by side
    detail : -1 verdict only, 0 the table too, 1 the EMF in V s/rad too
    """
    title = Text(safe(comparison.design.title), "bold")
    parts: list[RenderableType] = [title, *map(told, verdict(comparison))]
    if detail >= 0:
        parts += ["", told(caption(comparison)), "", _table(comparison, exact=detail > 0)]
    print_parts(parts)


def verdict(comparison: Comparison) -> list[str]:
    """Whether the default answer may be trusted, in plain sentences."""
    default = comparison.default
    if comparison.best.emf_per_round_v_s_per_rad == 0:
        return ["The winding meets no field: there is nothing to compare."]
    if comparison.judge is None:
        return [sentence for sentence in (_unjudged(comparison), _second(comparison), _flat(comparison)) if sentence]
    off, allowed = _off(default, comparison), f"{comparison.allowed_percent:g} %"
    judged = f"the whole machine in three dimensions ({comparison.judge.name})"
    if comparison.holds:
        first = f"The default answer ({default.name}) holds: its EMF is {_beside(off)} that of {judged}"
        return [sentence for sentence in (f"{first}; up to {allowed} is let pass.", _flat(comparison)) if sentence]
    first = f"The default answer ({default.name}) fails: its EMF is {_beside(off)} that of {judged}"
    return [f"{first}; only {allowed} is let pass. Count on the {comparison.judge.name} answer instead."]


def _unjudged(comparison: Comparison) -> str:
    reasons = [absence.reason for absence in comparison.absences if absence.key == JUDGE]
    why = f": {reasons[0].removeprefix('does not apply: ')}" if reasons else ""
    return f"The default answer ({comparison.default.name}) was not judged in three dimensions{why}."


def _second(comparison: Comparison) -> str:
    """What K1 says, where it is the best other way."""
    second = next((answer for answer in comparison.answers if answer.key == "k1"), None)
    if second is None:
        return "No other way here knows how flux spreads past the magnets' ends."
    off = _off(second, comparison)
    much = ", too far apart to leave it at that" if abs(off) > comparison.allowed_percent else ""
    return f"The best other way, {second.name}, gives an EMF {_beside(off)} it{much}."


def _flat(comparison: Comparison) -> str:
    flat = next((answer for answer in comparison.answers if answer.key == "sections"), None)
    if flat is None or abs(_off(flat, comparison)) < WORTH_TELLING_PERCENT:
        return ""
    off = _off(flat, comparison)
    return f"Flat sections alone would promise {_size(off)} too {'much' if off > 0 else 'little'}."


def _off(answer: Answer, comparison: Comparison) -> float:
    """Difference of the EMF to the best [%]; 0 where there is none to compare with."""
    return difference_percent(answer.emf_per_round_v_s_per_rad, comparison.best.emf_per_round_v_s_per_rad) or 0.0


def _size(percent: float) -> str:
    return f"{abs(percent):.{figures(percent)}f} %"


def figures(percent: float) -> int:
    """Decimals that a difference deserves: two below one per cent, none from a hundred."""
    return 2 if abs(percent) < 0.995 else 1 if abs(percent) < 99.95 else 0


def signed(percent: float) -> str:
    """A difference with its sign: `+8.8 %`, `-0.04 %`, `0.00 %`."""
    text = f"{percent:+.{figures(percent)}f} %"
    return "0.00 %" if text in {"+0.00 %", "-0.00 %"} else text


def _beside(percent: float) -> str:
    if signed(percent) == "0.00 %":
        return "the same as"
    return f"{_size(percent)} {'above' if percent > 0 else 'below'}"


def caption(comparison: Comparison) -> str:
    """What the table's columns are."""
    radius, height = plain(comparison.mean_radius_m / MM, "mm"), plain(comparison.height_m / MM, "mm")
    rounds = comparison.rounds_per_phase
    share = f"of one round of the {rounds} in a phase" if rounds > 1 else "of one phase"
    return (
        f"B1 is the main wave of the field at the winding's mean radius of {radius}, {height} above the lower magnets; "
        f"the EMF is the main wave {share}, effective value at 1000 rpm, nothing connected."
    )


def _table(comparison: Comparison, *, exact: bool) -> "Table":
    headings = ["way", "B1, T", "EMF, V", *(["EMF, V s/rad"] if exact else []), "EMF off", "time, s"]
    rows = [_cells(row, comparison, exact=exact) for row in comparison.rows]
    return headed_table([*headings, "what it leaves out"], rows, words={"way", "what it leaves out"})


def _cells(row: Answer | Absence, comparison: Comparison, *, exact: bool) -> list[str]:
    if isinstance(row, Absence):
        empty = [""] * (5 if exact else 4)
        return [row.name, *empty, f"{row.reason[0].upper()}{row.reason[1:]}."]
    emf = row.emf_per_round_v_s_per_rad
    off = difference_percent(emf, comparison.best.emf_per_round_v_s_per_rad)
    told_off = "best" if row is comparison.best else "" if off is None else signed(off)
    precise = [f"{emf:.6f}"] if exact else []
    return [row.name, f"{row.b1_t:.4f}", f"{emf * KRPM:.4f}", *precise, told_off, f"{row.time_s:.2f}", row.leaves_out]
