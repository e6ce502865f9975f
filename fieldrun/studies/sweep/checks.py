"""Whether what is picked is in any result, told before a night is spent on it."""

from collections.abc import Iterator, Mapping
from typing import Any

from fieldrun.design.errors import DesignError, FieldrunError
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import vary_design
from fieldrun.studies.sweep.picks import BAND, pick_faults
from fieldrun.studies.sweep.plan import Plan
from fieldrun.studies.sweep.run import Request

LOOKED_THROUGH = 1000
"""Points of a plan that are looked through for words that may bring keys of their own into the result."""

ANSWERED = 12
"""Results worked out at most to find a pick in."""


def check_picks(request: Request) -> None:
    """Refuse picks that no result has, or that are many values.

    Raises
    ------
    DesignError
        With every such pick, and the key that was probably meant.
    """
    if faults := pick_faults(request.picks, _contents(request)):
        raise DesignError(faults)


def _contents(request: Request) -> Iterator[Mapping[str, Any]]:
    """Whole results: of the design as it stands, then of points that differ by a word: other steel, another load."""
    band = any(key.startswith(BAND) for key in request.picks)
    designs = [{}, *_by_words(request.plan)]
    for changes in designs[:ANSWERED]:
        try:
            design = vary_design(request.template, {**request.kept, **changes})
            yield request.answer(Chain(design), band)
        except FieldrunError:
            continue


def _by_words(plan: Plan) -> Iterator[Mapping[str, Any]]:
    """One point for each word that stands in the plan."""
    seen: set[tuple[str, str]] = set()
    for index in range(min(plan.count, LOOKED_THROUGH)):
        changes = plan.changes(index)
        words = {(key, value) for key, value in changes.items() if isinstance(value, str)}
        if words - seen:
            seen |= words
            yield changes
