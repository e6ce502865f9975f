"""Legendre functions of half-odd degree, Q_(m-1/2)(cosh eta): what a ring of charge that alternates m times makes.

The harmonic m of 1/R between two circles of radii r and r', d apart, is (2 / sqrt(r r')) Q_(m-1/2)(cosh eta) with
sinh(eta/2)^2 = ((r - r')^2 + d^2) / (4 r r'): one function of one variable for all distances. It comes from Heine's
integral, Q = integral over t from 0 to infinity of (cosh eta + sinh eta cosh t)^-(m+1/2) (Whittaker and Watson, A
Course of Modern Analysis, ch. 15; from memory), by the trapezoidal rule, which converges exponentially for it.
"""

import numpy as np
from scipy.interpolate import CubicSpline

from fieldrun.design.arrays import Floats

TRAPEZOIDS = 200
"""Steps over which the integrand falls to 1e-17: never longer than 0.3 for eta above 1e-6, where 0.5 is enough."""

KNOTS_PER_E_FOLD = 100
"""Knots of a table for every factor e of eta: the spline's error is then 1e-9."""


def scaled_legendre(m: int, eta: Floats) -> tuple[Floats, Floats]:
    """Q_(m-1/2)(cosh eta) and minus its derivative over eta, both times exp((m + 1/2) eta).

    With s = 1 - exp(-2 eta) and u = sinh(t/2)^2 the scaled integrand is (1 + s u)^-(m+1/2), and that of the derivative
    (m + 1/2) (1 + (2 - s) u) (1 + s u)^-(m+3/2): nothing cancels at any eta.

    Parameters
    ----------
    m : 1 or more
    eta : (k,) above 0

    Returns
    -------
    Both (k,) [1]
    """
    power = m + 0.5
    s = -np.expm1(-2 * eta)[:, None]
    end = 2 * np.arcsinh(np.sqrt(np.expm1(40 / power) / s))
    u = np.sinh(end * np.linspace(0, 1, TRAPEZOIDS + 1) / 2) ** 2
    value = (1 + s * u) ** -power
    slope = power * (1 + (2 - s) * u) * value / (1 + s * u)
    step = end[:, 0] / TRAPEZOIDS
    return step * (value.sum(axis=1) - value[:, 0] / 2), step * (slope.sum(axis=1) - slope[:, 0] / 2)


def legendre_table(m: int, low: float, high: float) -> CubicSpline:
    """Both functions for any eta from `low` to `high`, as a spline over log(eta) with the columns (Q, -eta dQ/deta).

    They are scaled as in `scaled_legendre`; times eta the derivative stays finite where Q grows like -log(eta). Within
    1e-9, by `KNOTS_PER_E_FOLD`.
    """
    span = np.log(high / low)
    log_eta = np.log(low) + np.linspace(0, span, int(span * KNOTS_PER_E_FOLD) + 4)
    eta = np.exp(log_eta)
    value, slope = scaled_legendre(m, eta)
    return CubicSpline(log_eta, np.stack([value, eta * slope], axis=1))
