import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.reference.layers import (
    Layer,
    Stack,
    amplitudes,
    pressure,
    remanence_harmonics,
    solve_layers,
    waveform,
)

PITCH, H, G, BR = 0.030, 0.010, 0.012, 1.3
ORDERS = (1, 3, 5, 7, 9)
ALTERNATING = remanence_harmonics(BR, 2 / 3, 1, ORDERS)
HALBACH = remanence_harmonics(BR, 1.0, 2, ORDERS)
MAGNETS = Layer(H, 1.05, *ALTERNATING)
TURNING = Layer(H, 1.05, *HALBACH)


def b_z(stack, height):
    return amplitudes(solve_layers(stack), height)[1]


def lengths(low, high):
    return st.floats(low, high, allow_nan=False)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(
    cut=lengths(0.1, 0.9),
    mu_r=lengths(1.0, 2000.0),
    below=st.sampled_from(["air", "iron"]),
    above=st.sampled_from(["air", "iron"]),
)
def test_cutting_a_layer_in_two_changes_nothing(cut, mu_r, below, above):
    plate = Layer(0.008, mu_r)
    halves = tuple(dataclasses.replace(TURNING, thickness_m=H * part) for part in (cut, 1 - cut))
    whole = Stack(PITCH, ORDERS, (TURNING, Layer(G), plate), -H, below, above)
    split = dataclasses.replace(whole, layers=(*halves, Layer(G * cut), Layer(G * (1 - cut)), plate))
    heights = np.linspace(-0.9 * H, 0.99 * G, 7)
    for one, two in zip(
        amplitudes(solve_layers(whole), heights), amplitudes(solve_layers(split), heights), strict=True
    ):
        assert one == pytest.approx(two, rel=1e-9, abs=1e-13)


@settings(derandomize=True, max_examples=30, deadline=None)
@given(mu_r=lengths(1.0, 500.0), plate=lengths(0.001, 0.02), gap=lengths(0.002, 0.05))
def test_faces_pass_b_z_and_tangential_h(mu_r, plate, gap):
    stack = Stack(PITCH, ORDERS, (Layer(plate, mu_r), TURNING, Layer(gap), MAGNETS), 0.0)
    field = solve_layers(stack)
    for index in (1, 2, 3):
        face, step = field.edges_m[index], 1e-12
        (x0, z0), (x1, z1) = (amplitudes(field, face + side * step) for side in (-1, 1))
        lower, upper = stack.layers[index - 1], stack.layers[index]
        h0 = (x0[:, 0] - np.array(lower.remanence_x_t or 0)) / lower.mu_r
        h1 = (x1[:, 0] - np.array(upper.remanence_x_t or 0)) / upper.mu_r
        assert z0 == pytest.approx(z1, abs=1e-8)
        assert h0 == pytest.approx(h1, abs=1e-8)


def test_no_flux_is_created_anywhere():
    field = solve_layers(Stack(PITCH, ORDERS, (Layer(0.005, 800.0), TURNING, Layer(G)), -H - 0.005, "air", "iron"))
    step, k = 1e-7, field.wave_number
    for z in (-H - 0.002, -0.4 * H, 0.5 * G, -H - 0.02):
        b_x, _ = amplitudes(field, z)
        _, around = amplitudes(field, [z - step, z + step])
        divergence = 1j * k * b_x[:, 0] + (around[:, 1] - around[:, 0]) / (2 * step)
        assert abs(divergence).max() < 1e-5 * abs(k * b_x[:, 0]).max()


