"""Eddy currents within strands: what passing magnets waste in copper, loaded or not; and why skin effect is nil."""

import math

import numpy as np
from scipy.special import jve

from fieldrun.design.arrays import Floats
from fieldrun.design.materials import copper_resistivity
from fieldrun.design.model import Wire
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import Samples, distinct, gauss_samples

ALONG_SHARE = 0.5
"""A field along a round wire wastes half of what the same field across it does: its currents go round in rings."""


def strand_loss_w_per_m(diameter_m: float, resistivity_ohm_m: float, rate_t_s: float | Floats) -> float | Floats:
    """Eddy loss per metre of round wire in a field across it, P/l = pi (w B)^2 d^4 / (128 rho) [W/m].

    Assumes a wire far thinner than the skin depth, in a field even across it: J = (dB/dt) x / rho, and x^2 over the
    circle gives pi d^4 / 64. Derived so, and confirmed by the exact solution with Bessel functions; handbook forms with
    64 in place of 128 (from memory) hold for the effective value of B.

    Parameters
    ----------
    diameter_m : bare diameter d [m]
    resistivity_ohm_m : rho [ohm m]
    rate_t_s : (...) amplitude w B of a sinusoidal dB/dt [T/s]
    """
    return math.pi * diameter_m**4 / (128 * resistivity_ohm_m) * rate_t_s**2


def eddy_loss_w_s2(field_map: FieldMap, pieces: Pieces, wire: Wire) -> float:
    """Eddy loss of a whole winding at speed Omega over Omega^2: it grows with the square of speed [W s^2].

    The sum over harmonics of the loss per metre at w = n p Omega, integrated along every conductor at its own radius
    and height, times strands. Components of the field across the wire count each by itself (a turning field is two
    fields a quarter period apart); the component along the wire counts half. Every strand is taken to see the field of
    the bundle's middle and to run along it, as much longer as its twist makes it.

    Parameters
    ----------
    field_map : harmonics of the rotor's field; must reach the heights of all conductors
    pieces : all conductors of all phases
    wire : strands, their diameter and temperature

    Raises
    ------
    ValueError
        If a conductor leaves the heights of the map.
    """
    different = distinct(pieces)
    samples = gauss_samples(different.pieces, np.unique(field_map.radii_m), 0.0)  # |b_n|^2 knows no angle
    length, rate = _along(samples), squared_rates(field_map, samples)
    own = np.bincount(samples.piece, rate * length, different.pieces.count)
    copies = np.bincount(different.which, minlength=different.pieces.count)
    strands = wire.strands * wire.length_factor
    loss = strand_loss_w_per_m(wire.strand_diameter_m, copper_resistivity(wire.temperature_c), 1.0)
    return float(strands * loss * (own @ copies))


def squared_rates(field_map: FieldMap, samples: Samples) -> Floats:
    """Sum over n of (n p)^2 (|b_n|^2 across the wire + half of that along it) at points of conductors, (s,) [T^2].

    Raises
    ------
    ValueError
        If a point leaves the heights of the map.
    """
    field = amplitudes_at(field_map, samples.point[:, 0], samples.point[:, 2])
    length = _along(samples)
    direction = _steps_m(samples).T / np.where(length > 0, length, 1.0)  # a piece of no length wastes nothing
    along = np.einsum("cns,cs->ns", field, direction)
    counted = np.sum(np.abs(field) ** 2, axis=0) - (1 - ALONG_SHARE) * np.abs(along) ** 2
    return np.asarray((field_map.pole_pairs * field_map.orders) ** 2 @ counted)


def _steps_m(samples: Samples) -> Floats:
    """Steps along the wire as lengths in the directions of r, theta and z, (s, 3) [m]."""
    return samples.step * np.column_stack(
        [np.ones(len(samples.piece)), samples.point[:, 0], np.ones(len(samples.piece))]
    )


def _along(samples: Samples) -> Floats:
    return np.asarray(np.linalg.norm(_steps_m(samples), axis=1))


def skin_depth_m(frequency_hz: float, resistivity_ohm_m: float) -> float:
    """Depth to which alternating current fills a thick conductor, delta = sqrt(rho / (pi f mu0)) [m].

    A plane wave in a good conductor falls to 1/e over it: about 8.5 mm in copper at 60 Hz
    (enwikipedia.net/wiki/Skin_effect).

    Parameters
    ----------
    frequency_hz : above 0 [Hz]
    resistivity_ohm_m : rho [ohm m]
    """
    return math.sqrt(resistivity_ohm_m / (math.pi * frequency_hz * MU0))


def skin_ratio(diameter_m: float, frequency_hz: float, resistivity_ohm_m: float) -> float:
    """Resistance of a round wire to alternating over that to direct current, alone in space: at least 1.

    Exact: Re[(k a / 2) J0(k a) / J1(k a)], k = (1 - j) / skin depth, a the radius, by Bessel's equation for the current
    over the section (derived); 1 + (a / depth)^4 / 48 for thin wire.

    Parameters
    ----------
    diameter_m : bare diameter 2 a [m]
    frequency_hz : at least 0 [Hz]
    resistivity_ohm_m : rho [ohm m]

    Raises
    ------
    ValueError
        If the frequency is negative.
    """
    if frequency_hz < 0:
        raise ValueError(f"a frequency must be at least 0 Hz; received {frequency_hz:g}")
    if frequency_hz == 0:
        return 1.0
    depths = diameter_m / 2 / skin_depth_m(frequency_hz, resistivity_ohm_m)
    if depths < 1e-2:
        return 1 + depths**4 / 48  # the quotient would lose these digits
    ka = np.complex128((1 - 1j) * depths)
    return float((ka / 2 * jve(0, ka) / jve(1, ka)).real)  # scaled alike, so that thick wire does not overflow
