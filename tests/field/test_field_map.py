"""The record that all models yield: interpolation, jumps, frames, locks."""

import math
import pickle
from collections.abc import Callable

import numpy as np
import pytest

from fieldrun.field.field_map import FieldMap, amplitudes_at, field_at, smooth_stretches, uniform_map

ORDERS = np.array([1, 3])
HEIGHTS = 0.004 * (1 - np.cos(np.linspace(0, np.pi, 9)))
Shape = Callable[[np.ndarray, np.ndarray], np.ndarray]


def smooth(r: np.ndarray, z: np.ndarray) -> np.ndarray:
    return (1 + 20 * (r - 0.06) - 300 * (r - 0.06) ** 2) * np.cosh(200 * (z - 0.004)) * np.exp(0.4j)


def mapped(radii: np.ndarray, shape: Shape) -> FieldMap:
    b = np.stack([shape(radii[:, None], HEIGHTS), 0.1 * shape(radii[:, None], HEIGHTS)])
    return FieldMap(8, ORDERS, radii, HEIGHTS, 0.2 * b, 1j * b, b)


def test_between_its_radii_and_heights_it_is_smooth() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 33), smooth)
    r, z = np.array([0.0512, 0.0633, 0.0699]), np.array([0.0003, 0.0041, 0.0079])
    b_r, b_theta, b_z = amplitudes_at(field_map, r, z)
    wanted = np.stack([smooth(r, z), 0.1 * smooth(r, z)])
    assert b_z == pytest.approx(wanted, rel=1e-6)
    assert b_r == pytest.approx(0.2 * wanted, rel=1e-6)
    assert b_theta == pytest.approx(1j * wanted, rel=1e-6)


def test_its_own_points_are_given_back() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 5), smooth)
    for i, r in enumerate(field_map.radii_m):
        found = amplitudes_at(field_map, np.full(9, r), HEIGHTS)[2]
        assert found == pytest.approx(field_map.b_z_t[:, i, :], rel=1e-12)


def test_a_radius_given_twice_is_a_jump() -> None:
    radii = np.array([0.05, 0.055, 0.06, 0.06, 0.065, 0.07])
    stair = mapped(radii, lambda r, z: np.where(np.arange(6)[:, None] < 3, 1.0, 5.0) + 0 * z + 0 * r)
    assert stair.breaks_m == pytest.approx([0.05, 0.06, 0.07])
    assert list(smooth_stretches(radii)) == [(0, 3), (3, 6)]
    values = amplitudes_at(stair, [0.05, 0.0599, 0.0601, 0.07], [0.004] * 4)[2, 0]
    assert values == pytest.approx([1, 1, 5, 5])


def test_outside_its_radii_there_is_no_field() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 5), smooth)
    assert np.all(amplitudes_at(field_map, [0.0499, 0.0701], [0.004, 0.004]) == 0)


@pytest.mark.parametrize("height", [-1e-5, 0.00801])
def test_outside_its_heights_it_is_not_known(height: float) -> None:
    with pytest.raises(ValueError, match=r"height .* is outside the mapped 0\.\.0\.008 m"):
        amplitudes_at(mapped(np.linspace(0.05, 0.07, 5), smooth), [0.06], [height])


def test_points_are_summed_harmonics() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 33), smooth)
    r, theta, z = 0.061, np.linspace(0, np.pi / 4, 7), 0.003
    value = smooth(np.array(r), np.array(z))
    wanted = (value * np.exp(8j * theta) + 0.1 * value * np.exp(24j * theta)).real
    b_r, b_theta, b_z = field_at(field_map, r, theta, z)
    assert b_z == pytest.approx(wanted, rel=1e-6)
    assert b_r == pytest.approx(0.2 * wanted, rel=1e-6)
    assert b_theta == pytest.approx((1j * value * (np.exp(8j * theta) + 0.1 * np.exp(24j * theta))).real, rel=1e-6)


def test_half_a_period_on_the_field_has_turned_round() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 33), smooth)
    theta = np.linspace(0, 1, 11)
    here, there = (field_at(field_map, 0.06, theta + turn, 0.002) for turn in (0, np.pi / 8))
    assert there == pytest.approx(-here)


def test_shapes_broadcast() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 5), smooth)
    assert field_at(field_map, np.full((3, 1), 0.06), np.zeros(4), 0.001).shape == (3, 3, 4)
    assert field_at(field_map, 0.06, 0.0, 0.001).shape == (3,)


def test_uniform_map_is_uniform() -> None:
    even = uniform_map(5, [0.5, -0.1], (0.05, 0.08), 0.01)
    assert even.orders.tolist() == [1, 3]
    r, z = np.array([0.05, 0.066, 0.08]), np.array([0, 0.0033, 0.01])
    b_r, b_theta, b_z = amplitudes_at(even, r, z)
    assert b_z == pytest.approx(np.array([[0.5] * 3, [-0.1] * 3]), rel=1e-12)
    assert not np.any(b_r)
    assert not np.any(b_theta)


def test_arrays_are_copied_and_locked_and_finite() -> None:
    radii = np.linspace(0.05, 0.07, 5)
    field_map = mapped(radii, smooth)
    radii[0] = 7
    assert field_map.radii_m[0] == 0.05
    with pytest.raises(ValueError, match="read-only"):
        field_map.b_z_t[0, 0, 0] = 1
    with pytest.raises(FloatingPointError, match="NaN or infinity"):
        mapped(np.linspace(0.05, 0.07, 5), lambda r, z: np.nan * r * z)


def test_survives_a_trip_to_another_process() -> None:
    field_map = mapped(np.linspace(0.05, 0.07, 5), smooth)
    again = pickle.loads(pickle.dumps(field_map))  # noqa: S301  # our own bytes
    assert np.array_equal(again.b_z_t, field_map.b_z_t)


@pytest.mark.parametrize("place", [(math.nan, 0.0, 0.001), (0.06, math.inf, 0.001), (0.06, 0.0, math.nan)])
def test_points_that_are_no_points_are_refused(place: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="must have finite coordinates"):
        field_at(uniform_map(8, [1.0], (0.05, 0.08), 0.01), *place)


def test_a_negative_radius_is_refused() -> None:
    with pytest.raises(ValueError, match=r"cannot be negative; received -0\.06 m"):
        field_at(uniform_map(8, [1.0], (0.05, 0.08), 0.01), [0.06, -0.06], 0.0, 0.005)
