"""Every explanation of the readings, the best first.

Score = chi-square + 2 for every value set free: a gap other than drawn (within 15 %), magnets of another strength, wire
of other ohms (within 15 %; beyond, the wire is another one, which is a mistake besides). That is Akaike's criterion
(IEEE Trans. Automatic Control 19 (1974) 716, from memory) for errors of known size: one more value must make the
readings e times as likely to be worth it. A mistake sets nothing free, but is one of many that were tried: 1.5
(judgement; it decides only between explanations that fit alike). chi-square takes the covariance of `bench`: each row's
own noise and what all rows share. Nobody knows which pair of uneven lines was read: each row takes the likelier one and
pays -2 ln of its share for the choice. Explanations whose scores differ by less than 4 (likelihoods by less than e^2)
are not told apart by these readings.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtri

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.studies.measured.axes import Axis
from fieldrun.studies.measured.bench import Bench
from fieldrun.studies.measured.curves import Curves, curves_of, left_over
from fieldrun.studies.measured.fits import Fit, chi_square, fit
from fieldrun.studies.measured.guess import Guess
from fieldrun.studies.measured.predict import predicted
from fieldrun.studies.measured.scan import ScanFit

FREE, MISTAKE = 2.0, 1.5
"""Price of a value set free, and of a mistake supposed."""

OTHER_OHMS = "other_ohms"
"""The guess whose ohms are free."""

APART = 4.0
"""Scores nearer than this are not told apart."""

FREE_GAP, FREE_REMANENCE = 0.15, 0.1
"""How far gap and remanence may be from the drawing, as shares."""

SAME_WIRE = 0.15
"""Ohms farther off than that, as a share, are not those of the wire that was meant."""

HOPELESS = 40.0
"""Explanations so much behind on the rows without a load are not tried on those with one."""

UNLIKELY = 1e-3
"""A chi-square that would be met less often than this is not explained."""

SEEN = 0.5
"""A mistake that moves no reading by more than this share of its error is not seen in them."""


@dataclass(frozen=True, eq=False)
class Explanation:
    """One explanation and what it leaves.

    Parameters
    ----------
    guess : what happened
    gap : the free gap, if it is free
    remanence, ohm_ratio : likewise, alone only
    chi_square, score : as the module says
    left : (r,) what rows miss of it, natural logarithms [1]
    predicted : (r,) what the rows should be, in their units [V, A or ohm]
    explains : whether chances alone may leave so much
    """

    guess: Guess
    gap: Fit | None
    remanence: Fit | None
    ohm_ratio: float | None
    chi_square: float
    score: float
    left: Floats
    predicted: Floats
    explains: bool

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "left", frozen_array(self.left))
        object.__setattr__(self, "predicted", frozen_array(self.predicted))

    @property
    def left_percent(self) -> float:
        """Effective miss of the rows [%]."""
        return 100 * float(np.sqrt(np.mean(self.left**2)))

    @property
    def key(self) -> str:
        """Stable name: the guess, and what is free."""
        free = {"gap": self.gap, "remanence": self.remanence, "ohm": self.ohm_ratio}
        return "+".join([self.guess.key, *(name for name, value in free.items() if value is not None)])


def ranked(
    guesses: Sequence[Guess], gap: Axis, remanence: Axis, bench: Bench, scan: ScanFit | None
) -> list[Explanation]:
    """Try every guess, as it is and with a free gap; the first guess is the machine as drawn.

    Raises
    ------
    SolveError
        If a load's currents do not become periodic.
    """
    open_rows = bench.used & ~bench.is_loaded
    tables = [curves_of(guess, gap, bench, open_rows) for guess in guesses]
    if np.any(bench.is_loaded):
        least = [_least(table, scan) for table in tables]
        hope = min(least) + HOPELESS
        tables = [
            curves_of(guess, gap, bench, bench.used) if score <= hope else table
            for guess, table, score in zip(guesses, tables, least, strict=True)
        ]
    found = [one for guess, table in zip(guesses, tables, strict=True) for one in _both(guess, table, scan)]
    strength = curves_of(guesses[0], remanence, bench, bench.used)
    found += [*_stronger(guesses[0], strength, scan), *_other_wire(guesses[0], tables[0], scan)]
    return sorted(found, key=lambda one: one.score)


def _least(table: Curves, scan: ScanFit | None) -> float:
    free = fit(table, scan, FREE_GAP)
    as_it_is = chi_square(table, scan, table.axis.drawn)
    return as_it_is if free is None else min(as_it_is, free.chi_square)


def _both(guess: Guess, table: Curves, scan: ScanFit | None) -> list[Explanation]:
    supposed = _price(guess)
    plain = _explanation(guess, table, table.axis.drawn, chi_square(table, scan, table.axis.drawn), supposed, scan)
    free = fit(table, scan, FREE_GAP)
    if free is None:
        return [plain]
    other = _explanation(guess, table, free.value, free.chi_square, supposed + FREE, scan)
    return [plain, replace(other, gap=free)]


def _price(guess: Guess) -> float:
    """What a guess costs without a free gap."""
    if guess.key == "as_drawn":
        return 0.0
    if guess.key != OTHER_OHMS:
        return MISTAKE
    return FREE if abs(np.log(guess.ohm[0])) < np.log(1 + SAME_WIRE) else FREE + MISTAKE


def _stronger(guess: Guess, table: Curves, scan: ScanFit | None) -> list[Explanation]:
    free = fit(table, scan, FREE_REMANENCE)
    if free is None:
        return []
    return [replace(_explanation(guess, table, free.value, free.chi_square, FREE, scan), remanence=free)]


def _other_wire(guess: Guess, table: Curves, scan: ScanFit | None) -> list[Explanation]:
    """Ohms of their own, volts as drawn: thicker or thinner wire, a poor joint."""
    bench = table.bench
    rows = bench.is_ohm & bench.used
    if not np.any(rows):
        return []
    ratio = float(np.exp(np.mean(np.log(bench.ratio[rows]))))
    other = replace(guess, key=OTHER_OHMS, text="the wire has other ohms than stated", ohm=guess.ohm * ratio)
    again = curves_of(other, table.axis, bench, table.rows)
    found = _both(replace(other), again, scan)
    return [replace(one, ohm_ratio=ratio) for one in found]


def _explanation(  # noqa: PLR0917 - the parts of one record
    guess: Guess, table: Curves, value: float, chi: float, supposed: float, scan: ScanFit | None
) -> Explanation:
    missed, _, chosen = left_over(table, table.at(value))
    counted = int(np.sum(table.rows & table.bench.used)) + (0 if scan is None else len(scan.measured))
    explains = chi <= float(chdtri(max(counted, 1), UNLIKELY))
    return Explanation(guess, None, None, None, chi, chi + supposed, missed, np.exp(chosen), explains)


def unseen(guesses: Sequence[Guess], bench: Bench) -> tuple[list[Guess], list[Guess]]:
    """Guesses that show in the readings, the machine as drawn first, and those that move none of them."""
    seen: list[Guess] = [guesses[0]]
    hidden: list[Guess] = []
    for guess in guesses[1:]:
        (seen if _shows(guess, bench) else hidden).append(guess)
    return seen, hidden


def _shows(guess: Guess, bench: Bench) -> bool:
    """Whether any reading would differ; a load's rows, which take longer, are asked last."""
    for index in np.argsort(bench.is_loaded, kind="stable").tolist():
        if bench.used[index]:
            found = predicted(bench.result, guess, bench.rows[index], bench.loads[index])
            there = np.maximum(found.values, bench.floor[index])
            if (
                np.max(np.abs(np.log(there / max(bench.as_drawn[index], bench.floor[index]))))
                > SEEN * bench.sigma[index]
            ):
                return True
    return False
