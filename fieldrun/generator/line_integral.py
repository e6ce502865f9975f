"""Adding up what pieces of wire contribute to their phases' harmonics, each turned to its own angle."""

import numpy as np

from fieldrun.design.arrays import Complexes, Ints
from fieldrun.field.field_map import FieldMap
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import Distinct

NOISE = 1e-12
"""A sum below this part of its terms' magnitudes is rounding, and is given as zero."""


def per_piece(terms: Complexes, piece: Ints, count: int) -> Complexes:
    """Sum terms (n, s) that belong to pieces (s,): (n, count), in the terms' unit."""
    sums = [np.bincount(piece, row.real, count) + 1j * np.bincount(piece, row.imag, count) for row in terms]
    return np.array(sums, complex).reshape(len(terms), count)


def sum_by_phase(own: Complexes, different: Distinct, pieces: Pieces, phases: int, field_map: FieldMap) -> Complexes:
    """Turn what each different piece contributes at angle 0 to where its copies stand, and sum over each phase.

    Parameters
    ----------
    own : (n, u) contributions of the different pieces
    different : which of them each piece is
    pieces : m pieces, for their angles and phases
    phases : number of phases
    field_map : for its orders and pole pairs

    Returns
    -------
    (phases, n), in the contributions' unit; a sum that is nothing but rounding is zero
    """
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, pieces.start[:, 1]))
    terms = own[:, different.which] * wave
    total = np.stack([terms[:, pieces.phase == k].sum(axis=1) for k in range(phases)])
    size = np.stack([np.abs(terms[:, pieces.phase == k]).sum(axis=1) for k in range(phases)])
    return np.where(np.abs(total) > NOISE * size, total, 0.0)
