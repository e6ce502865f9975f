"""What a worker does: a family of machines, the points that share them, and nothing but text and numbers to carry."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from fieldrun.design.errors import DesignError, Fault, FieldrunError, harmless
from fieldrun.design.model import Design, Magnets, Rotor
from fieldrun.design.read import Template, open_design
from fieldrun.field.banded import one_thread
from fieldrun.field.solve import RotorField, rotor_fields
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import vary_design
from fieldrun.studies.sweep.picks import Answer, Picked, picked

Status = Literal["ok", "infeasible", "failed"]
Changes = Mapping[str, Any]
Machine = tuple[Magnets, Rotor]


@dataclass(frozen=True)
class Order:
    """What all tasks of a sweep share.

    Parameters
    ----------
    path, text : of the design file; files that it names are looked for beside `path`
    picks : keys of the result
    answer : makes a whole result
    """

    path: str
    text: str
    picks: tuple[str, ...]
    answer: Answer


@dataclass(frozen=True)
class Task:
    """Some points of one family.

    Parameters
    ----------
    machines : changes that make the family's machines, one design for each, in the family's order
    points : index, changes and machine (its place in `machines`) of each point, machines ascending
    """

    machines: tuple[Changes, ...]
    points: tuple[tuple[int, Changes, int], ...]


@dataclass(frozen=True)
class Outcome:
    """What became of a point.

    Parameters
    ----------
    index : of the point
    status : "infeasible" where no such machine can be built, "failed" where it finds no answer
    picked : one cell for each pick; none unless "ok"
    reason : why not
    """

    index: int
    status: Status
    picked: tuple[Picked, ...] = ()
    reason: str = ""


def solve_task(order: Order, task: Task) -> list[Outcome]:
    """Answer a task from text alone, in whatever process: the same numbers everywhere.

    Raises
    ------
    DesignError
        If one of its points cannot be built; `Points.tasks` hands out none of these.
    """
    template = _opened(order.path, order.text)
    machines = [vary_design(template, changes) for changes in task.machines]
    points = [(index, vary_design(template, changes), at) for index, changes, at in task.points]
    return list(outcomes(order, [(design.magnets, design.rotor) for design in machines], points))


@lru_cache(maxsize=2)
def _opened(path: str, text: str) -> Template:
    return open_design(Path(path), text)


def outcomes(order: Order, machines: Sequence[Machine], points: Iterable[tuple[int, Design, int]]) -> Iterator[Outcome]:
    """Answer points as their machines' fields come in; what goes wrong with one point is its own outcome.

    Parameters
    ----------
    order : what is asked
    machines : a whole family, in its order
    points : index, design and machine of each point, machines ascending
    """
    with one_thread():
        fields, at, field = rotor_fields(machines), -1, None
        for index, design, machine in points:
            while at < machine:
                field, at = _next_field(fields), at + 1
            yield _outcome(order, index, design, field)


def _next_field(fields: Iterator[RotorField | FieldrunError]) -> RotorField | FieldrunError:
    """The next machine's field; what nobody foresaw ends the family's fields, not the sweep."""
    try:
        return next(fields, None) or FieldrunError("not solved: another machine of its family broke the solver")
    except Exception as error:  # noqa: BLE001 - as above
        return FieldrunError(f"{type(error).__name__}: {error}")


def _outcome(order: Order, index: int, design: Design, field: RotorField | FieldrunError | None) -> Outcome:
    if isinstance(field, FieldrunError):
        return failure(index, field)
    try:
        return Outcome(index, "ok", picked(Chain(design, field), order.picks, order.answer))
    except Exception as error:  # noqa: BLE001 - one point must not end a night's sweep, whatever it ran into
        return failure(index, error)


def failure(index: int, error: Exception) -> Outcome:
    """What a point is told to have run into."""
    if isinstance(error, DesignError):
        return Outcome(index, "infeasible", reason=told_faults(error))
    text = str(error) if isinstance(error, FieldrunError) else f"{type(error).__name__}: {error}"
    return Outcome(index, "failed", reason=" ".join(text.split()))


def told_faults(error: DesignError) -> str:
    """All faults in one line; no point has a design file of its own, whose name and lines are left out."""
    told = (": ".join(part for part in (_place(fault), fault.key, fault.text) if part) for fault in error.faults)
    return harmless("; ".join(told).replace(" (set in place of the file's)", ""))


def _place(fault: Fault) -> str:
    """Name and line of a table that the design names."""
    path = Path(fault.file)
    return f"{path.name}:{fault.line}" if path.suffix == ".csv" and fault.line else ""
