"""What a winding makes of any field map on the same radii: weights of the map's amplitudes, made once.

The EMF is linear in the map. A winding's path, its turns and the splines over radius do not depend on the field, nor on
how high the winding lies as a whole; what is left for each field is its amplitudes at the winding's heights, times
these weights: sweeps of gap, magnets and steel pay for the path once.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.field.field_map import FieldMap, Name, component_at, radial_weights
from fieldrun.generator.line_integral import NOISE
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import ALIKE_DIGITS, Distinct, Samples, distinct, gauss_samples, selected

SHARED = 8
"""Weights are made for so many harmonics more at a time."""

KEPT = 8
"""Windings remembered: a few MB each."""

FEW = 4
"""Different radii of upright pieces that are looked at one by one; splines over all radii serve more of them."""

TOGETHER = 64
"""Different pieces in one table; a winding of more is several tables, so that none grows without bounds."""

MOST_TABLES = 4
"""A winding of more tables is none to remember: a path whose pieces are all different."""


@dataclass(frozen=True, eq=False)
class Weights:
    """One component's share: weights of its amplitudes over the map's radii, gathered where piece and height agree.

    Parameters
    ----------
    heights_m : (h,) distinct heights above the winding's first end [m]
    level, piece : (g,) height and different piece of each group; pieces ascending
    values : (n, g, 2, r) real and imaginary part [m^2]; of more harmonics, perhaps, than a field has
    radii : weights (q, r) of the map's radii at those few radii that upright pieces have [1], which `values` then go
        with; None where they go with the map's own
    """

    heights_m: Floats
    level: Ints
    piece: Ints
    values: Floats
    radii: Floats | None = None


@dataclass(frozen=True, eq=False)
class Transfer:
    """EMF per speed of some pieces, for any field on the same radii.

    Parameters
    ----------
    radial, axial : shares of b_r and b_z
    waves : (phases, n, u) sum of exp(j n p theta) over the copies of each different piece [1]
    copies : (phases, u) how many copies there are
    """

    radial: Weights
    axial: Weights
    waves: Complexes
    copies: Floats


@dataclass(frozen=True)
class _Key:
    """All that a transfer depends on, as bytes that can be hashed."""

    kind: bytes
    ends: bytes
    phase: bytes
    phases: int
    pole_pairs: int
    orders: bytes
    radii: bytes


def transferred(field_map: FieldMap, pieces: Pieces, phases: int) -> Complexes:
    """EMF amplitudes per speed of every phase, (phases, n) [V s/rad]; a sum that is nothing but rounding is zero.

    Raises
    ------
    ValueError
        If a conductor leaves the heights of the map.
    """
    orders = len(field_map.orders)
    total, size = np.zeros((2, phases, orders), complex)
    foot = float(pieces.start[0, 2])
    for transfer in _transfers(_key(field_map, pieces, phases, foot)):
        count = transfer.copies.shape[1]
        own = _own(field_map, "b_z_t", transfer.axial, foot, count)
        own += _own(field_map, "b_r_t", transfer.radial, foot, count)
        total += np.einsum("nu,knu->kn", own, transfer.waves[:, :orders])
        size += np.einsum("nu,ku->kn", np.abs(own), transfer.copies)
    return np.where(np.abs(total) > NOISE * size.real, total, 0.0)


def _own(field_map: FieldMap, name: Name, weights: Weights, foot_m: float, pieces: int) -> Complexes:
    """What each different piece contributes at angle 0, (n, u)."""
    orders = len(field_map.orders)
    out = np.zeros((orders, pieces), complex)
    if len(weights.piece):
        levels = component_at(field_map, name, foot_m + weights.heights_m, radii=weights.radii)
        chosen = levels.swapaxes(1, 2)[:, weights.level]
        groups = _weighted(weights.values[:orders], np.ascontiguousarray(chosen.real))
        if np.iscomplexobj(chosen):
            groups += 1j * _weighted(weights.values[:orders], np.ascontiguousarray(chosen.imag))
        first = np.flatnonzero(np.diff(weights.piece, prepend=-1))
        out[:, weights.piece[first]] = np.add.reduceat(groups, first, axis=1)
    return out


def _weighted(weights: Floats, values: Floats) -> Complexes:
    """Weights (n, g, 2, r) times values (n, g, r), summed over the radii."""
    real, imaginary = np.moveaxis(np.einsum("ngcr,ngr->ngc", weights, values), 2, 0)
    return np.asarray(real + 1j * imaginary)


def _key(field_map: FieldMap, pieces: Pieces, phases: int, foot_m: float) -> _Key:
    ends = np.stack([pieces.start, pieces.end])
    ends[:, :, 2] = np.round(ends[:, :, 2] - foot_m, ALIKE_DIGITS) + 0.0  # no zero with a sign
    return _Key(
        pieces.kind.tobytes(),
        ends.tobytes(),
        pieces.phase.tobytes(),
        phases,
        field_map.pole_pairs,
        _enough(field_map.orders).tobytes(),
        field_map.radii_m.tobytes(),
    )


def _transfers(key: _Key) -> Iterable[Transfer]:
    remembered = _remembered(key)
    return _made(key) if remembered is None else remembered


def _enough(orders: Ints) -> Ints:
    """The same odd orders and a few more, so that fields with a harmonic more or less share their weights."""
    plain = 2 * np.arange(-(-len(orders) // SHARED) * SHARED) + 1
    return plain if len(orders) > SHARED / 2 and np.array_equal(orders, plain[: len(orders)]) else orders


@lru_cache(maxsize=KEPT)
def _remembered(key: _Key) -> tuple[Transfer, ...] | None:
    """The transfers of all pieces; None where they would be too many to remember."""
    pieces = _pieces(key)
    different = distinct(pieces)
    if different.pieces.count <= TOGETHER:
        return (_transfer(key, pieces, different),)
    return tuple(_made(key)) if different.pieces.count <= MOST_TABLES * TOGETHER else None


def _made(key: _Key) -> Iterator[Transfer]:
    pieces = _pieces(key)
    table = distinct(pieces).which // TOGETHER
    for one in range(int(table.max()) + 1):
        together = selected(pieces, np.flatnonzero(table == one))
        yield _transfer(key, together, distinct(together))


def _pieces(key: _Key) -> Pieces:
    kind, phase = np.frombuffer(key.kind, np.int64), np.frombuffer(key.phase, np.int64)
    start, end = np.frombuffer(key.ends).reshape(2, -1, 3)
    return Pieces(kind, start, end, phase, np.zeros(len(kind), np.int64))


def _transfer(key: _Key, pieces: Pieces, different: Distinct) -> Transfer:
    orders, radii = np.frombuffer(key.orders, np.int64), np.frombuffer(key.radii)
    waves = key.pole_pairs * orders
    samples = gauss_samples(different.pieces, np.unique(radii), float(waves.max()))
    splines = radial_weights(radii, samples.point[:, 0])
    turned = samples.point[:, 0] * np.exp(1j * np.outer(waves, samples.point[:, 1]))
    return Transfer(
        _weights(samples, splines, turned * samples.step[:, 2], samples.step[:, 2] != 0),
        _weights(samples, splines, -turned * samples.step[:, 0], samples.step[:, 0] != 0),
        *_copies(different, pieces, key.phases, waves),
    )


def _weights(samples: Samples, splines: Floats, factor: Complexes, kept: Floats) -> Weights:
    """Sum factor (n, s) times splines (s, r) over the samples of one piece at one height, those kept."""
    index = np.flatnonzero(kept)
    heights, level = np.unique(samples.point[index, 2], return_inverse=True)
    group, member = np.unique(samples.piece[index] * max(len(heights), 1) + level, return_inverse=True)
    few, shares = _few(samples.point[index, 0], splines[index])
    values = np.empty((len(factor), len(group), shares.shape[1]), complex)
    for one in range(len(group)):
        own = member == one
        values[:, one] = factor[:, index[own]] @ shares[own]
    piece, level = np.divmod(group, max(len(heights), 1))
    return Weights(heights, level, piece, np.stack([values.real, values.imag], axis=2), few)


def _few(radius_m: Floats, splines: Floats) -> tuple[Floats | None, Floats]:
    """Splines (q, r) at the different radii of some samples if these are few, and which one each sample takes, (s, q);
    else none, and the samples' own splines (s, r).
    """
    _, first, which = np.unique(np.round(radius_m, ALIKE_DIGITS), return_index=True, return_inverse=True)
    if 0 < len(first) <= FEW:
        return splines[first], np.eye(len(first))[which]
    return None, splines


def _copies(different: Distinct, pieces: Pieces, phases: int, waves: Ints) -> tuple[Complexes, Floats]:
    """Sums over the copies of each different piece; pieces of further phases are left out."""
    count, kept = different.pieces.count, pieces.phase < phases
    place = (pieces.phase * count + different.which)[kept]
    copies = np.bincount(place, minlength=phases * count).reshape(phases, count).astype(float)
    wave = np.exp(1j * np.outer(waves, pieces.start[kept, 1]))
    sums = [
        np.bincount(place, one.real, phases * count) + 1j * np.bincount(place, one.imag, phases * count) for one in wave
    ]
    return np.stack(sums).reshape(len(waves), phases, count).transpose(1, 0, 2), copies
