"""Grouping of pieces and Gauss points along them, against closed forms."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces, lengths, points_along
from fieldrun.winding.sampling import _different_rows, distinct, gauss_samples, selected, slopes_along

WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("zigzag", 0.060, 0.110, 3, None, 2, 0.005, span=0.8)
NO_BREAKS = np.empty(0)


def one(kind: int, start: tuple[float, float, float], end: tuple[float, float, float]) -> Pieces:
    return Pieces(np.array([kind]), np.array([start]), np.array([end]), np.array([0]), np.array([0]))


def test_a_winding_has_few_different_pieces() -> None:
    pieces = lay(BASE, 8, WIRE).pieces
    groups = distinct(pieces)
    assert groups.pieces.count == 2 * 4  # per layer: two legs, two arcs
    own = selected(groups.pieces, groups.which)
    np.testing.assert_array_equal(own.kind, pieces.kind)
    np.testing.assert_allclose(own.start[:, [0, 2]], pieces.start[:, [0, 2]], atol=1e-12)
    np.testing.assert_allclose(own.end[:, 1], pieces.end[:, 1] - pieces.start[:, 1], atol=1e-12)
    np.testing.assert_allclose(lengths(own), lengths(pieces), rtol=1e-9)


def test_different_rows_are_those_of_numpy_in_its_order() -> None:
    rows = np.random.default_rng(1).integers(-2, 3, (400, 4)).astype(float)
    rows[rows == 0] *= np.where(np.arange(np.sum(rows == 0)) % 2, 1.0, -1.0)  # both zeros are one
    _, first, which = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    own_first, own_which = _different_rows(rows)
    np.testing.assert_array_equal(own_first, first)
    np.testing.assert_array_equal(own_which, which.reshape(-1))
    assert [len(part) for part in _different_rows(rows[:0])] == [0, 0]


@pytest.mark.parametrize("kind", [LINE, ARC, SPIRAL])
def test_slopes_are_the_derivatives_of_the_points(kind: int) -> None:
    end = (0.05 if kind == ARC else 0.09, 1.3, 0.004)
    piece = one(kind, (0.05, 0.4, 0.001), end)
    fraction, small = np.array([[0.1, 0.5, 0.9]]), 1e-6
    rise = points_along(piece, fraction + small) - points_along(piece, fraction - small)
    np.testing.assert_allclose(slopes_along(piece, fraction), rise / (2 * small), rtol=1e-8, atol=1e-11)


@pytest.mark.parametrize("kind", [LINE, SPIRAL])
def test_steps_add_up_to_the_whole_piece(kind: int) -> None:
    samples = gauss_samples(one(kind, (0.05, 0.4, 0.001), (0.09, 1.3, 0.004)), np.array([0.06, 0.07]), 24)
    np.testing.assert_allclose(samples.step.sum(axis=0), [0.04, 0.9, 0.003], rtol=1e-12)


def test_a_straight_line_sweeps_the_area_of_its_triangle() -> None:
    """Half the integral of r^2 dtheta along a line is the triangle it makes with the axis."""
    samples = gauss_samples(one(LINE, (0.05, 0.0, 0.0), (0.09, 1.3, 0.0)), NO_BREAKS, 1)
    area = np.sum(samples.point[:, 0] ** 2 * samples.step[:, 1]) / 2
    assert area == pytest.approx(0.05 * 0.09 * math.sin(1.3) / 2, rel=1e-12)


def test_pieces_are_split_where_the_integrand_jumps() -> None:
    """A line from 50 over its foot to 50 mm crosses r = 45 mm twice; a step function is integrated exactly."""
    turn = 2.0
    samples = gauss_samples(one(LINE, (0.05, 0.0, 0.0), (0.05, turn, 0.0)), np.array([0.045]), 24)
    inside = samples.point[:, 0] < 0.045
    half = math.acos(0.05 * math.cos(turn / 2) / 0.045)
    assert np.sum(samples.step[inside, 1]) == pytest.approx(2 * half, rel=1e-9)


def test_a_spiral_is_split_too_and_an_arc_never() -> None:
    spiral = gauss_samples(one(SPIRAL, (0.04, 0.0, 0.0), (0.08, 1.0, 0.0)), np.array([0.05]), 1)
    assert np.sum(spiral.step[spiral.point[:, 0] < 0.05, 0]) == pytest.approx(0.01, rel=1e-12)
    arc = gauss_samples(one(ARC, (0.05, 0.0, 0.0), (0.05, 1.0, 0.0)), np.array([0.05]), 1)
    whole = gauss_samples(one(ARC, (0.05, 0.0, 0.0), (0.05, 1.0, 0.0)), NO_BREAKS, 1)
    assert len(arc.piece) == len(whole.piece)


def test_a_vertical_line_keeps_radius_and_angle() -> None:
    samples = gauss_samples(one(LINE, (0.05, 0.4, 0.001), (0.05, 0.4, 0.002)), np.array([0.05, 0.06]), 100)
    np.testing.assert_allclose(samples.point[:, :2], np.broadcast_to([0.05, 0.4], (len(samples.piece), 2)), rtol=1e-14)
    np.testing.assert_allclose(samples.step.sum(axis=0), [0, 0, 0.001], atol=1e-18)


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_points_are_enough_for_the_fastest_wave(leg: str) -> None:
    """Twice the waves' worth of points changes integrals of the 15th harmonic by less than 1e-12 of the leg."""
    pieces = distinct(lay(replace(BASE, leg=leg), 8, WIRE).pieces).pieces
    waves = 15 * 8
    sums = [
        np.sum(s.point[:, 0] * s.step[:, 0] * np.exp(1j * waves * s.point[:, 1]))
        for s in (gauss_samples(pieces, NO_BREAKS, factor * waves) for factor in (1, 2))
    ]
    assert abs(sums[1] - sums[0]) < 1e-12 * 0.05**2


@pytest.mark.parametrize("rounds", [0.3, 1.0, 3.7, 10.0])
@pytest.mark.parametrize("kind", [ARC, SPIRAL])
def test_an_edge_that_goes_round_and_round_is_sampled_in_parts(kind: int, rounds: float) -> None:
    """INT r exp(j 300 theta) d theta, in closed form; ten rounds want 9,430 points, minutes of work at once."""
    waves, turn, start = 300.0, 2 * math.pi * rounds, 0.05
    rise = 0.0 if kind == ARC else 0.03
    samples = gauss_samples(one(kind, (start, 0.0, 0.0), (start + rise, turn, 0.0)), NO_BREAKS, waves)
    radius, angle = samples.point[:, 0], samples.point[:, 1]
    found = np.sum(radius * np.exp(1j * waves * angle) * samples.step[:, 1])
    per_angle, end = rise / turn, np.exp(1j * waves * turn)
    wanted = ((start + rise) * end - start) / (1j * waves) + per_angle * (end - 1) / waves**2
    assert found == pytest.approx(wanted, abs=1e-12 * rounds + 1e-9 * abs(wanted))
    assert samples.step[:, 1].sum() == pytest.approx(turn, rel=1e-12)
    assert np.all(np.diff(angle) > 0)
    assert len(angle) < 1.2 * waves * turn / 2 + 20
