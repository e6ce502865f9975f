"""Which reading would tell two explanations apart."""

import numpy as np

from fieldrun.design.readings import Reading
from fieldrun.studies.measured.axes import Axis
from fieldrun.studies.measured.bench import COMMON_OHMS, COMMON_VOLTS, Bench
from fieldrun.studies.measured.guess import Guess, scaled
from fieldrun.studies.measured.predict import predicted
from fieldrun.studies.measured.ranking import Explanation

EASY = (
    "phase_ohm",
    "open_phase_rms_v",
    "one_round_rms_v",
    "open_line_rms_v",
    "open_peak_v",
    "open_dc_v",
)
"""Readings that could be taken besides, the easier first."""

CLEAR = 2.5
"""Times the errors by which predictions must differ for a reading to tell."""

BETTER = 2.0
"""Times by which another reading must differ more to be worth more trouble."""


def telling_kind(first: Explanation, other: Explanation, gap: Axis, bench: Bench) -> str | None:
    """The kind of reading that tells two explanations apart best; None if none does.

    A reading is as good as its errors: `bench` says what a row's own and its shared error are. Of those that tell, the
    easiest is named unless a harder one tells twice as clearly.
    """
    clear = {kind: _difference(first, other, gap, bench, kind) for kind in EASY}
    telling = [kind for kind in EASY if clear[kind] >= CLEAR]
    if not telling:
        return None
    most = max(clear.values())
    return next(kind for kind in telling if clear[kind] >= most / BETTER)


def _difference(first: Explanation, other: Explanation, gap: Axis, bench: Bench, kind: str) -> float:
    shared = COMMON_OHMS if kind == "phase_ohm" else COMMON_VOLTS
    one, two = (_values(explanation, gap, bench, kind) for explanation in (first, other))
    return float(np.max(np.abs(np.log(max(two) / max(one)))) / np.hypot(bench.noise, shared))


def _values(explanation: Explanation, gap: Axis, bench: Bench, kind: str) -> list[float]:
    column = "frequency_hz" if any(row.speed_in == "frequency_hz" for row in bench.rows) else "speed_rpm"
    row = Reading(0, kind, 1.0, 200.0, column)
    guess = as_found(explanation, gap)
    found = predicted(bench.result, guess, row, bench.result.design.load)
    return [max(value, 1e-6) for value in (min(found.values), max(found.values))]


def as_found(explanation: Explanation, gap: Axis) -> Guess:
    """The guess with its free gap or strength in it."""
    if explanation.gap is not None:
        return scaled(explanation.guess, gap.factor_at(explanation.gap.value))
    if explanation.remanence is not None:
        more = explanation.remanence.value / explanation.remanence.drawn
        return scaled(explanation.guess, np.full(gap.factors.shape[1], more, dtype=complex))
    return explanation.guess
