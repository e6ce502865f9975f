"""One change after another, each tried on the design file itself; the best for its effort, and rounds for a wish."""

from collections.abc import Callable
from dataclasses import dataclass

from fieldrun.design.errors import DesignError, FieldrunError
from fieldrun.design.model import Design
from fieldrun.field.banded import one_thread
from fieldrun.generator.result import RunResult
from fieldrun.studies.changes.figures import Figures, figures_now, figures_of
from fieldrun.studies.changes.generator import Generator, changed_generator, generator_of
from fieldrun.studies.changes.proposals import Keys, Proposal, proposals
from fieldrun.studies.changes.rounds_for import RoundsFor, rounds_for, usual_wish

Variant = Callable[[Keys], Design]
"""Reads the design file with keys changed: `functools.partial(read_design, path)`, or one that knows a path already."""

Tell = Callable[[str], None]
"""Told the name of each change before it is tried."""

WORTH_IT = 0.01
"""A gain of less than this share is no advice: the answer is not much surer than that."""

HOTTER = 0.02
"""Share by which a current may grow over what the winding stands and still count as no hotter."""

SET_INSTEAD = " (set in place of the file's)"


@dataclass(frozen=True)
class Change:
    """One thing changed.

    Parameters
    ----------
    name : stable, for programs
    effort : 1 joined otherwise or other spacers, 2 wound anew, 3 magnets or steel bought
    keys : what stands in the design file instead, by dotted key; None: the key goes
    figures : what it gives; None if it cannot be built
    reason : why it cannot be built; empty if it can
    """

    name: str
    effort: int
    keys: tuple[tuple[str, object], ...]
    figures: Figures | None
    reason: str = ""


@dataclass(frozen=True)
class Changes:
    """What single changes do.

    Parameters
    ----------
    before : the design as it stands
    rows : every change, in the order of `proposals`
    best : of those that raise a year's energy (watts at the highest asked speed, where no wind is known) by a hundredth
        or more and do not run too hot, the one that raises it most for its effort; None if none does
    wish : rounds for a lower cut-in; None without a battery on a rotor
    """

    before: Figures
    rows: tuple[Change, ...]
    best: Change | None
    wish: RoundsFor | None


def has_changes(design: Design) -> bool:
    """Whether there is a load that takes power, by which changes can be told apart."""
    return design.load is not None and design.load.kind != "open"


def steps_needed(result: RunResult) -> int:
    """How many times `tell` is called."""
    return len(list(proposals(result))) + 1


def changes(
    result: RunResult, variant: Variant, cut_in_m_s: float | None = None, tell: Tell = lambda _: None
) -> Changes | None:
    """Change one thing at a time; None without a load that takes power.

    Parameters
    ----------
    result : the design as it stands, answered
    variant : reads its file with keys changed
    cut_in_m_s : the wind from which it shall charge; None for 0.5 m/s less than now, or little more than what the rotor
        starts in
    tell : told what is tried
    """
    if not has_changes(result.design):
        return None
    base, before = generator_of(result), figures_now(result)
    rows = []
    with one_thread():  # many small sums: on a busy machine a second thread costs more than it brings
        for proposal in proposals(result):
            tell(proposal.name)
            rows.append(tried(proposal, base, variant))
        tell("rounds for an earlier start")
        wanted = usual_wish(result) if cut_in_m_s is None else cut_in_m_s
        wish = None if wanted is None else rounds_for(result, variant, wanted)
    return Changes(before, tuple(rows), best_of(rows, before), wish)


def best_of(rows: list[Change], before: Figures) -> Change | None:
    """The largest gain per effort among gains that are worth it and make nothing too hot."""
    worth = [(row, row.figures) for row in rows if row.figures]
    worth = [(row, after) for row, after in worth if worth_it(after, before) and not too_hot(after, before)]
    found = max(worth, key=lambda pair: (pair[1].yields - before.yields) / pair[0].effort, default=None)
    return found and found[0]


def worth_it(after: Figures, before: Figures) -> bool:
    """Whether it raises a year's energy, or watts, by more than the answer is unsure of."""
    return after.yields - before.yields > WORTH_IT * before.yields


def too_hot(after: Figures, before: Figures) -> bool:
    """Whether a phase carries more than its winding stands, and more so than in the design as drawn."""
    return (after.heat or 0.0) > max(1.0, (before.heat or 0.0) * (1 + HOTTER))


def tried(proposal: Proposal, base: Generator, variant: Variant) -> Change:
    """The first way that can be built and makes a difference; else the reason against the first one."""
    reason = proposal.hopeless
    for keys in () if reason else proposal.ways:
        listed = tuple(keys.items())
        try:
            design = variant(keys)
            if _same_machine(design, base.design):
                reason = reason or "it is so already"
                continue
            figures = figures_of(changed_generator(design, base))
        except DesignError as error:
            reason = reason or told_briefly(error)
            continue
        except FieldrunError as error:
            return Change(proposal.name, proposal.effort, listed, None, str(error))
        return Change(proposal.name, proposal.effort, listed, figures)
    return Change(
        proposal.name, proposal.effort, tuple(proposal.ways[0].items()) if proposal.ways else (), None, reason
    )


def _same_machine(design: Design, other: Design) -> bool:
    def parts(machine: Design) -> tuple[object, ...]:
        return machine.magnets, machine.rotor, machine.winding, machine.wire, machine.load

    return parts(design) == parts(other)


def told_briefly(error: DesignError) -> str:
    """The first fault's text, without what it says to try instead."""
    return error.faults[0].text.removesuffix(SET_INSTEAD).partition("; try ")[0]
