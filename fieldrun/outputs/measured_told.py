"""Bench readings on the screen: the verdict first, then row by row, then what would explain them."""

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np
from rich.text import Text

from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.measured_words import (
    TO_MEASURE,
    explained,
    reading_name,
    unit_of,
    what_to_look_at,
)
from fieldrun.outputs.screen import headed_table, print_parts, safe, told
from fieldrun.outputs.sentences import listed, plain
from fieldrun.studies.measured.fits import Fit
from fieldrun.studies.measured.odd_one import OddOne
from fieldrun.studies.measured.study import Alternative, Measured

if TYPE_CHECKING:
    from rich.console import RenderableType

SHOWN, SHOWN_ALL = 5, 40
"""Explanations listed, and with -v."""

CLOSE = 1.5
"""Scores nearer than this fit alike: the order says nothing."""

DEAD = 0.05
"""Volts below this share of the prediction are next to nothing."""

NEXT_TO_NOTHING = (
    "Next to nothing is induced: is the wire whole, do the leads touch bare copper, do the discs face each other with "
    "unlike poles, is the meter on AC volts?"
)

GAP_OR_MAGNETS = {"as_drawn+gap", "as_drawn+remanence"}
"""Explanations that change all open volts by one factor, or nearly."""

EXACT_PERCENT = 0.05
"""Differences below are told as none."""


def show_measured(found: Measured, detail: int) -> None:
    """Print what the readings say.

    Parameters
    ----------
    found : the study
    detail : -1 verdict only, 0 the tables too, 1 every explanation
    """
    parts: list[RenderableType] = [Text(safe(found.bench.result.design.title), "bold"), *map(told, verdict(found))]
    if detail >= 0:
        parts += ["", headed_table(*readings_table(found), words={"reading"}), "", told(caption(found))]
        parts += ["", headed_table(*explanations_table(found, SHOWN_ALL if detail else SHOWN), words={"explanation"})]
    print_parts(parts)


def verdict(found: Measured) -> list[str]:
    """What the readings say, in plain sentences."""
    said = [
        _beside(found),
        _most_likely(found),
        _fits(found),
        _speed(found),
        _scan(found),
        _others(found),
        _unseen(found),
    ]
    return [sentence for sentence in said if sentence]


def _beside(found: Measured) -> str:
    """How far volts, ohms and amperes are from the drawing's, the middle one of each."""
    bench = found.bench
    ratios: defaultdict[str, list[float]] = defaultdict(list)
    for row, ratio, used in zip(bench.rows, bench.ratio.tolist(), bench.used.tolist(), strict=True):
        if used:
            ratios[{"V": "volts", "A": "amperes", "ohm": "ohms"}[unit_of(row)]].append(ratio)
    parts = [f"the {name} are {_off(100 * (float(np.median(values)) - 1))}" for name, values in ratios.items()]
    return f"Beside the prediction {listed(parts)}, the middle one of each." if parts else ""


def _off(percent: float) -> str:
    if abs(percent) < EXACT_PERCENT:
        return "the same"
    return f"{plain(abs(percent), '%')} {'above' if percent > 0 else 'below'}"


def _most_likely(found: Measured) -> str:
    best = found.best
    if found.agrees:
        return "The readings agree with the drawing: nothing needs to be supposed."
    if _dead(found) and best.explains:
        return f"{NEXT_TO_NOTHING} Of the mistakes that were tried, it fits that {explained(best, found)}."
    if found.odd is not None:
        return _odd_one(found, found.odd)
    if not best.explains:
        nearest = f"the nearest is that {explained(best, found)}, which still misses {plain(best.left_percent, '%')}"
        cure = NEXT_TO_NOTHING if _dead(found) else "Measure again, one thing at a time."
        return f"Nothing that was tried explains all readings: {nearest}. {cure}"
    hint = what_to_look_at(best)
    sure = f" To make sure: {hint}." if hint else ""
    close = any(other.explanation.score < best.score + CLOSE for other in found.alternatives)
    first = "Of several explanations that fit alike the first is that" if close else "Most likely"
    return f"{first} {explained(best, found)} (that leaves {plain(best.left_percent, '%')}).{sure}"


def _odd_one(found: Measured, odd: OddOne) -> str:
    with_gap = "" if odd.gap is None else f" if {_length(found)} is {_within(odd.gap, MM, 'mm')}"
    name, off = reading_name(found.bench.rows[odd.row]), _off(100 * (float(found.bench.ratio[odd.row]) - 1))
    return (
        f"All readings but one agree with the drawing{with_gap}: {name}, is {off}, and nothing that was tried explains "
        "it beside the others. Read that one again."
    )


def _dead(found: Measured) -> bool:
    """Whether there are volts, and next to none."""
    volts = [ratio for row, ratio in zip(found.bench.rows, found.bench.ratio, strict=True) if unit_of(row) == "V"]
    return bool(volts) and max(volts) < DEAD


def _fits(found: Measured) -> str:
    gap, strength = found.gap, found.remanence
    if not found.best.explains:
        return ""
    if gap is None or strength is None:
        return "" if _dead(found) else "None of these readings depends on the gap or the magnets: measure volts, too."
    what = _length(found)
    alone = (
        f"{_supposing(found)}, {what} is {_within(gap, MM, 'mm')}, "
        f"or else the magnets have {_within(strength, 1.0, 'T')}"
    )
    return f"{alone}. {_both(found)}"


