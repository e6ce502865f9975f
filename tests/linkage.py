"""Flux linkage of plane windings, by the other side of Green's theorem: what judges the line integral of the EMF."""

import numpy as np

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.generator.line_integral import per_piece, sum_by_phase
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import distinct, gauss_samples

FLAT = 1e-9
"""Heights of a plane loop may differ by so much [m]."""


def linkage_harmonics(field_map: FieldMap, pieces: Pieces, phases: int) -> Complexes:
    """Flux linkage amplitudes of closed loops, each in a plane of its own.

    Lambda_n = closed integral of P_n(r) exp(j n p theta) dtheta with P_n(r) = integral of r b_z,n dr from the map's
    inner edge outward; positive for +z flux through a loop that runs counterclockwise seen from +z. It needs the ends
    of the loop (arcs) where the line integral needs the legs, and -d/d(alpha) makes it G_n = j n p Lambda_n.

    Parameters
    ----------
    field_map : harmonics n of the rotor's field
    pieces : m conductors in closed loops; a loop may close after whole turns round the shaft
    phases : number of phases

    Returns
    -------
    (phases, n) complex [V s]

    Raises
    ------
    ValueError
        If a loop leaves its plane, or its plane the heights of the map.
    """
    _refuse_tilted(pieces)
    different = distinct(pieces)
    samples = gauss_samples(
        different.pieces, np.unique(field_map.radii_m), field_map.pole_pairs * int(np.max(field_map.orders))
    )
    gathered = flux_inside(field_map, samples.point[:, 0], samples.point[:, 2])
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, samples.point[:, 1]))
    own = per_piece(gathered * wave * samples.step[:, 1], samples.piece, different.pieces.count)
    return sum_by_phase(own, different, pieces, phases, field_map)


def flux_inside(field_map: FieldMap, radius_m: Floats, height_m: Floats) -> Complexes:
    """P_n(r): integral of r b_z,n dr from the map's inner edge to each point, (n, q) [T m^2].

    The map is a cubic between its radii, so r b_z is a quartic there and three Gauss points are exact.

    Parameters
    ----------
    field_map : harmonics n
    radius_m, height_m : (q,) points [m]; beyond the map's radii the flux inside is that of the nearest one

    Raises
    ------
    ValueError
        If a height lies outside the map.
    """
    knots = np.unique(field_map.radii_m)
    radius = np.clip(radius_m, knots[0], knots[-1])
    interval = np.clip(np.searchsorted(knots, radius, side="right") - 1, 0, len(knots) - 2)
    out = np.zeros((len(field_map.orders), len(radius)), complex)
    for height in np.unique(height_m):
        here = height_m == height
        whole = _flux_between(field_map, knots[:-1], knots[1:], height)
        below = np.concatenate([np.zeros((len(whole), 1)), np.cumsum(whole, axis=1)], axis=1)
        part = _flux_between(field_map, knots[interval[here]], radius[here], height)
        out[:, here] = below[:, interval[here]] + part
    return out


def _flux_between(field_map: FieldMap, low: Floats, high: Floats, height: float) -> Complexes:
    """Integral of r b_z,n dr from each `low` to its `high`, both within one interval of the map's radii: (n, q)."""
    node, weight = np.polynomial.legendre.leggauss(3)
    half = (high - low)[:, None] / 2
    radius = (high + low)[:, None] / 2 + half * node
    b_z = amplitudes_at(field_map, radius.ravel(), np.full(radius.size, height))[2].reshape(-1, *radius.shape)
    return np.asarray(np.sum(b_z * radius * half * weight, axis=2))


def _refuse_tilted(pieces: Pieces) -> None:
    heights = np.stack([pieces.start[:, 2], pieces.end[:, 2]])
    count = int(pieces.loop.max(initial=-1)) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, pieces.loop, heights.min(axis=0))
    np.maximum.at(high, pieces.loop, heights.max(axis=0))
    if np.any(high - low > FLAT):
        worst = float(np.max(high - low))
        raise ValueError(f"linkage by loops needs each loop in one plane; one leaves it by {worst * 1e3:.3g} mm")
