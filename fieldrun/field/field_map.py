"""The one record that every field model yields and all else reads: odd harmonics over radius and height."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import BSpline, CubicSpline, make_interp_spline

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.field.component import Component, Made

HEIGHT_DEGREE = 5
"""Degree of the splines over height: local, so that steep harmonics at the faces leave the middle of a gap alone."""

KEPT = 128
"""Heights whose splines are remembered: gaps come again with other magnets."""

ROUNDED_M = 1e-11
"""Heights are told apart only so far [m]: points on a map's very edge may come rounded."""


Name = Literal["b_r_t", "b_theta_t", "b_z_t"]


@dataclass(frozen=True, eq=False)
class FieldMap:
    """Flux density of the rotor in its own frame: B(r, theta, z) = Re sum over odd n of b_n(r, z) exp(j n p theta).

    Parameters
    ----------
    pole_pairs : p
    orders : (n,) odd harmonic orders
    radii_m : (r,) ascending [m]; one given twice is a jump: what stands left of it ends there. Zero field outside them
    heights_m : (z,) ascending, ends included, closer together where the field changes faster [m]
    b_r_t, b_theta_t, b_z_t : (n, r, z) complex amplitudes [T]; a map may be handed what makes them instead
    open_above : nothing but air above the highest height, where each harmonic goes on falling like exp(-n p z / r)
    """

    pole_pairs: int
    orders: Ints
    radii_m: Floats
    heights_m: Floats
    # each a descriptor, told its name, not a default
    b_r_t: Component = Component()  # noqa: RUF009
    b_theta_t: Component = Component()  # noqa: RUF009
    b_z_t: Component = Component()  # noqa: RUF009
    open_above: bool = False

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name, dtype in (("orders", np.int64), ("radii_m", float), ("heights_m", float)):
            object.__setattr__(self, name, frozen_array(getattr(self, name), dtype))
        for name in ("b_r_t", "b_theta_t", "b_z_t"):
            if isinstance(given := vars(self)[name], np.ndarray):
                vars(self)[name] = frozen_array(given, np.complex128)

    @property
    def breaks_m(self) -> Floats:
        """Radii (b,) where the map may jump or bend: its two ends and every repeated radius [m]."""
        repeated = self.radii_m[1:][np.diff(self.radii_m) == 0]
        return np.concatenate([self.radii_m[:1], repeated, self.radii_m[-1:]])


def amplitudes_at(field_map: FieldMap, radius_m: ArrayLike, height_m: ArrayLike) -> Complexes:
    """Harmonic amplitudes at points: splines over height, and over radius between the breaks.

    Parameters
    ----------
    field_map : the map
    radius_m, height_m : (q,) points [m]

    Returns
    -------
    (3, n, q) complex amplitudes of B_r, B_theta, B_z [T]; zero outside the map's radii

    Raises
    ------
    ValueError
        If a height lies outside the map: the field is not known there, and inside a magnet it is another one.
    """
    radius, height = np.atleast_1d(np.asarray(radius_m, float)), np.atleast_1d(np.asarray(height_m, float))
    out = np.zeros((3, len(field_map.orders), len(radius)), complex)
    distinct, where = np.unique(height, return_inverse=True)
    components = (field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t)
    levels = np.moveaxis(np.stack([at_heights(field_map, one, distinct) for one in components]), 3, 0)
    for left, right in smooth_stretches(field_map.radii_m):
        radii = field_map.radii_m[left:right]
        inside = (radius >= radii[0]) & (radius <= radii[-1])
        for index in np.unique(where[inside]):
            here = inside & (where == index)
            out[:, :, here] = CubicSpline(radii, levels[index][:, :, left:right], axis=2)(radius[here])
    return out


def at_heights(field_map: FieldMap, amplitudes: Complexes, height_m: Floats) -> Complexes | Floats:
    """Amplitudes at heights: splines inside the map, exact decay exp(-k z) above an open one.

    Parameters
    ----------
    field_map : the map
    amplitudes : (..., n, r, z) some of its amplitudes [T]
    height_m : (h,) [m]

    Returns
    -------
    (..., n, r, h) [T]; real if all amplitudes are

    Raises
    ------
    ValueError
        As `amplitudes_at`.
    """
    inside = _within(field_map, height_m)
    values: Complexes | Floats = _real_if_it_is(amplitudes) @ _height_weights(field_map, inside)
    return _fallen(field_map, values, height_m - inside)


def component_at(
    field_map: FieldMap, name: Name, height_m: Floats, orders: int | None = None, radii: Floats | None = None
) -> Complexes | Floats:
    """One component at heights, as `at_heights`, no more of it being made than is asked for.

    Parameters
    ----------
    field_map : the map
    name : of the component
    height_m : (h,) [m]
    orders : how many of the first harmonics; all if not given
    radii : weights (q, r) of the map's radii for sums over them, such as `radial_weights`

    Returns
    -------
    (n, r, h), or (n, q, h) of sums [T]; real if all amplitudes are

    Raises
    ------
    ValueError
        As `amplitudes_at`.
    """
    amplitudes: Complexes | Made = vars(field_map)[name]
    inside = _within(field_map, height_m)
    above = np.any(height_m > inside)
    if isinstance(amplitudes, np.ndarray):
        values = at_heights(field_map, amplitudes[:orders], height_m)
    else:
        values = amplitudes.weighted(_height_weights(field_map, inside), orders, None if above else radii)
        if not above:
            return values
        values = _fallen(field_map, values, height_m - inside)
    return values if radii is None else summed(radii, values)


