"""One reading that alone stands against all others: a slip of the pen or of the meter, rather than of the machine."""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtri

from fieldrun.studies.measured.axes import Axis
from fieldrun.studies.measured.bench import Bench
from fieldrun.studies.measured.curves import Curves, curves_of
from fieldrun.studies.measured.fits import Fit, chi_square, fit
from fieldrun.studies.measured.guess import Guess
from fieldrun.studies.measured.ranking import FREE_GAP, UNLIKELY
from fieldrun.studies.measured.scan import ScanFit

LEAST_LEFT = 3
"""Readings that must agree before one is blamed for standing against them."""


@dataclass(frozen=True, eq=False)
class OddOne:
    """A reading without which the machine as drawn explains all others.

    Parameters
    ----------
    row : its place among the rows
    gap : the gap that the others want; None if the drawn one will do
    """

    row: int
    gap: Fit | None


def odd_one(drawn: Guess, axis: Axis, bench: Bench, scan: ScanFit | None) -> OddOne | None:
    """The one reading that stands against all others; None if there is none, or if it might be one or another.

    Parameters
    ----------
    drawn : the machine as drawn
    axis : what the gap does
    bench : the readings, which nothing explains all of
    scan : the field's scan
    """
    if int(np.sum(bench.used)) <= LEAST_LEFT:
        return None
    table = curves_of(drawn, axis, bench, bench.used)
    as_it_is = [OddOne(row, None) for row in _rows(bench) if _explains(_without(table, row), scan, axis.drawn)]
    if as_it_is:
        return as_it_is[0] if len(as_it_is) == 1 else None
    fits = {row: fit(_without(table, row), scan, FREE_GAP) for row in _rows(bench)}
    with_gap = [
        OddOne(row, free)
        for row, free in fits.items()
        if free is not None and _explains(_without(table, row), scan, free.value)
    ]
    return with_gap[0] if len(with_gap) == 1 else None


def _rows(bench: Bench) -> list[int]:
    return [int(row) for row in np.flatnonzero(bench.used)]


def _without(table: Curves, row: int) -> Curves:
    return replace(table, rows=table.rows & (np.arange(len(table.rows)) != row))


def _explains(table: Curves, scan: ScanFit | None, value: float) -> bool:
    """Whether chances alone may leave so much."""
    counted = int(np.sum(table.rows & table.bench.used)) + (0 if scan is None else len(scan.measured))
    return bool(chi_square(table, scan, value) <= float(chdtri(counted, UNLIKELY)))
