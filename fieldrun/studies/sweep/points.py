"""From a plan to designs, and from designs to families of machines that are solved together."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Design
from fieldrun.design.read import Template, design_hash
from fieldrun.field.families import families
from fieldrun.generator.machine import vary_design
from fieldrun.studies.sweep.plan import Plan
from fieldrun.studies.sweep.task import Machine, Task, told_faults

T = TypeVar("T")

REMEMBERED = 20_000
"""Designs kept in memory, some kilobytes each; those of larger sweeps are made a second time when their turn comes."""

TOGETHER = 64
"""Machines of one family solved together at most: what is lost when a sweep is interrupted, or a worker."""

AT_ONCE = 200
"""Points of one task at most, likewise: many windings may share one machine."""


@dataclass(frozen=True)
class Family:
    """Machines that are solved together, and which points each of them has."""

    machines: tuple[Machine, ...]
    points: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, eq=False)
class Points:
    """A plan's points as designs.

    Parameters
    ----------
    template, plan : what they are made from
    kept : changes that hold at every point where the plan says nothing else
    hashes : of each design; empty where none can be built
    reasons : why not, by index
    families : all points that can be built, family by family
    remembered : some or all of the designs
    """

    template: Template
    plan: Plan
    kept: Mapping[str, Any]
    hashes: tuple[str, ...]
    reasons: Mapping[int, str]
    families: tuple[Family, ...]
    remembered: Mapping[int, Design]

    def changes(self, index: int) -> dict[str, Any]:
        """What a point changes of the design file."""
        return _changes(self.plan, self.kept, index)

    def design(self, index: int) -> Design:
        """The design of a point that can be built.

        Raises
        ------
        DesignError
            For one that cannot.
        """
        known = self.remembered.get(index)
        return known or vary_design(self.template, self.changes(index))

    def tasks(self, family: Family, missing: frozenset[int]) -> Iterator[Task]:
        """The points of a family that are missing, as work for somebody else."""
        wanted = [(i, self.changes(i), at) for at, points in enumerate(family.points) for i in points if i in missing]
        machines = tuple(self.changes(points[0]) for points in family.points) if wanted else ()
        yield from (Task(machines, tuple(part)) for part in _cut(wanted, AT_ONCE))


def resolve(template: Template, plan: Plan, kept: Mapping[str, Any]) -> Points:
    """Make every point's design once, to see which can be built and which share a machine."""
    hashes: list[str] = []
    reasons: dict[int, str] = {}
    machines: dict[Machine, list[int]] = {}
    designs: dict[int, Design] = {}
    for index in range(plan.count):
        try:
            design = vary_design(template, _changes(plan, kept, index))
        except DesignError as error:
            reasons[index] = told_faults(error)
            hashes.append("")
            continue
        hashes.append(design_hash(design))
        machines.setdefault((design.magnets, design.rotor), []).append(index)
        if plan.count <= REMEMBERED:
            designs[index] = design
    return Points(template, plan, kept, tuple(hashes), reasons, tuple(_families(machines)), designs)


def _changes(plan: Plan, kept: Mapping[str, Any], index: int) -> dict[str, Any]:
    return {**kept, **plan.changes(index)}


def _families(machines: Mapping[Machine, list[int]]) -> Iterator[Family]:
    distinct = list(machines)
    for whole in families(distinct):
        for part in _cut(whole, TOGETHER):
            members = tuple(distinct[number] for number in part)
            yield Family(members, tuple(tuple(machines[member]) for member in members))


def _cut(items: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    """Cut into runs of so many items, the last one shorter."""
    return (items[first : first + size] for first in range(0, len(items), size))
