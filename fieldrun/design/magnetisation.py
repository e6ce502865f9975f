"""Steel as the solver sees it: field strength and its slope at any flux density."""

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Floats
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0


def field_strength(curve: SteelCurve, flux_density_t: ArrayLike) -> tuple[Floats, Floats]:
    """Field strength and differential reluctivity: straight lines between the curve's points, slope mu0 beyond.

    Parameters
    ----------
    curve : magnetisation curve from (0, 0) upwards
    flux_density_t : (...) magnitude [T], not negative

    Returns
    -------
    H (...) [A/m] and dH/dB (...) [m/H]; at a point of the table the slope above it
    """
    b, h = np.asarray(curve.b_t), np.asarray(curve.h_a_per_m)
    slopes = np.append(np.diff(h) / np.diff(b), 1 / MU0)
    flux = np.asarray(flux_density_t, float)
    piece = np.clip(np.searchsorted(b, flux, side="right") - 1, 0, len(b) - 1)
    return h[piece] + slopes[piece] * (flux - b[piece]), slopes[piece]


def flux_density(curve: SteelCurve, field_strength_a_per_m: ArrayLike) -> Floats:
    """Flux density at a field strength, the inverse of `field_strength` [T].

    Parameters
    ----------
    curve : magnetisation curve from (0, 0) upwards
    field_strength_a_per_m : (...) magnitude [A/m], not negative
    """
    b, h = np.asarray(curve.b_t), np.asarray(curve.h_a_per_m)
    strength = np.asarray(field_strength_a_per_m, float)
    return np.asarray(np.interp(strength, h, b) + MU0 * np.maximum(strength - h[-1], 0))


def permeabilities(curve: SteelCurve, field_strength_a_per_m: ArrayLike) -> tuple[Floats, Floats]:
    """Relative permeabilities at a field strength: B / (mu0 H) and dB/dH / mu0.

    Parameters
    ----------
    curve : magnetisation curve from (0, 0) upwards
    field_strength_a_per_m : (...) magnitude [A/m], not negative

    Returns
    -------
    Both (...), at least 1 if the curve nowhere rises less than air; at H = 0 both are the curve's first slope
    """
    b, h = np.asarray(curve.b_t), np.asarray(curve.h_a_per_m)
    slopes = np.append(np.diff(b) / np.diff(h), MU0) / MU0
    strength = np.asarray(field_strength_a_per_m, float)
    piece = np.clip(np.searchsorted(h, strength, side="right") - 1, 0, len(h) - 1)
    rise = slopes[piece]
    start = b[piece] / MU0 - rise * h[piece]
    safe = np.where(strength > 0, strength, 1.0)
    return np.where(strength > 0, rise + start / safe, rise), rise
