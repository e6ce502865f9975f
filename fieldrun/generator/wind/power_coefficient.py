"""What a rotor takes from the wind at every tip-speed ratio, from standstill to where it runs free."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import PowerCoefficients, Turbine

FORMULA = (0.5176, 116.0, 0.4, 5.0, 21.0, 0.0068)
"""c1 to c6 (S. Heier, Grid Integration of Wind Energy Conversion Systems, from memory)."""

USUAL_PEAK_CP = 0.35
"""Small rotors of three blades reach 0.35 to 0.45 (Khan & Pillay, studylib.net/doc/18836031): home-made ones less."""

LYSEN = 0.5
"""Torque coefficient at standstill times the square of the best tip-speed ratio, an empirical rule (E. H. Lysen,
Introduction to Wind Energy, CWD 82-1, 1983, from memory)."""

TELLS_ITS_START = 0.25
"""A measured curve that begins below this share of its best tip-speed ratio says itself how the rotor starts."""

POINTS = 2001


@dataclass(frozen=True, eq=False)
class RotorCurve:
    """A rotor's torque coefficient cq = cp / lambda; straight lines between the points.

    Parameters
    ----------
    tip_speed_ratio : (k,) lambda, from 0 to where the rotor runs free [1]
    torque_coefficient : (k,) cq; torque = cq rho A R v^2 / 2 [1]
    best_tip_speed_ratio, peak_cp : where it takes most power, and how much [1]
    source : what the curve is, in words
    """

    tip_speed_ratio: Floats
    torque_coefficient: Floats
    best_tip_speed_ratio: float
    peak_cp: float
    source: str

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("tip_speed_ratio", "torque_coefficient"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def start_torque_coefficient(self) -> float:
        """At standstill."""
        return float(self.torque_coefficient[0])

    @property
    def free_tip_speed_ratio(self) -> float:
        """Where it gives no torque any more: how fast it runs with nothing to hold it back."""
        return float(self.tip_speed_ratio[-1])

    @property
    def strongest_tip_speed_ratio(self) -> float:
        """Where it gives most torque; a rotor slowed below that is stalled and slows further."""
        return float(self.tip_speed_ratio[np.argmax(self.torque_coefficient)])

    def torque_coefficients(self, tip_speed_ratio: Floats) -> Floats:
        """Cq at any tip-speed ratios, (...) to (...) [1]; 0 beyond the free one."""
        return np.asarray(np.interp(tip_speed_ratio, self.tip_speed_ratio, self.torque_coefficient, right=0.0))


def formula_cp(tip_speed_ratio: Floats | float) -> Floats:
    """Cp = c1 (c2 / l - c4) exp(-c5 / l) + c6 lambda with 1 / l = 1 / lambda - 0.035, blades not turned (beta = 0).

    The open formula of Heier's book for large rotors of three blades: at most 0.480012, at lambda = 8.100. At
    standstill its c6 alone is left, a term of the fit and not of any rotor.

    Parameters
    ----------
    tip_speed_ratio : (...) lambda, above 0

    Returns
    -------
    (...) cp [1]
    """
    c1, c2, _, c4, c5, c6 = FORMULA
    ratio = np.asarray(tip_speed_ratio, dtype=float)
    inverse = 1 / ratio - 0.035
    return np.asarray(c1 * (c2 * inverse - c4) * np.exp(-c5 * inverse) + c6 * ratio)


@lru_cache
def formula_marks() -> tuple[float, float, float]:
    """Best tip-speed ratio, peak and free tip-speed ratio of the formula."""
    best = minimize_scalar(lambda x: -float(formula_cp(x)), bounds=(5, 11), method="bounded", options={"xatol": 1e-10})
    free = brentq(lambda x: float(formula_cp(x)), 11, 20)
    return float(best.x), -float(best.fun), float(free)


def rotor_curve(turbine: Turbine) -> RotorCurve:
    """The curve that a design asks for.

    A table of its own; else Heier's formula, as it stands or stretched along both axes through `tip_speed_ratio` and
    `peak_cp`. The coefficient at standstill is the design's, or a table's own where it begins early, or Lysen's rule.
    """
    if turbine.cp is not None:
        return _of_table(turbine.cp, turbine.start_torque_coefficient)
    best, peak, free = formula_marks()
    if turbine.tip_speed_ratio is None:
        return _of_formula((best, peak, free), turbine.start_torque_coefficient, "Heier's formula")
    stretch = turbine.tip_speed_ratio / best
    marks = (turbine.tip_speed_ratio, USUAL_PEAK_CP if turbine.peak_cp is None else turbine.peak_cp, free * stretch)
    source = f"Heier's formula stretched to {marks[1]:g} at tip-speed ratio {marks[0]:g}"
    return _of_formula(marks, turbine.start_torque_coefficient, source)


def _of_formula(marks: tuple[float, float, float], start: float | None, source: str) -> RotorCurve:
    best, peak, free = marks
    true_best, true_peak, _ = formula_marks()
    ratio = np.linspace(0, free, POINTS)
    torque = np.zeros(POINTS)
    torque[1:] = peak / true_peak * formula_cp(ratio[1:] * true_best / best) / ratio[1:]
    torque[0], torque[-1] = torque[1], 0.0
    wanted = by_rule(best, float(torque.max())) if start is None else start
    return RotorCurve(ratio, _started(ratio, torque, wanted), best, peak, source)


def _started(ratio: Floats, torque: Floats, start: float) -> Floats:
    """Cq with its own value at standstill: even up to where the curve meets it.

    A start above all of the curve goes down in a straight line to the curve's greatest torque; one below the formula's
    own standstill goes up in a straight line to where the curve has twice that.
    """
    top = int(np.argmax(torque))
    if start > torque[top]:
        meet = top
        line = start + (torque[top] - start) * ratio / ratio[top]
    elif start > torque[0]:
        meet = int(np.argmax(torque >= start))
        line = np.full_like(ratio, start)
    else:
        meet = int(np.argmax(torque >= 2 * torque[0]))
        line = start + (torque[meet] - start) * ratio / ratio[meet]
    return np.where(np.arange(len(ratio)) < meet, line, torque)


def _of_table(table: PowerCoefficients, start: float | None) -> RotorCurve:
    ratio, cp = (np.array(column) for column in (table.tip_speed_ratio, table.cp))
    ratio, cp = ratio[ratio > 0], cp[ratio > 0]
    peak = int(np.argmax(cp))
    free = _free(ratio, cp, peak)
    rows = ratio < free
    fine = np.union1d(np.linspace(0, free, POINTS), ratio[rows])
    torque, inside = np.zeros_like(fine), fine >= ratio[0]
    torque[inside] = np.interp(fine[inside], np.append(ratio[rows], free), np.append(cp[rows], 0.0)) / fine[inside]
    first = float(cp[0] / ratio[0])
    rule = first if tells_its_start(table) else by_rule(float(ratio[peak]), float(np.max(cp / ratio)))
    wanted = rule if start is None else start
    torque[~inside] = wanted + (first - wanted) * fine[~inside] / ratio[0]
    return RotorCurve(fine, torque, float(ratio[peak]), float(cp[peak]), f"the user's table {table.name}")


def by_rule(best_tip_speed_ratio: float, greatest: float) -> float:
    """Torque coefficient at standstill by Lysen's rule, and no more than the curve's greatest."""
    return min(LYSEN / best_tip_speed_ratio**2, greatest)


def tells_its_start(table: PowerCoefficients) -> bool:
    """Whether a curve begins so early that its first row says how the rotor starts."""
    first = next(ratio for ratio in table.tip_speed_ratio if ratio > 0)
    best = table.tip_speed_ratio[int(np.argmax(table.cp))]
    return first <= TELLS_ITS_START * best


def _free(ratio: Floats, cp: Floats, peak: int) -> float:
    """Where the curve comes down to nothing behind its peak, by a line through the last two rows if it ends above."""
    down = np.flatnonzero(cp[peak:] <= 0)
    if len(down) == 0:
        return float(ratio[-1] + cp[-1] * (ratio[-1] - ratio[-2]) / (cp[-2] - cp[-1]))
    after = peak + int(down[0])
    share = cp[after - 1] / (cp[after - 1] - cp[after])
    return float(ratio[after - 1] + share * (ratio[after] - ratio[after - 1]))
