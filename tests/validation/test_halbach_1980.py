"""Halbach, Nucl. Instrum. Methods 169 (1980) 1 and Mallinson, IEEE Trans. Magn. 9 (1973) 678 (both from memory).

Numbers computed for the project's brief; magpylib 6.3.0 agreed with them to 1e-6 T, and is asked again here.
Sample: wavelength 60 mm, thickness 10 mm, remanence 1.30 T; at 6 mm from the face.
"""

import numpy as np
import pytest

from fieldrun.reference.closed_forms import HalbachFace, halbach_face, halbach_gap
from fieldrun.reference.layers import Layer, Stack, amplitudes, remanence_harmonics, solve_layers

magpylib_core = pytest.importorskip("magpylib.core")

WAVELENGTH, D, BR, Z, G = 0.060, 0.010, 1.30, 0.006, 0.012

# bodies per wavelength: strong n = 1, first strong overtone, first weak order, two strong sides at mid-gap
STRONG = {4: 0.4052859598, 6: 0.4298706757, 8: 0.4386783618}
OVERTONE = {4: (5, 0.010062), 6: (7, 0.002180), 8: (9, 0.000493)}
WEAK = {4: (3, 0.05667692181), 6: (5, 0.0106721293), 8: (7, 0.00222440312)}
FACING = {4: 0.8105719196, 6: 0.8597413514, 8: 0.8773567235}


def face(bodies):
    return HalbachFace(WAVELENGTH, D, BR, bodies)


def layer(bodies, orders, *, strong_side_up):
    return Layer(D, 1.0, *remanence_harmonics(BR, 1.0, bodies // 2, orders, strong_side_up=strong_side_up))


def over_one_face(bodies, orders, *, strong_side_up):
    stack = Stack(WAVELENGTH / 2, orders, (layer(bodies, orders, strong_side_up=strong_side_up),), -D)
    return amplitudes(solve_layers(stack), Z)


@pytest.mark.parametrize("bodies", STRONG)
def test_formula(bodies):
    assert halbach_face(face(bodies), 1, Z) == pytest.approx(STRONG[bodies], rel=1e-9)
    for order, b_n in (OVERTONE[bodies], WEAK[bodies]):
        assert halbach_face(face(bodies), order, Z) == pytest.approx(b_n, abs=6e-7)
    assert halbach_gap(face(bodies), 1, G, G / 2) == pytest.approx(FACING[bodies], rel=1e-9)


@pytest.mark.parametrize("bodies", STRONG)
def test_layers_have_each_order_on_one_side_only(bodies):
    orders = tuple(range(1, 20, 2))
    strong, weak = (over_one_face(bodies, orders, strong_side_up=side) for side in (True, False))
    for index, order in enumerate(orders):
        expected = halbach_face(face(bodies), order, Z)
        on_strong, on_weak = order % bodies == 1, order % bodies == bodies - 1
        for b_x, b_z in (strong, weak):
            assert abs(b_x[index, 0]) == pytest.approx(abs(b_z[index, 0]), rel=1e-9, abs=1e-15)
        assert abs(strong[1][index, 0]) == pytest.approx(expected if on_strong else 0.0, rel=1e-9, abs=1e-15)
        assert abs(weak[1][index, 0]) == pytest.approx(expected if on_weak else 0.0, rel=1e-9, abs=1e-15)


@pytest.mark.parametrize("bodies", FACING)
def test_layers_with_two_strong_sides_facing(bodies):
    lower, upper = (layer(bodies, (1,), strong_side_up=up) for up in (True, False))
    field = solve_layers(Stack(WAVELENGTH / 2, (1,), (lower, Layer(G), upper), -D))
    heights = np.array([0.001, 0.006, 0.010])
    expected = [halbach_gap(face(bodies), 1, G, z) for z in heights]
    assert amplitudes(field, heights)[1][0] == pytest.approx(expected, rel=1e-12)
    assert expected[1] == pytest.approx(FACING[bodies], rel=1e-9)


@pytest.mark.parametrize("strong_side_up", [True, False])
def test_layers_against_long_bars_turned_one_by_one(strong_side_up):
    """Sense of rotation and all: a coarse array in magpylib, B_x and B_z at points over the middle of 41 waves."""
    bodies, orders = 4, tuple(range(1, 60, 2))
    x = np.array([0.0, 0.004, 0.011, 0.019, 0.026])
    b_x, b_z = over_one_face(bodies, orders, strong_side_up=strong_side_up)
    wave = np.exp(2j * np.pi * np.outer(orders, x) / WAVELENGTH)
    outside = bars(bodies, x, strong_side_up=strong_side_up)
    assert (b_x[:, 0] @ wave).real == pytest.approx(
        outside[:, 0], abs=2e-4
    )  # the array's ends: 3e-5 T of B_x, 1e-4 of B_z
    assert (b_z[:, 0] @ wave).real == pytest.approx(outside[:, 2], abs=2e-6)


def bars(bodies, x, *, strong_side_up):
    index = np.arange(-41 * bodies // 2, 41 * bodies // 2 + 1)
    turn = 2 * np.pi * index / bodies
    pole = BR * np.stack([(-1 if strong_side_up else 1) * np.sin(turn), 0 * turn, np.cos(turn)], axis=1)
    pole[[0, -1]] /= 2
    centres = np.stack([index * WAVELENGTH / bodies, 0 * turn, np.full(len(index), -D / 2)], axis=1)
    points = np.stack([x, 0 * x, np.full(len(x), Z)], axis=1)
    seen = (points[:, None, :] - centres[None, :, :]).reshape(-1, 3)
    sides = np.tile([WAVELENGTH / bodies, 20.0, D], (len(seen), 1))
    field = magpylib_core.magnet_cuboid_Bfield(seen, sides, np.tile(pole, (len(x), 1)))
    return field.reshape(len(x), len(index), 3).sum(axis=1)