def test_two_stacks_of_magnets_add():
    lower, upper = Layer(H, 1.05, *ALTERNATING), Layer(H, 1.05, *HALBACH)
    dead = Layer(H, 1.05)
    heights = [0.001, 0.006, 0.011]
    both, one, other = (
        b_z(Stack(PITCH, ORDERS, (below, Layer(G), above), -H, "iron"), heights)
        for below, above in ((lower, upper), (lower, dead), (dead, upper))
    )
    assert both == pytest.approx(one + other, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("layer", [MAGNETS, TURNING])
def test_very_permeable_thick_plate_becomes_ideal_iron(layer):
    ideal = b_z(Stack(PITCH, ORDERS, (layer, Layer(G)), -H, "iron", "iron"), [0.0, 0.006, 0.011])
    plate = Layer(0.05, 1e9)
    real = b_z(Stack(PITCH, ORDERS, (plate, layer, Layer(G), plate), -H - 0.05), [0.0, 0.006, 0.011])
    assert real == pytest.approx(ideal, rel=1e-6)


def test_a_plate_as_permeable_as_air_is_not_there():
    bare = b_z(Stack(PITCH, ORDERS, (MAGNETS, Layer(G))), 0.02)
    plated = b_z(Stack(PITCH, ORDERS, (Layer(0.006, 1.0), MAGNETS, Layer(G), Layer(0.004, 1.0)), -0.006), 0.02)
    assert plated == pytest.approx(bare, rel=1e-12)


def test_thicker_steel_behind_gives_more():
    fields = [
        b_z(Stack(PITCH, (1,), (Layer(t, 500.0), Layer(H, 1.05, (), (1.0,)), Layer(G)), -H - t), 0.006)[0, 0].real
        for t in (1e-5, 1e-4, 1e-3, 1e-2)
    ]
    assert fields == sorted(fields)
    assert fields[-1] > 1.2 * fields[0]


def test_everything_scales_with_size():
    small = Stack(PITCH, ORDERS, (TURNING, Layer(G), Layer(0.005, 300.0)), -H)
    big = Stack(
        3 * PITCH, ORDERS, tuple(dataclasses.replace(x, thickness_m=3 * x.thickness_m) for x in small.layers), -3 * H
    )
    assert b_z(big, 0.018) == pytest.approx(b_z(small, 0.006), rel=1e-12)


def test_high_orders_and_thick_layers_stay_finite():
    orders = (1, 101, 10001)
    magnets = Layer(1.0, 1.05, *remanence_harmonics(BR, 0.7, 1, orders))
    field = solve_layers(Stack(0.01, orders, (Layer(1.0, 2000.0), magnets, Layer(1.0), magnets), -2.0, "iron", "iron"))
    b_x, amplitude_z = amplitudes(field, [-0.5, 0.0, 0.5, 1.0, 1.5])
    assert np.all(np.isfinite(b_x))
    assert np.all(np.isfinite(amplitude_z))
    assert abs(amplitude_z[:, 2]).max() < 1e-60


@pytest.mark.parametrize("side", [-1, 1])
def test_air_outside_fades_as_it_must(side):
    field = solve_layers(Stack(PITCH, ORDERS, (TURNING,), -H))
    face = 0.0 if side > 0 else -H
    near, far = amplitudes(field, face + side * 0.001), amplitudes(field, face + side * 0.004)
    for one, two in zip(near, far, strict=True):
        assert two[:, 0] == pytest.approx(one[:, 0] * np.exp(-field.wave_number * 0.003), rel=1e-9)


def test_ideal_iron_has_no_tangential_h_and_answers_no_question_inside():
    field = solve_layers(Stack(PITCH, ORDERS, (MAGNETS, Layer(G)), -H, "iron", "iron"))
    b_x, _ = amplitudes(field, [-H, G])
    assert abs(b_x).max() < 1e-15
    with pytest.raises(ValueError, match=r"height 0\.013 m lies in ideal iron"):
        amplitudes(field, 0.013)
    with pytest.raises(ValueError, match=r"height -0\.02 m lies in ideal iron"):
        amplitudes(field, -0.02)


def test_pull_is_an_image_force():
    """A face pulled to an ideal plate at g feels what it would feel from its mate at 2 g."""
    plate = solve_layers(Stack(PITCH, ORDERS, (MAGNETS, Layer(G)), -H, "air", "iron"))
    mate = solve_layers(Stack(PITCH, ORDERS, (MAGNETS, Layer(2 * G), MAGNETS), -H))
    assert pressure(plate, 0.004) == pytest.approx(pressure(mate, 0.004), rel=1e-12)
    assert pressure(plate, 0.004) > 0


@pytest.mark.parametrize(
    ("layers", "message"),
    [
        ((Layer(0.0),), r"layer 0 has thickness 0\.0 m and permeability 1\.0: both must be above zero"),
        ((Layer(0.1), Layer(math.nan)), r"layer 1 has thickness nan m"),
        ((Layer(0.1, -2.0),), r"permeability -2\.0: both must be above zero"),
        ((Layer(0.1, 1.0, (), (1.0,)),), r"layer 0 lists 1 harmonics, the stack 5"),
    ],
)
def test_what_it_refuses(layers, message):
    with pytest.raises(ValueError, match=message):
        solve_layers(Stack(PITCH, ORDERS, layers))


@pytest.mark.parametrize("bodies_per_pole", [1, 2, 3, 4])
@pytest.mark.parametrize("share", [1.0, 0.8])
@pytest.mark.parametrize("strong_side_up", [True, False])
def test_remanence_harmonics_are_those_of_the_bodies(bodies_per_pole, share, strong_side_up):
    """Against the mean over finely sampled bodies, corner points left out by sampling between them."""
    orders = (1, 3, 5)
    bodies, samples = 2 * bodies_per_pole, 2 * bodies_per_pole * 3000
    x = (np.arange(samples) + 0.5) / samples  # in wavelengths
    body = np.round(x * bodies)
    inside = abs(x * bodies - body) < share / 2
    turn = 2 * np.pi * body / bodies
    sense = -1 if strong_side_up else 1
    profiles = BR * inside * np.sin(turn) * sense, BR * inside * np.cos(turn)
    got = remanence_harmonics(BR, share, bodies_per_pole, orders, strong_side_up=strong_side_up)
    for harmonics, profile in zip(got, profiles, strict=True):
        expected = [2 * np.mean(profile * np.exp(-2j * np.pi * n * x)) for n in orders]
        assert harmonics == pytest.approx(expected, abs=1e-3)


def test_waveform_is_the_sum_of_its_waves():
    k = np.array([100.0, 300.0])
    x = np.array([0.0, 0.004, 0.01])
    expected = 0.5 * np.cos(100 * x) - 0.2 * np.sin(300 * x)
    assert waveform(np.array([0.5, 0.2j]), k, x) == pytest.approx(expected, rel=1e-12)
