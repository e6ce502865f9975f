"""From an order to a finished sweep: what is known already, what is missing, who solves it, and what it all says."""

import contextlib
import time
from collections.abc import Callable, Generator, Iterator, Mapping
from dataclasses import asdict, dataclass
from itertools import chain
from pathlib import Path
from typing import Any

from fieldrun import __version__
from fieldrun.design.errors import FieldrunError
from fieldrun.design.model import Design
from fieldrun.design.read import Template, design_hash
from fieldrun.design.units import MM
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.generator.chain import Chain
from fieldrun.studies.sweep.crew import Crew, local_crew, processes_can_be_had, worked_off
from fieldrun.studies.sweep.journal import open_journal
from fieldrun.studies.sweep.picks import Answer
from fieldrun.studies.sweep.plan import Plan
from fieldrun.studies.sweep.points import Points, resolve
from fieldrun.studies.sweep.record import Row, Sweep
from fieldrun.studies.sweep.task import Order, Outcome, outcomes
from fieldrun.studies.sweep.values import plain

PHYSICS = 2
"""Grows whenever the same design gives other numbers than before: journals of older numbers are not gone on with."""

PAYS_S = 20.0
"""Work left that is worth starting processes for: each takes a second or two to get ready."""

Tell = Callable[[int, int], None]
"""Told how many points are done, of how many."""


@dataclass(frozen=True, eq=False)
class Request:
    """What is asked of a sweep.

    Parameters
    ----------
    template : the design file
    design : as it stands
    plan : which points
    picks : keys of the result
    answer : makes a whole result; a function that other processes can import
    kept : changes that hold at every point
    """

    template: Template
    design: Design
    plan: Plan
    picks: tuple[str, ...]
    answer: Answer
    kept: Mapping[str, Any]

    @property
    def order(self) -> Order:
        """What every task needs of it."""
        path = self.template.path.resolve()
        return Order(str(path), self.template.text, self.picks, self.answer)

    @property
    def header(self) -> dict[str, Any]:
        """The journal's first line: all that its numbers depend on."""
        return {
            "sweep": 1,
            "name": self.design.name,
            "design_hash": design_hash(self.design),
            "plan": self.plan.facts,
            "kept": self.kept,
            "picks": self.picks,
            "mesh": asdict(RingDensity()),
            "fieldrun": __version__,
            "physics": PHYSICS,
        }


def run_sweep(
    request: Request,
    journal: Path,
    *,
    jobs: int = 1,
    cluster: Crew | None = None,
    fresh: bool = False,
    retry_failed: bool = False,
    tell: Tell = lambda _, __: None,
) -> Sweep:
    """Answer every point that the journal does not hold yet.

    Parameters
    ----------
    request : what is asked
    journal : file of what was found; it is gone on with, and stays whatever happens
    jobs : processes at most; more than one only where the work left pays for them
    cluster : workers elsewhere, in place of `jobs`
    fresh : begin anew, whatever the journal holds
    retry_failed : solve points again that failed before
    tell : told how many points are done, of how many

    Raises
    ------
    DesignError
        If the journal is another sweep's.
    FieldrunError
        If it cannot be written, or workers cannot be had.
    """
    tell(0, request.plan.count)
    points = resolve(request.template, request.plan, request.kept)
    with open_journal(journal, request.header, fresh=fresh) as (book, found):
        known = {i: outcome for i, (key, outcome) in found.items() if _holds(points, i, key)}
        if retry_failed:
            known = {i: outcome for i, outcome in known.items() if outcome.status != "failed"}
        with contextlib.closing(_new(request, points, frozenset(known), jobs, cluster)) as new:
            tell(len(known) + len(points.reasons), request.plan.count)
            for outcome in new:
                book.add(outcome, points.hashes[outcome.index])
                known[outcome.index] = outcome
                tell(len(known) + len(points.reasons), request.plan.count)
    return _swept(request, points, known)


def _holds(points: Points, index: int, key: str) -> bool:
    """Whether a journal's outcome is of the very design that stands at this point."""
    return 0 <= index < len(points.hashes) and points.hashes[index] == key != ""


def _new(
    request: Request, points: Points, known: frozenset[int], jobs: int, cluster: Crew | None
) -> Generator[Outcome, None, None]:
    """Outcomes of all points that are not known, as they come."""
    missing = {index for index, key in enumerate(points.hashes) if key and index not in known}
    if cluster is None:
        for outcome in _here(request.order, points, frozenset(missing), jobs if processes_can_be_had() else 1):
            missing.discard(outcome.index)
            yield outcome
    if missing:
        left = frozenset(missing)
        tasks = (task for family in points.families for task in points.tasks(family, left))
        for part in worked_off(request.order, tasks, cluster or local_crew(jobs)):
            yield from part


def _here(order: Order, points: Points, missing: frozenset[int], jobs: int) -> Iterator[Outcome]:
    """Outcomes from this process: all of them, or as many as it takes to see that the rest pays for processes."""
    begun, done = time.perf_counter(), 0
    for family in points.families:
        wanted = ((i, points.design(i), at) for at, some in enumerate(family.points) for i in some if i in missing)
        if missing.isdisjoint(chain.from_iterable(family.points)):
            continue
        for outcome in outcomes(order, family.machines, wanted):
            yield outcome
            done += 1
            if jobs > 1 and _pays(time.perf_counter() - begun, done, len(missing) - done):
                return


def _pays(spent_s: float, done: int, left: int) -> bool:
    """Whether processes are worth it; a first second tells nothing but what warming up takes."""
    return spent_s > 1.0 and left * spent_s / done > PAYS_S


def _swept(request: Request, points: Points, known: Mapping[int, Outcome]) -> Sweep:
    none = (None,) * len(request.picks)
    rows = []
    for index in range(request.plan.count):
        reason = points.reasons.get(index)
        outcome = known[index] if reason is None else Outcome(index, "infeasible", reason=reason)
        values = request.plan.values(index)
        rows.append(Row(index, values, outcome.picked or none, outcome.status, outcome.reason))
    return Sweep(
        design=request.design,
        design_hash=design_hash(request.design),
        plan=request.plan,
        picks=request.picks,
        rows=tuple(rows),
        kept=request.kept,
        facts=_facts(request.design),
    )


def _facts(design: Design) -> dict[str, str]:
    """Mesh and error estimate of the design as it stands: every point has its own, which may be picked."""
    try:
        with one_thread():
            chain_ = Chain(design)
            rings, error = chain_.field.rings, chain_.accuracy.error_estimate_percent
    except FieldrunError as fault:
        return {"mesh": "rings", "error_estimate": f"not known: {fault}"}
    return {
        "mesh": f"{rings.model}, {rings.unknowns} unknowns as the design stands",
        "error_estimate": f"{error:.2g} percent of the EMF as the design stands",
    }


def frozen_winding(design: Design) -> dict[str, Any]:
    """Changes that keep a design's copper as it is while gap, magnets or wire vary: its rounds and its height.

    A path is as its file says in any case; a table of points has its own heights.
    """
    winding = design.winding
    height = {"winding.height_mm": plain(winding.height_m / MM)}
    if winding.shape == "path":
        return height if winding.inner_notches else {}
    return {"winding.rounds": Chain(design).lay.rounds_per_phase} | height
