"""Weights of a winding against sums over its points, the way the EMF's law is written."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Complexes
from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.generator import transfer
from fieldrun.generator.line_integral import per_piece, sum_by_phase
from fieldrun.generator.transfer import transferred
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import LINE, Pieces
from fieldrun.winding.sampling import distinct, gauss_samples

WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("zigzag", 0.065, 0.105, 3, None, 2, 0.005)
TOP = 0.010


def wild_map(seed: int = 1) -> FieldMap:
    """A map without any symmetry, a jump at 80 mm in it."""
    rng = np.random.default_rng(seed)
    radii, heights = np.r_[np.linspace(0.05, 0.08, 9), np.linspace(0.08, 0.12, 9)], np.linspace(0, TOP, 6)
    shape = (4, len(radii), len(heights))
    b_r, b_theta, b_z = (rng.normal(size=shape) + 1j * rng.normal(size=shape) for _ in range(3))
    return FieldMap(8, np.array([1, 3, 5, 7]), radii, heights, b_r, b_theta, b_z)


def point_by_point(field_map: FieldMap, pieces: Pieces, phases: int) -> Complexes:
    different = distinct(pieces)
    samples = gauss_samples(different.pieces, np.unique(field_map.radii_m), 8.0 * 7)
    radius, angle, height = samples.point.T
    b_r, _, b_z = amplitudes_at(field_map, radius, height)
    wave = np.exp(8j * np.outer(field_map.orders, angle))
    cut = radius * (b_r * samples.step[:, 2] - b_z * samples.step[:, 0]) * wave
    own = per_piece(cut, samples.piece, different.pieces.count)
    return sum_by_phase(own, different, pieces, phases, field_map)


def tilted(count: int) -> Pieces:
    """Straight pieces that climb, all different, in three phases."""
    rng = np.random.default_rng(3)
    low, high = np.array([0.055, 0.0, 0.001]), np.array([0.115, 6.0, 0.009])
    start, end = (rng.uniform(low, high, (count, 3)) for _ in range(2))
    end[:, 1] = start[:, 1] + 0.3
    return Pieces(np.full(count, LINE), start, end, np.arange(count) % 3, np.arange(count))


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_weights_give_what_the_points_give(shape: str) -> None:
    field_map = wild_map()
    pieces = lay(replace(BASE, shape=shape), 8, WIRE).pieces
    exact = point_by_point(field_map, pieces, 3)
    np.testing.assert_allclose(transferred(field_map, pieces, 3), exact, atol=1e-9 * np.abs(exact).max())


def test_pieces_that_climb_cut_the_radial_field_too() -> None:
    pieces = tilted(30)
    exact = point_by_point(wild_map(), pieces, 3)
    np.testing.assert_allclose(transferred(wild_map(), pieces, 3), exact, atol=1e-9 * np.abs(exact).max())
    flat = replace(wild_map(), b_r_t=0 * wild_map().b_r_t)
    assert np.abs(transferred(flat, pieces, 3) - exact).max() > 0.01 * np.abs(exact).max()


def test_fewer_phases_than_the_winding_has_leave_the_others_out() -> None:
    pieces = lay(BASE, 8, WIRE).pieces
    np.testing.assert_array_equal(transferred(wild_map(), pieces, 1), transferred(wild_map(), pieces, 3)[:1])


def test_a_path_too_varied_to_remember_is_summed_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    pieces = tilted(30)
    whole = transferred(wild_map(), pieces, 3)
    monkeypatch.setattr(transfer, "TOGETHER", 4)
    transfer._remembered.cache_clear()
    np.testing.assert_allclose(transferred(wild_map(), pieces, 3), whole, atol=1e-12 * np.abs(whole).max())
    monkeypatch.undo()
    transfer._remembered.cache_clear()


def test_another_field_and_another_height_of_the_winding_use_the_same_weights() -> None:
    transfer._remembered.cache_clear()
    pieces = lay(BASE, 8, WIRE).pieces
    up = np.array([0, 0, 1e-3])
    lifted = Pieces(pieces.kind, pieces.start + up, pieces.end + up, pieces.phase, pieces.loop)
    for field_map, laid in ((wild_map(), pieces), (wild_map(2), pieces), (wild_map(2), lifted)):
        exact = point_by_point(field_map, laid, 3)
        np.testing.assert_allclose(transferred(field_map, laid, 3), exact, atol=1e-9 * np.abs(exact).max())
    assert transfer._remembered.cache_info().misses == 1


def test_a_conductor_off_the_map_is_refused() -> None:
    pieces = lay(replace(BASE, height_m=0.0095), 8, WIRE).pieces
    with pytest.raises(ValueError, match="outside the mapped"):
        transferred(wild_map(), pieces, 3)
