"""The best points of a sweep: for each goal, and, of two goals, those that none betters."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldrun.studies.sweep.best import as_good, best_index, pareto_front, ranking
from fieldrun.studies.sweep.goals import Goal, check_numbers
from fieldrun.studies.sweep.record import Sweep

FEW = 12
"""Points listed at most."""


@dataclass(frozen=True)
class Best:
    """The best point for one goal.

    Parameters
    ----------
    goal : what was asked
    index : of the point; the first of equally good ones
    value : there, in the key's unit
    equals : how many points have that value
    among : how many points have a value
    """

    goal: Goal
    index: int
    value: float
    equals: int
    among: int


@dataclass(frozen=True)
class Choice:
    """What is best in a sweep.

    Parameters
    ----------
    goals : none, one or two
    best : one for each goal; none where no point has a value
    few : the best points by the first goal, the best first
    pareto : of two goals, the points that none betters in both, the best in the first goal first
    """

    goals: tuple[Goal, ...] = ()
    best: tuple[Best, ...] = ()
    few: tuple[int, ...] = ()
    pareto: tuple[int, ...] = ()


def choose(sweep: Sweep, goals: Sequence[Goal]) -> Choice:
    """Find the best points.

    Raises
    ------
    DesignError
        If a goal holds words.
    """
    check_numbers(sweep, goals)
    if not goals:
        return Choice()
    columns = [sweep.column(goal.key) for goal in goals]
    few = ranking(columns[0], largest=goals[0].largest)[:FEW]
    best = (_best(goal, column) for goal, column in zip(goals, columns, strict=True))
    return Choice(
        tuple(goals),
        tuple(found for found in best if found is not None),
        tuple(few.tolist()),
        _front(goals, columns) if len(goals) == 2 else (),
    )


def _best(goal: Goal, column: np.ma.MaskedArray) -> Best | None:
    index = best_index(column, largest=goal.largest)
    if index is None:
        return None
    return Best(goal, index, float(column[index]), as_good(column, index), int(column.count()))


def _front(goals: Sequence[Goal], columns: Sequence[np.ma.MaskedArray]) -> tuple[int, ...]:
    first, second = columns
    front = pareto_front(first, second, largest=(goals[0].largest, goals[1].largest))
    return tuple(front.tolist())