def summed(radii: Floats, values: Complexes | Floats) -> Complexes | Floats:
    """Sums (n, q, h) of values (n, r, h) with weights (q, r) over the radii, in the values' unit."""
    sums: Complexes | Floats = radii @ values
    return sums


def _within(field_map: FieldMap, height_m: Floats) -> Floats:
    """Heights as far as the map reaches; refuses those that are not known."""
    low, high = field_map.heights_m[[0, -1]]
    slack = 1e-9 * max(high - low, abs(high)) + ROUNDED_M
    if np.any(height_m < low - slack) or (np.any(height_m > high + slack) and not field_map.open_above):
        asked = f"{height_m.min():.6g}..{height_m.max():.6g} m"
        raise ValueError(f"height {asked} is outside the mapped {low:.6g}..{high:.6g} m")
    return np.clip(height_m, low, high)


def _fallen(field_map: FieldMap, values: Complexes | Floats, above_m: Floats) -> Complexes | Floats:
    """Amplitudes (..., n, r, h), some of them so far above the map."""
    if not np.any(above_m > 0):
        return values
    orders = field_map.orders[: values.shape[-3]]
    wave_number = field_map.pole_pairs * orders[:, None, None] / field_map.radii_m[:, None]
    fallen: Complexes | Floats = values * np.exp(-wave_number * above_m)
    return fallen


def _height_weights(field_map: FieldMap, height_m: Floats) -> Floats:
    """Weights (z, h) of the map's heights in its splines."""
    return np.asarray(_height_splines(field_map.heights_m.tobytes())(height_m).T)


@lru_cache(maxsize=KEPT)
def _height_splines(nodes: bytes) -> BSpline:
    """Splines through one at each height and zero at all others.

    A spline is linear in its values: weights of the heights come far cheaper than one spline per harmonic and radius.
    """
    heights = np.frombuffer(nodes)
    return make_interp_spline(heights, np.eye(len(heights)), k=min(HEIGHT_DEGREE, len(heights) - 1))


def _real_if_it_is(amplitudes: Complexes) -> Complexes | Floats:
    """Without the imaginary part where it is zero, as in all maps of upright magnets: half the work."""
    return amplitudes if np.any(amplitudes.imag) else np.ascontiguousarray(amplitudes.real)


def radial_weights(radii_m: Floats, radius_m: Floats) -> Floats:
    """Weights (q, r) of a map's radii (r,) in its splines at points (q,), zero outside [1].

    A spline is linear in its values. Radii and points [m].
    """
    out = np.zeros((len(radius_m), len(radii_m)))
    for left, right in smooth_stretches(radii_m):
        radii = radii_m[left:right]
        inside = (radius_m >= radii[0]) & (radius_m <= radii[-1])
        out[inside] = 0.0  # on a jump the stretch to its right counts, as in `amplitudes_at`
        out[inside, left:right] = CubicSpline(radii, np.eye(len(radii)))(radius_m[inside])
    return out


def smooth_stretches(radii: Floats) -> Iterator[tuple[int, int]]:
    """First and one past the last index of each run of a map's radii (r,) [m] between jumps."""
    cuts = [0, *(np.flatnonzero(np.diff(radii) == 0) + 1), len(radii)]
    return pairwise(cuts)


def field_at(field_map: FieldMap, radius_m: ArrayLike, theta_rad: ArrayLike, height_m: ArrayLike) -> Floats:
    """Flux density at points of the rotor frame, rotor angle zero.

    A sum of harmonics: within an eighth of the gap of a magnet's face it misses the sharp rise at the magnets' edges.

    Parameters
    ----------
    field_map : the map
    radius_m, theta_rad, height_m : arrays that broadcast together [m, rad, m]

    Returns
    -------
    (3, ...) B_r, B_theta, B_z [T], shaped like the broadcast points; zero beyond the map's radii

    Raises
    ------
    ValueError
        If a point is not finite, a radius is negative, or a height lies outside the map.
    """
    radius, theta, height = np.broadcast_arrays(
        np.asarray(radius_m, float), np.asarray(theta_rad, float), np.asarray(height_m, float)
    )
    if not all(np.all(np.isfinite(one)) for one in (radius, theta, height)):
        raise ValueError("a point of the field must have finite coordinates")
    if np.any(radius < 0):
        raise ValueError(f"a radius cannot be negative; received {radius.min():.6g} m")
    amplitude = amplitudes_at(field_map, radius.ravel(), height.ravel())
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, theta.ravel()))
    return np.asarray(np.einsum("cnq,nq->cq", amplitude, wave).real.reshape((3, *radius.shape)))


def uniform_map(pole_pairs: int, amplitudes_t: ArrayLike, radii_m: tuple[float, float], top_m: float) -> FieldMap:
    """A map whose axial field depends on neither radius nor height: the text-book field of winding factors.

    Parameters
    ----------
    pole_pairs : p
    amplitudes_t : (n,) amplitudes of orders 1, 3, 5... [T]
    radii_m : the ring it covers [m]
    top_m : it reaches from height 0 to here [m]
    """
    amplitude = np.asarray(amplitudes_t, complex)
    heights = np.linspace(0, top_m, 3)
    radii = np.linspace(*radii_m, 5)
    b_z = np.broadcast_to(amplitude[:, None, None], (len(amplitude), len(radii), len(heights)))
    zero = np.zeros_like(b_z)
    return FieldMap(pole_pairs, 2 * np.arange(len(amplitude)) + 1, radii, heights, zero, zero, b_z)
