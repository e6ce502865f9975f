"""The whole study: readings against prediction, what gap or magnets would explain them, what mistakes would."""

from collections.abc import Callable
from dataclasses import dataclass

from fieldrun.design.readings import FieldScan, Readings
from fieldrun.generator.result import RunResult
from fieldrun.studies.measured.axes import Axis, gap_axis, remanence_axis
from fieldrun.studies.measured.bench import Bench, bench_of
from fieldrun.studies.measured.curves import curves_of
from fieldrun.studies.measured.fits import BothFit, Fit, fit, fit_both
from fieldrun.studies.measured.guess import Guess, Parts, drawn, parts_of
from fieldrun.studies.measured.odd_one import OddOne, odd_one
from fieldrun.studies.measured.ranking import APART, Explanation, ranked, unseen
from fieldrun.studies.measured.reading_faults import reading_faults
from fieldrun.studies.measured.scan import ScanFit, check_scan, fit_scan
from fieldrun.studies.measured.telling import telling_kind
from fieldrun.studies.measured.units import check_units
from fieldrun.studies.measured.winding_faults import winding_faults

REACH = 0.2
"""How far gap and remanence alone are looked for, as a share."""

OUT = 0.10
"""Beyond the design's own error: so far may a reading be out before the run counts as failed."""

STEPS = 3
"""Steps that are told of: all gaps together, two strengths."""


