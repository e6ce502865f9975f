"""Steel from formulas, sampled into straight lines fine enough that the lines cannot be told from the law."""

from collections.abc import Callable
from typing import Any

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0

LAW_TOP_T = 2.2
"""Where a fitted law ends and slope mu0 takes over: above about 2.5 T the fits fall below it, which no steel does."""

RELATIVE_MISS, ABSOLUTE_MISS_A_PER_M = 1e-5, 1e-3
"""How far a straight line may miss the law's field strength: the larger of the two."""

PROBES = np.linspace(0, 1, 9)[1:-1]
"""Places inside an interval where the line is held against the law."""


def relative_permeability(law: dict[str, Any], b_t: Floats) -> Floats:
    """mu_r(B) = 1 + (mu_i - 1 + c_a b) / (1 + c_b b + b^n), b = |B| / B_m.

    The fit of the Modelica Standard Library (SoftMagnetic/mu_rApprox.mo); static, without hysteresis.

    Parameters
    ----------
    law : mu_i, B_m [T], c_a, c_b and n as `initial`, `peak_t`, `rise`, `fall` and `power`
    b_t : (...) [T]

    Returns
    -------
    (...) relative [1]
    """
    b = np.abs(b_t) / law["peak_t"]
    return np.asarray(1 + (law["initial"] - 1 + law["rise"] * b) / (1 + law["fall"] * b + b ** law["power"]))


def law_field_strength(law: dict[str, Any], b_t: Floats) -> Floats:
    """H(B) = B / (mu0 mu_r(B)) of a fitted law, (...) [T] to (...) [A/m]."""
    return np.asarray(b_t / (MU0 * relative_permeability(law, b_t)))


def sampled_law(name: str, law: dict[str, Any]) -> SteelCurve:
    """Sample a fitted law from 0 to `LAW_TOP_T`, halving intervals until straight lines follow it."""

    def strength(b_t: Floats) -> Floats:
        return law_field_strength(law, b_t)

    b = _refined(strength, np.linspace(0, LAW_TOP_T, 23))
    return SteelCurve(name, tuple(b.tolist()), tuple(strength(b).tolist()), law["source"])


def table_with_formulas(name: str, table: dict[str, Any]) -> SteelCurve:
    """Measured points, then the published continuation, sampled every 0.01 T up to saturation.

    B = mu0 H + q H^2 + l H + c up to the knee (of the two roots the smaller H, where B rises), then B = mu0 H + B_s.
    """
    q, slope = table["quadratic"], table["linear"] + MU0
    last, knee = table["b_t"][-1], table["knee_t"]
    b = np.arange(last + 0.01, knee - 0.015, 0.01)
    h = (-slope + np.sqrt(slope**2 - 4 * q * (table["constant"] - b))) / (2 * q)
    b_all = (*map(float, table["b_t"]), *b.tolist(), knee)
    h_all = (*map(float, table["h_a_per_m"]), *h.tolist(), (knee - table["saturation_t"]) / MU0)
    return SteelCurve(name, b_all, h_all, table["source"])


def _refined(law: Callable[[Floats], Floats], b: Floats) -> Floats:
    miss = _misses(law, b)
    while np.any(miss):
        b = np.sort(np.concatenate([b, (b[:-1] + b[1:])[miss] / 2]))
        miss = _misses(law, b)
    return b


def _misses(law: Callable[[Floats], Floats], b: Floats) -> np.ndarray[Any, np.dtype[np.bool_]]:
    inside = b[:-1, None] + np.diff(b)[:, None] * PROBES
    line = law(b[:-1])[:, None] + np.diff(law(b))[:, None] * PROBES
    true = law(inside)
    return np.asarray(np.any(np.abs(line - true) > np.maximum(RELATIVE_MISS * true, ABSOLUTE_MISS_A_PER_M), axis=1))
