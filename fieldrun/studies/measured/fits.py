"""Gap and remanence from readings: each alone with its standard error, and both together if the readings can tell.

Least squares on logarithms of the ratios (and on the scan's field as it is), weighted by the errors of `bench`. The
standard error is the one of the linear fit at the solution, 1/sqrt(J'J), J the slope of the weighted misses. Both
together: the correlation of the two columns of J says whether they differ in any reading; EMF readings rise and fall
alike with either, so that one can stand for the other.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares, minimize_scalar

from fieldrun.design.arrays import Floats
from fieldrun.studies.measured.curves import Curves, left_over, row_misses, whitened
from fieldrun.studies.measured.scan import COMMON, ScanFit

GRID = 21
"""Values that are tried before the best is refined."""

APART = 0.05
"""Both together are told apart if neither's standard error exceeds this share of it."""

SLOPE = 1e-4
"""Share by which a value is moved for a slope."""

BLIND = 1e-3
"""Slopes smaller than that [standard errors per 100 %] say nothing."""


@dataclass(frozen=True)
class Fit:
    """One free value that explains the readings best.

    Parameters
    ----------
    value, error : and its standard error [m] or [T]
    drawn : in the design
    chi_square : what is left, squared, in units of its error; prices of choices included
    at_edge : whether the best lies at the edge of where was looked
    """

    value: float
    error: float
    drawn: float
    chi_square: float
    at_edge: bool


@dataclass(frozen=True)
class BothFit:
    """Gap and remanence both free.

    Parameters
    ----------
    correlation : of what they do to the readings, -1..1: both ends mean that they cannot be told apart
    condition : of the normal equations' root, for columns of equal length
    gap_m, gap_error_m, remanence_t, remanence_error_t : where they can
    exchange_m : the change of the gap that does the same as 1 % less remanence
    """

    correlation: float
    condition: float
    exchange_m: float
    gap_m: float | None = None
    gap_error_m: float | None = None
    remanence_t: float | None = None
    remanence_error_t: float | None = None

    @property
    def told_apart(self) -> bool:
        """Whether the readings can tell one from the other."""
        return self.gap_m is not None


def misses_at(curves: Curves, scan: ScanFit | None, value: float | Floats) -> tuple[Floats, Floats]:
    """Weighted misses (..., m) [1] of rows and scan at values (...) of the axis, and the price (...) of choices."""
    missed, price, _ = left_over(curves, curves.at(value))
    misses = row_misses(curves, missed)
    return misses if scan is None else np.concatenate([misses, _scan_misses(curves, scan, value)], axis=-1), price


def _scan_misses(curves: Curves, scan: ScanFit, value: float | Floats, strength: float = 1.0) -> Floats:
    axis = curves.axis
    there = axis.at(scan.at_nodes, value) if axis.maps else _of_first(curves, value)[..., None] * scan.as_drawn
    return _weighted(scan, strength * there)


def _of_first(curves: Curves, value: float | Floats) -> Floats:
    """How much stronger the field is at remanences, (v)."""
    return np.asarray(curves.axis.factor_at(value)[..., 0].real)


def _weighted(scan: ScanFit, there: Floats) -> Floats:
    count = len(scan.measured)
    return whitened(scan.measured - there, np.full(count, scan.sigma), COMMON * scan.as_drawn)


def chi_square(curves: Curves, scan: ScanFit | None, value: float) -> float:
    """What is left at a value, squared, with the price of choices."""
    return float(_chi_squares(curves, scan, value))


def _chi_squares(curves: Curves, scan: ScanFit | None, value: float | Floats) -> Floats:
    """The same at many values (v)."""
    misses, price = misses_at(curves, scan, value)
    return np.asarray((misses**2).sum(axis=-1) + price)


def fit(curves: Curves, scan: ScanFit | None, reach: float) -> Fit | None:
    """Free the axis' value within a share `reach` of the drawn one; None where no reading depends on it."""
    axis = curves.axis
    low, high = max(axis.nodes[0], (1 - reach) * axis.drawn), min(axis.nodes[-1], (1 + reach) * axis.drawn)

    def cost(value: float) -> float:
        return chi_square(curves, scan, value)

    grid = np.linspace(low, high, GRID)
    costs = _chi_squares(curves, scan, grid)
    best, step = grid[int(np.argmin(costs))], grid[1] - grid[0]
    found = minimize_scalar(
        cost, bounds=(max(low, best - step), min(high, best + step)), method="bounded", options={"xatol": 1e-6 * high}
    )
    value = float(found.x) if found.fun <= costs.min() else float(best)
    slope = _slope(lambda one: misses_at(curves, scan, one)[0], value)
    steepness = float(np.linalg.norm(slope))
    if steepness * axis.drawn < BLIND:
        return None
    at_edge = bool(min(value - low, high - value) < 1e-3 * (high - low))
    return Fit(value, 1 / steepness, axis.drawn, cost(value), at_edge)


def _slope(function: Callable[[float], Floats], value: float) -> Floats:
    step = SLOPE * value
    return (function(value + step) - function(value - step)) / (2 * step)


def fit_both(gap: Curves, remanence: Curves, scan: ScanFit | None, start: Fit) -> BothFit | None:
    """Free gap and remanence together; None where one of them moves nothing.

    Parameters
    ----------
    gap, remanence : curves of the same guess
    scan : if there is one
    start : the gap alone
    """
    shares = np.array([1.0 / gap.axis.drawn, 1.0 / remanence.axis.drawn])

    def misses(share: Floats) -> Floats:
        length, strength = share / shares
        logs = gap.at(length) + remanence.at(strength) - remanence.at(remanence.axis.drawn)
        missed, _, _ = left_over(gap, logs)
        rows = row_misses(gap, missed)
        if scan is None:
            return rows
        return np.concatenate([rows, _scan_misses(gap, scan, length, float(_of_first(remanence, strength)))])

    low = np.array([gap.axis.nodes[0], remanence.axis.nodes[0]]) * shares
    high = np.array([gap.axis.nodes[-1], remanence.axis.nodes[-1]]) * shares
    middle = np.clip(np.array([start.value, remanence.axis.drawn]) * shares, low + 1e-6, high - 1e-6)
    found = least_squares(misses, middle, bounds=(low, high), diff_step=np.array([SLOPE, SLOPE]))
    columns = np.stack([_slope(lambda x, k=k: misses(_moved(found.x, k, x)), found.x[k]) for k in (0, 1)], axis=1)  # type: ignore[misc]
    sizes = np.linalg.norm(columns, axis=0)
    if np.any(sizes < BLIND):
        return None
    correlation = float(columns[:, 0] @ columns[:, 1] / (sizes[0] * sizes[1]))
    exchange = 0.01 * float(columns[:, 0] @ columns[:, 1] / sizes[0] ** 2) * gap.axis.drawn
    condition = math.sqrt((1 + abs(correlation)) / max(1 - abs(correlation), 1e-15))
    untold = BothFit(correlation, condition, exchange)
    if 1 - correlation**2 < 1e-12:
        return untold
    errors = np.sqrt(np.diag(np.linalg.inv(columns.T @ columns)))
    inside = bool(np.all((found.x > low + 1e-4) & (found.x < high - 1e-4)))
    if not inside or np.any(errors > APART * found.x):
        return untold
    (length, strength), (length_error, strength_error) = found.x / shares, errors / shares
    return BothFit(
        correlation, condition, exchange, float(length), float(length_error), float(strength), float(strength_error)
    )


def _moved(point: Floats, index: int, value: float) -> Floats:
    moved = point.copy()
    moved[index] = value
    return moved
