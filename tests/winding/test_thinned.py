"""Sums over many places taken on few: exact for cubics, good for what is smooth."""

import numpy as np
import pytest

from fieldrun.winding.thinned import LIFT_STEP, TURN_STEP, cubic_shares, spread_lifts, thinned_turns


def test_cubics_are_kept_exactly():
    position = np.random.default_rng(1).uniform(-5, 5, 40)
    node, share = cubic_shares(position)
    for power in range(4):
        assert np.sum(share * node**power, axis=1) == pytest.approx(position**power, abs=1e-9)
    assert np.abs(np.sum(share * node**4, axis=1) - position**4).max() > 0.1


def test_lifts_move_to_a_grid_and_a_smooth_sum_stays():
    rng = np.random.default_rng(2)
    rows = np.zeros((400, 7))
    rows[:, 5] = rng.uniform(0.005, 0.05, 400) * rng.choice([-1, 1], 400)
    weight = rng.uniform(1, 2, 400)
    moved, share = spread_lifts(rows, weight)
    assert len(moved) <= 2 * (np.log(10) / LIFT_STEP + 5)
    for power in (1, 2, 3):  # in log z an exponential: cubic interpolation is off by (power step)^4 / 43 at most
        step = power * LIFT_STEP
        wanted = weight @ np.abs(rows[:, 5]) ** -power
        assert share @ np.abs(moved[:, 5]) ** -power == pytest.approx(wanted, rel=step**4 / 43 * np.exp(step))
    assert share @ np.sign(moved[:, 5]) == pytest.approx(weight @ np.sign(rows[:, 5]))


def test_rows_of_different_forms_do_not_mix():
    rows = np.zeros((2, 7))
    rows[:, 0], rows[:, 5] = (3, 4), 0.01
    moved, share = spread_lifts(rows, np.array([1.0, 10.0]))
    assert share[moved[:, 0] == 3].sum() == pytest.approx(1)
    assert share[moved[:, 0] == 4].sum() == pytest.approx(10)


def test_turns_move_to_a_grid_and_a_smooth_sum_stays():
    rng = np.random.default_rng(4)
    turn, count = np.sort(rng.uniform(0, 2 * np.pi, 3000)), rng.integers(1, 5, 3000).astype(float)
    moved, share = thinned_turns(turn, count, 0.2)
    assert len(moved) <= 2 * np.pi / (0.2 * TURN_STEP) + 5
    for turned in (0.0, 1.0, 3.0):  # a peak as wide as the scale
        bump = [w @ (1 / (0.2**2 + 4 * np.sin((t - turned) / 2) ** 2)) for t, w in ((turn, count), (moved, share))]
        assert bump[1] == pytest.approx(bump[0], rel=1e-3)


def test_few_turns_stay_where_they_are():
    turn, count = np.array([0.1, 2.0]), np.array([1.0, 3.0])
    kept = thinned_turns(turn, count, 0.2)
    assert kept[0] is turn
    assert kept[1] is count