@dataclass(frozen=True)
class Alternative:
    """An explanation beside the best, and the reading that would tell the two apart."""

    explanation: Explanation
    telling: str | None


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of a machine before anything is read.

    Parameters
    ----------
    parts : the machine as drawn, taken apart
    gap, remanence : what another gap and other magnets do to it
    faults : mistakes in winding or magnets that it can have
    """

    parts: Parts
    gap: Axis
    remanence: Axis
    faults: tuple[Guess, ...]


@dataclass(frozen=True, eq=False)
class Measured:
    """What the readings say.

    Parameters
    ----------
    bench : the readings, row by row
    readings_file, scan_file : names of the files
    scan : the scan laid over the map
    fitted : what the fits suppose: no mistake, or the best explanation's if gap or magnets alone explain nothing
    gap, remanence : each alone, all else as supposed; None where no reading depends on it
    both : both together
    explanations : all that were tried, the best first
    alternatives : those that the readings cannot tell from the best
    unseen : mistakes that would move none of these readings
    odd : where nothing explains all readings, the one that stands against all others
    """

    bench: Bench
    readings_file: str
    scan_file: str
    scan: ScanFit | None
    fitted: Guess
    gap: Fit | None
    remanence: Fit | None
    both: BothFit | None
    explanations: tuple[Explanation, ...]
    alternatives: tuple[Alternative, ...]
    unseen: tuple[Guess, ...]
    odd: OddOne | None = None

    @property
    def best(self) -> Explanation:
        """The explanation of the lowest score."""
        return self.explanations[0]

    @property
    def as_drawn(self) -> Explanation:
        """Nothing supposed."""
        return next(one for one in self.explanations if one.key == "as_drawn")

    @property
    def agrees(self) -> bool:
        """Whether the machine as drawn explains the readings as well as anything."""
        return self.as_drawn.explains and self.as_drawn.score < self.best.score + APART

    @property
    def worth_telling(self) -> tuple[Explanation, ...]:
        """The best, and all that do better than everything that supposes a part of the same."""
        score = {one.key: one.score for one in self.explanations}
        return tuple(one for one in self.explanations if one is self.best or _needed(one, score))

    @property
    def contradicts(self) -> bool:
        """Whether a reading is far out and nothing that was tried explains all of them."""
        allowed = self.bench.result.accuracy.error_estimate_percent / 100 + OUT
        off = abs(self.bench.ratio[self.bench.used] - 1)
        return bool((off > allowed).any()) and not any(one.explains for one in self.explanations)


def measured(
    result: RunResult, readings: Readings, scan: FieldScan | None = None, tell: Callable[[str], None] = lambda _: None
) -> Measured:
    """Hold bench readings against a machine as drawn.

    Parameters
    ----------
    result : the machine as drawn, answered
    readings, scan : as read
    tell : told what each of the `STEPS` is for, before it is taken

    Raises
    ------
    DesignError
        If a unit is wrong, a point of the scan lies where no field is known, or a row needs a load that is not there.
    SolveError
        If the steel of another gap does not converge.
    """
    parts = parts_of(result)
    bench = bench_of(result, drawn(parts), readings)
    check_units(bench, readings)
    highest = 0.0
    if scan is not None:
        check_scan(scan, result)
        highest = max(point.z_m for point in scan.points)
    return judged(known_of(parts, highest, tell), bench, readings, scan)


def known_of(parts: Parts, highest_m: float = 0.0, tell: Callable[[str], None] = lambda _: None) -> Known:
    """Solve the fields that explanations need; readings of one machine share them.

    Parameters
    ----------
    parts : the machine as drawn, taken apart
    highest_m : how high a scan reaches [m]; 0 without one
    tell : as `measured`

    Raises
    ------
    SolveError
        If the steel of another gap does not converge.
    """
    return Known(parts, gap_axis(parts, highest_m, tell), remanence_axis(parts, tell), tuple(winding_faults(parts)))


def judged(known: Known, bench: Bench, readings: Readings, scan: FieldScan | None = None) -> Measured:
    """Hold a bench whose units and scan were checked against what is known of its machine.

    Parameters
    ----------
    known : of the machine as drawn
    bench : the readings, row by row
    readings, scan : as read

    Raises
    ------
    SolveError
        If a load's currents do not become periodic.
    """
    parts, gap, remanence = known.parts, known.gap, known.remanence
    base = drawn(parts)
    laid_over = None if scan is None else fit_scan(scan, parts.result.field_map, gap)
    guesses, hidden = unseen([base, *known.faults, *reading_faults(parts, readings.rows)], bench)
    explanations = ranked(guesses, gap, remanence, bench, laid_over)
    fitted = _fitted(explanations)
    by_gap, by_strength = (curves_of(fitted, axis, bench, bench.used) for axis in (gap, remanence))
    gap_alone, strength_alone = fit(by_gap, laid_over, REACH), fit(by_strength, laid_over, REACH)
    return Measured(
        bench=bench,
        readings_file=readings.file,
        scan_file="" if scan is None else scan.file,
        scan=laid_over,
        fitted=fitted,
        gap=gap_alone,
        remanence=strength_alone,
        both=None if gap_alone is None else fit_both(by_gap, by_strength, laid_over, gap_alone),
        explanations=tuple(explanations),
        alternatives=_alternatives(explanations, gap, bench),
        unseen=tuple(hidden),
        odd=None if any(one.explains for one in explanations) else odd_one(base, gap, bench, laid_over),
    )


def _fitted(explanations: list[Explanation]) -> Guess:
    """What the fits suppose: nothing, as long as gap or magnets alone explain the readings nearly as well."""
    best = explanations[0]
    drawn = [one for one in explanations if one.guess.key == "as_drawn"]
    plain = any(one.explains and one.score < best.score + APART for one in drawn)
    return drawn[0].guess if plain or not best.explains else best.guess


def _alternatives(explanations: list[Explanation], gap: Axis, bench: Bench) -> tuple[Alternative, ...]:
    """Those near the best. One that supposes two things is left out where either alone does better."""
    best, *others = explanations
    score = {one.key: one.score for one in explanations}
    near = [one for one in others if one.score < best.score + APART and _needed(one, score)]
    return tuple(Alternative(one, telling_kind(best, one, gap, bench)) for one in near)


def _needed(one: Explanation, score: dict[str, float]) -> bool:
    """Whether nothing that supposes a part of the same does better."""
    return all(one.score <= score.get(simpler, one.score) for simpler in _simpler(one))


def _simpler(one: Explanation) -> tuple[str, ...]:
    """Keys of the explanations that suppose a part of the same."""
    free = tuple(f"as_drawn+{name}" for name in ("gap",) if one.gap is not None)
    alone = one.key.replace("+gap", "")
    return ("as_drawn", *free, alone)
