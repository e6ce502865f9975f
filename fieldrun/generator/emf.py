"""Where field and winding meet: volts per speed of every phase, speed multiplied in last."""

from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.generator.transfer import transferred
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces, points_along
from fieldrun.winding.sampling import distinct, slopes_along

ANGLES = 128
"""Rotor angles in a waveform, over one electrical period from 0."""


@dataclass(frozen=True, eq=False)
class Emf:
    """Open-circuit EMF per mechanical speed, phase by phase, whatever the connection.

    e(alpha) = Re sum over n of amplitudes[:, n] exp(-j n p alpha), alpha the rotor's angle.

    Parameters
    ----------
    pole_pairs : p
    orders : (n,) harmonic orders
    amplitudes : (phases, n) complex [V s/rad]
    rotor_angle_rad : (128,) mechanical, one electrical period from 0
    waveform : (phases, 128) [V s/rad]
    rms : (phases,) [V s/rad]
    line_rms : effective value between two lines: e1 - e2 in star, e1 in delta; e1 too where there are no lines
        [V s/rad]
    thd_percent : rms of the harmonics over rms of the fundamental, all phases together; 0 without a fundamental
    phase_angle_rad : (phases,) phi_k1 of e_k = sum |E_n| cos(n p alpha + phi_kn)
    """

    pole_pairs: int
    orders: Ints
    amplitudes: Complexes
    rotor_angle_rad: Floats
    waveform: Floats
    rms: Floats
    line_rms: float
    thd_percent: float
    phase_angle_rad: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "orders", frozen_array(self.orders, np.int64))
        object.__setattr__(self, "amplitudes", frozen_array(self.amplitudes, np.complex128))
        for name in ("rotor_angle_rad", "waveform", "rms", "phase_angle_rad"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def emf_per_speed(field_map: FieldMap, laid: Lay | Pieces, winding: Winding, wire: Wire) -> Emf:
    """EMF per speed of a winding at its terminals: equal groups in parallel, strands in series counted in.

    Parameters
    ----------
    field_map : the rotor's field; must reach the heights of all conductors
    laid : the winding, or its pieces alone
    winding, wire : for the number of phases, the connection, parallel groups and strands in series

    Raises
    ------
    ValueError
        If a conductor leaves the heights of the map, or if the map has an order of 64 or higher.
    """
    pieces = laid.pieces if isinstance(laid, Lay) else laid
    scale = wire.strands_in_series / winding.parallel
    amplitudes = scale * emf_harmonics(field_map, pieces, winding.phases)
    return emf_of(field_map.pole_pairs, field_map.orders, amplitudes, star=winding.connection == "star")


def emf_of(pole_pairs: int, orders: Ints, amplitudes: Complexes, *, star: bool) -> Emf:
    """The record that follows from the amplitudes (phases, n) [V s/rad] of orders (n,).

    Distortion = sqrt(sum of |E_n|^2, n > 1, over |E_1|^2), all phases together; `star` says whether lines read the
    difference of two phases.

    Raises
    ------
    ValueError
        If an order is 64 or higher.
    """
    line = amplitudes[0] - amplitudes[1] if star and len(amplitudes) > 1 else amplitudes[0]
    fundamental = amplitudes[:, orders == 1][:, :1]
    first = float(np.sum(np.abs(fundamental) ** 2))
    others = float(np.sum(np.abs(amplitudes[:, orders != 1]) ** 2))
    return Emf(
        pole_pairs=pole_pairs,
        orders=orders,
        amplitudes=amplitudes,
        rotor_angle_rad=2 * np.pi / pole_pairs * np.arange(ANGLES) / ANGLES,
        waveform=waveform(orders, amplitudes),
        rms=rms(amplitudes),
        line_rms=float(rms(line)),
        thd_percent=100 * float(np.sqrt(others / first)) if first > 0 else 0.0,
        phase_angle_rad=_angle(np.conj(fundamental[:, 0])),
    )


def _angle(values: Complexes) -> Floats:
    """Argument in (-pi, pi], and pi for what stands half a turn away but for rounding."""
    angle = np.angle(values)
    return np.where(angle < 1e-9 - np.pi, angle + 2 * np.pi, angle)


def rms(amplitudes: Complexes) -> Floats:
    """Effective value of a wave of harmonics, sqrt(sum of |a_n|^2 / 2), (..., n) to (...), as `amplitudes` in unit."""
    return np.asarray(np.sqrt(np.sum(np.abs(amplitudes) ** 2, axis=-1) / 2))


def waveform(orders: Ints, amplitudes: Complexes) -> Floats:
    """Re sum of amplitudes exp(-j n p alpha) at 128 angles over one electrical period, by one inverse FFT.

    Parameters
    ----------
    orders : (n,) below 64: more turns of the wave than half the angles cannot be told apart
    amplitudes : (..., n)

    Returns
    -------
    (..., 128), as `amplitudes` in unit

    Raises
    ------
    ValueError
        If an order is 64 or higher.
    """
    if np.max(orders, initial=0) >= ANGLES // 2:
        raise ValueError(f"orders must stay below {ANGLES // 2}; received {int(np.max(orders))}")
    spectrum = np.zeros((*amplitudes.shape[:-1], ANGLES // 2 + 1), complex)
    spectrum[..., orders] = np.conj(amplitudes) * (ANGLES / 2)
    return np.asarray(np.fft.irfft(spectrum, ANGLES, axis=-1))


def emf_harmonics(field_map: FieldMap, pieces: Pieces, phases: int) -> Complexes:
    """EMF amplitudes per speed by the line integral along every conductor.

    G_n = -closed integral of (r b_z,n dr - r b_r,n dz) exp(j n p theta), so that e(alpha) = Re sum of G_n
    exp(-j n p alpha), which is -d(flux linkage)/d(alpha). Each piece counts at its own height. Integrated by Gauss'
    rule between the map's radii, pieces that differ by a turn only once.

    Parameters
    ----------
    field_map : harmonics n of the rotor's field
    pieces : m conductors
    phases : number of phases

    Returns
    -------
    (phases, n) complex [V s/rad]

    Raises
    ------
    ValueError
        If a conductor leaves the heights of the map.
    """
    return transferred(field_map, pieces, phases)


def _cut_flux(field_map: FieldMap, point: Floats, step: Floats) -> Complexes:
    """-(r b_z dr - r b_r dz) exp(j n p theta) at (s, 3) points and steps, (n, s)."""
    b_r, _, b_z = amplitudes_at(field_map, point[:, 0], point[:, 2])
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, point[:, 1]))
    return np.asarray(point[:, 0] * (b_r * step[:, 2] - b_z * step[:, 0]) * wave)


def working_share(field_map: FieldMap, pieces: Pieces, phases: int, fraction: Floats) -> Floats:
    """What each point of the wire gives to its own phase: where copper works, idles, or works against the rest.

    The part of the local EMF per speed that is in phase with the fundamental of the whole phase; summed along all the
    phase's wire it is that fundamental's amplitude (before parallel groups and strands in series).

    Parameters
    ----------
    field_map : the rotor's field, with the fundamental
    pieces : m conductors, none without length
    phases : number of phases
    fraction : (q,) where to look along every piece, 0 at its start, 1 at its end

    Returns
    -------
    (m, q) amplitude of the fundamental [V s/rad per m of wire]; all zero for a phase without a fundamental

    Raises
    ------
    ValueError
        If a conductor leaves the heights of the map.
    """
    different = distinct(pieces)
    places = np.broadcast_to(fraction, (different.pieces.count, len(fraction)))
    slope = slopes_along(different.pieces, places)
    point = points_along(different.pieces, places)
    first = fundamental_only(field_map)
    local = _cut_flux(first, point.reshape(-1, 3), slope.reshape(-1, 3)).reshape(places.shape)
    local = local / _length_slope(point, slope)
    whole = emf_harmonics(first, pieces, phases)[:, 0]
    direction = np.where(whole == 0, 0.0, np.exp(-1j * np.angle(whole)))[pieces.phase]
    turned = np.exp(1j * field_map.pole_pairs * pieces.start[:, 1]) * direction
    return np.asarray((local[different.which] * turned[:, None]).real)


def _length_slope(point: Floats, slope: Floats) -> Floats:
    return np.asarray(np.sqrt(slope[..., 0] ** 2 + (point[..., 0] * slope[..., 1]) ** 2 + slope[..., 2] ** 2))


def fundamental_only(field_map: FieldMap) -> FieldMap:
    """The map without its higher harmonics."""
    first = field_map.orders == 1
    kept = {name: getattr(field_map, name)[first] for name in ("orders", "b_r_t", "b_theta_t", "b_z_t")}
    return replace(field_map, **kept)