def _speed(found: Measured) -> str:
    """What gap or magnets explain, a wrong speed explains as well: volts without a load go as the speed does."""
    bench = found.bench
    told_apart = found.both is not None and found.both.gap_m is not None
    if not found.best.explains or found.best.key not in GAP_OR_MAGNETS or told_apart or np.any(bench.is_loaded):
        return ""
    turned = [row.speed_in == "speed_rpm" for row in bench.rows if row.speed_in]
    volts = bench.ratio[bench.used & ~bench.is_ohm]
    if not turned or not all(turned) or len(volts) == 0:
        return ""
    percent = 100 * (float(np.median(volts)) - 1)
    share = f"{plain(abs(percent), '%')} {'less' if percent < 0 else 'more'}"
    return f"Or the speed was {share} than written, which would read the same: count the turns, for a drill may slip."


def _supposing(found: Measured) -> str:
    return "If nothing else is wrong" if found.fitted.key == "as_drawn" else "If that is so and nothing else is wrong"


def _length(found: Measured) -> str:
    open_face = found.bench.result.design.rotor.gap_m is None
    return "the height of the winding's middle above the magnets" if open_face else "the gap"


def _within(fit: Fit, unit: float, name: str) -> str:
    edge = ", the edge of what was tried" if fit.at_edge else ""
    return f"{fit.value / unit:.3g} +- {fit.error / unit:.1g} {name} (drawn {plain(fit.drawn / unit)}{edge})"


def _both(found: Measured) -> str:
    both = found.both
    if both is None:
        return ""
    numbers = f"correlation {both.correlation:.4f}, condition {plain(both.condition)}"
    if both.gap_m is None or both.gap_error_m is None or both.remanence_t is None or both.remanence_error_t is None:
        cure = "A scan of the field at several heights" if found.scan is None else "A scan at more heights and radii"
        return (
            f"These readings cannot tell the two apart ({numbers}): {plain(abs(both.exchange_m) / MM, 'mm')} of gap "
            f"does what 1 % of remanence does. {cure}, or of its harmonics, could."
        )
    return (
        f"With the scan the two are told apart ({numbers}): {_length(found)} is {both.gap_m / MM:.3g} +- "
        f"{both.gap_error_m / MM:.1g} mm and the magnets have {both.remanence_t:.3g} +- {both.remanence_error_t:.1g} T."
    )


def _scan(found: Measured) -> str:
    scan = found.scan
    if scan is None:
        return ""
    beside, turned = _off(100 * (scan.strength - 1)), plain(scan.turned_rad / DEGREE, "degrees")
    return (
        f"The scanned field is {beside} the map's, its angles turned by {turned} to fit; beyond that it misses "
        f"{plain(100 * scan.left_share, '%')} of the largest field."
    )


def _others(found: Measured) -> str:
    if not (found.alternatives and found.best.explains):
        return ""
    parts = [f"that {explained(other.explanation, found)} ({_how(other)})" for other in found.alternatives[:SHOWN]]
    more = len(found.alternatives) - SHOWN
    rest = f"; and {more} more (-v lists them)" if more > 0 else ""
    return f"These readings do not rule out {'; or '.join(parts)}{rest}."


def _how(other: Alternative) -> str:
    if other.telling is not None:
        return f"to tell, measure {TO_MEASURE[other.telling]}"
    hint = what_to_look_at(other.explanation)
    return hint or "no reading of these kinds would tell"


def _unseen(found: Measured) -> str:
    if not found.unseen:
        return ""
    return f"They would not show that {'; or that '.join(guess.text for guess in found.unseen)}."


def caption(found: Measured) -> str:
    """What the columns are, and how far a row is trusted."""
    bench = found.bench
    noise = (
        f"{plain(100 * bench.noise, '%')}, {'assumed' if bench.noise_assumed else 'from their spread and 1 % assumed'}"
    )
    return (
        f"A reading's own error is taken as {noise}; besides, 1 % shared by all volts and 2 % by all ohms. Best: what "
        "the readings should be by the first explanation below. Score: misses squared over errors squared, plus 2 for "
        "every free value and 1.5 for a mistake; less is better, and within 4 nothing is decided."
    )


def readings_table(found: Measured) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows: every reading beside its prediction."""
    bench, best = found.bench, found.best
    headings = ("reading", "measured", "predicted", "ratio", "best", "left")
    columns = (bench.rows, bench.as_drawn.tolist(), bench.ratio.tolist(), bench.used.tolist(), best.predicted.tolist())
    return headings, [
        (
            reading_name(row),
            f"{plain(row.value)} {unit_of(row)}",
            plain(should),
            f"{ratio:.3f}" if used else "-",
            plain(there) if used else "-",
            f"{100 * (row.value / there - 1):+.1f} %" if used else "given",
        )
        for row, should, ratio, used, there in zip(*columns, strict=True)
    ]


def explanations_table(found: Measured, count: int) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows: explanations, the best first."""
    listed_ones = found.worth_telling if count <= SHOWN else found.explanations
    rows: list[tuple[str, ...]] = [
        (
            str(place),
            explained(one, found),
            plain(one.left_percent, "%"),
            f"{one.score:.1f}",
            "yes" if one.explains else "no",
        )
        for place, one in enumerate(listed_ones[:count], start=1)
    ]
    return ("", "explanation", "leaves", "score", "explains all"), rows
