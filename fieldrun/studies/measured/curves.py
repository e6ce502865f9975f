"""How every reading follows the gap or the remanence, under one guess; and what is left of the readings then."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.studies.measured.axes import Axis
from fieldrun.studies.measured.bench import Bench, Bools
from fieldrun.studies.measured.guess import Guess, scaled
from fieldrun.studies.measured.predict import CHOICES, Candidates, predicted


@dataclass(frozen=True, eq=False)
class Curves:
    """Predictions of some rows at the nodes of an axis.

    Parameters
    ----------
    axis : gap or remanence
    bench : the readings
    rows : (r,) which of them are predicted
    log_values : (k, r, choices) natural logarithm of what each may be
    penalty : (r, choices) -2 ln of its share beforehand [1]; infinite for a choice that is none
    """

    axis: Axis
    bench: Bench
    rows: Bools
    log_values: Floats
    penalty: Floats

    def __post_init__(self) -> None:
        """Copy and lock the array that is finite."""
        object.__setattr__(self, "log_values", frozen_array(self.log_values))

    @cached_property
    def counted(self) -> Bools:
        """Which rows count, (r,)."""
        return frozen_array(self.rows & self.bench.used, np.bool_)

    @cached_property
    def _of_load(self) -> PchipInterpolator:
        return PchipInterpolator(self.axis.nodes, self.log_values[:, self.bench.is_loaded], axis=0)

    def at(self, value: float | Floats) -> Floats:
        """Natural logarithms at one or more values (...) of the axis, (..., r, choices): a polynomial; for a load's
        rows, which start from nothing at some EMF, pieces that do not swing (PCHIP). No unit: of numbers in volts,
        amperes and ohms.
        """
        smooth = self.axis.at(self.log_values, value)
        if np.any(self.bench.is_loaded):
            smooth[..., self.bench.is_loaded, :] = self._of_load(value)
        return smooth


def curves_of(guess: Guess, axis: Axis, bench: Bench, rows: Bools) -> Curves:
    """Predict the rows of a guess over an axis.

    Parameters
    ----------
    guess, axis, bench : what happened, gap or remanence, and the readings
    rows : (r,) which of them to predict

    Raises
    ------
    SolveError
        If a load's currents do not become periodic.
    """
    table = [_row_values(scaled(guess, factor), bench, rows) for factor in axis.factors]
    penalty = np.full((len(bench.rows), CHOICES), np.inf)
    values = np.zeros((len(axis.nodes), len(bench.rows), CHOICES))
    floor = bench.floor
    for index in range(len(bench.rows)):
        for node, found in enumerate(table):
            count = len(found[index].values)
            values[node, index] = np.log(max(found[index].values[0], floor[index]))
            values[node, index, :count] = np.log(np.maximum(found[index].values, floor[index]))
        shares = table[0][index].shares
        penalty[index, : len(shares)] = -2 * np.log(shares)
    return Curves(axis, bench, rows, values, penalty)


def _row_values(guess: Guess, bench: Bench, rows: Bools) -> list[Candidates]:
    """Predictions; of rows that are left out, what was measured."""
    return [
        predicted(bench.result, guess, row, load) if wanted else Candidates((row.value,))
        for row, load, wanted in zip(bench.rows, bench.loads, rows, strict=True)
    ]


def left_over(curves: Curves, log_values: Floats) -> tuple[Floats, Floats, Floats]:
    """What readings miss of predictions, and at which price.

    Parameters
    ----------
    curves : readings and what each choice costs
    log_values : (..., r, choices) natural logarithms of the predictions

    Returns
    -------
    (..., r) misses as logarithms [1], 0 for rows that do not count; (...) the price, -2 ln of the choices' shares;
    (..., r) the chosen logarithms
    """
    bench = curves.bench
    misses = bench.log_measured[:, None] - log_values
    cost = (misses / bench.sigma[:, None]) ** 2 + curves.penalty
    choice = np.argmin(cost, axis=-1)[..., None]
    missed, chosen = (np.take_along_axis(values, choice, axis=-1)[..., 0] for values in (misses, log_values))
    penalty = curves.penalty[np.arange(len(bench.rows)), choice[..., 0]]
    price = np.sum(penalty, axis=-1, where=curves.counted)
    return np.where(curves.counted, missed, 0.0), price, chosen


def whitened(misses: Floats, sigma: Floats, common: Floats) -> Floats:
    """Misses (..., m) in units of their error, (..., m) [1]: `sigma` (m,) is each one's own, `common` shared by all.

    The inverse root of the covariance diag(sigma^2) + common common^T, by the formula for one direction.
    """
    own, shared = misses / sigma, common / sigma
    size = float(shared @ shared)
    if size == 0:
        return np.asarray(own)
    return np.asarray(own - shared * (own @ shared)[..., None] / size * (1 - 1 / np.sqrt(1 + size)))


def row_misses(curves: Curves, misses: Floats) -> Floats:
    """Whitened misses (..., m) [1] of the rows that count, of all (..., r): volts and amperes first, then ohms."""
    bench = curves.bench
    parts = [curves.counted & ~bench.is_ohm, curves.counted & bench.is_ohm]
    found = [whitened(misses[..., part], bench.sigma[part], bench.common[part]) for part in parts]
    return np.concatenate(found, axis=-1)
