"""Combs and their differences: every pair of pieces is counted, none twice."""

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.winding.combs import differences, families, lowered, repeats, turned_copies
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import distinct

P = 8
WIRE = Wire("solid", 0.6e-3, 1, 0.68e-3)
WINDING = Winding("zigzag", 0.053, 0.079, 3, 6, 2, 0.005)
PIECES = lay(WINDING, P, WIRE).pieces
STEP = 2 * np.pi / 3 / P


def turned(pieces, angle, chosen=slice(None)):
    shift = np.zeros((pieces.count, 1)) * [0.0, 1.0, 0.0]
    shift[chosen, 1] = angle
    return Pieces(pieces.kind, pieces.start + shift, pieces.end + shift, pieces.phase, pieces.loop)


def test_families_are_the_pieces_again():
    kinds = distinct(lowered(PIECES))
    for phase in range(3):
        group = families(PIECES, kinds, phase)
        places = [
            (form, round(height, 9), round((angle + tooth) % (2 * np.pi), 6))
            for form, height, angle, comb in zip(group.form, group.height_m, group.angle, group.comb, strict=True)
            for tooth in group.combs[comb]
        ]
        own = PIECES.phase == phase
        wanted = zip(kinds.which[own], PIECES.start[own, 2], PIECES.start[own, 1], strict=True)
        assert sorted(places) == sorted((u, round(z, 9), round(t % (2 * np.pi), 6)) for u, z, t in wanted)
        assert group.sizes.sum() == np.count_nonzero(own)


def test_a_regular_winding_needs_one_comb():
    group = families(PIECES, distinct(lowered(PIECES)), 0)
    assert len(group.combs) == 1
    assert len(group.combs[0]) == 3 * P  # six rounds in two layers


def test_differences_count_every_pair():
    rng = np.random.default_rng(3)
    part = np.sort(rng.random(5)) * 2 * np.pi / P
    comb = np.sort((part[:, None] + 2 * np.pi / P * np.arange(P)).ravel())
    comb -= comb[0]
    other = np.sort(rng.random(7)) * 6
    for a, b in ((comb, comb), (comb, other - other[0]), (other - other[0], other - other[0])):
        turn, count = differences(a, b, P)
        assert count.sum() == pytest.approx(len(a) * len(b))
        every = np.exp(1j * np.subtract.outer(b, a)).ravel()
        for order in (0, 1, 3) if len(b) == 7 else (0, P, 2 * P):
            assert count @ np.exp(1j * order * turn) == pytest.approx(np.sum(every**order), abs=1e-6)


def test_what_repeats():
    comb = 2 * np.pi / 12 * np.arange(12)
    assert [repeats(comb, n) for n in (1, 2, 5, 6, 12)] == [True, True, False, True, True]
    assert not repeats(comb[:-1], 2)
    assert not repeats(np.r_[comb[:-1], comb[-1] - 0.01], 2)


def test_phases_are_turned_copies_until_one_piece_moves():
    assert turned_copies(PIECES, distinct(PIECES), STEP, 3)
    assert not turned_copies(PIECES, distinct(PIECES), STEP / 2, 3)
    moved = turned(PIECES, 1e-4, PIECES.count - 1)
    assert not turned_copies(moved, distinct(moved), STEP, 3)
    assert turned_copies(turned(PIECES, 1.234), distinct(PIECES), STEP, 3)
