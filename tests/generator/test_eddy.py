"""Eddy loss of whole windings: closed forms in even fields, laws of scaling, and dB/dt sampled angle by angle."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.materials import copper_resistivity
from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import FieldMap, field_at, uniform_map
from fieldrun.generator.eddy import eddy_loss_w_s2, skin_depth_m, skin_ratio
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces, lengths, points_along
from fieldrun.winding.sampling import slopes_along

P = 8
RING = (0.05, 0.12)
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3, temperature_c=75.0)
BASE = Winding("zigzag", 0.060, 0.110, 3, 4, 1, 0.005)
RHO = copper_resistivity(75.0)


def per_metre(b_squared: float, orders: int = 1, wire: Wire = WIRE) -> float:
    """The law: pi (n p)^2 B^2 d^4 / (128 rho), over the square of speed."""
    return math.pi * (orders * P) ** 2 * b_squared * wire.strand_diameter_m**4 / (128 * RHO)


def turning_map(b_r: complex, b_theta: complex, b_z: complex, orders: int = 1) -> FieldMap:
    """Even over radius and height in all three components, harmonics alike."""
    flat = uniform_map(P, np.ones(orders), RING, 0.02)
    return replace(flat, b_r_t=b_r * flat.b_z_t, b_theta_t=b_theta * flat.b_z_t, b_z_t=b_z * flat.b_z_t)


def piece(kind: int, start: tuple[float, ...], end: tuple[float, ...]) -> Pieces:
    return Pieces(np.array([kind]), np.array([start]), np.array([end]), np.array([0]), np.array([0]))


RADIAL = piece(LINE, (0.06, 0.0, 0.005), (0.11, 0.0, 0.005))
ROUND = piece(ARC, (0.08, 0.0, 0.005), (0.08, 2.0, 0.005))
RISING = piece(LINE, (0.08, 0.3, 0.002), (0.08, 0.3, 0.012))
SPIRALLING = piece(SPIRAL, (0.06, 0.0, 0.002), (0.11, 1.7, 0.012))
TURN = np.array([0.0, 0.77, 0.0])
ALL = (RADIAL, ROUND, RISING, SPIRALLING)


@pytest.mark.parametrize("shape", ["serpentine", "rhomboid"])
def test_a_flat_winding_in_an_even_axial_field(shape: str) -> None:
    winding = replace(BASE, shape=shape)
    pieces = lay(winding, P, WIRE).pieces
    length = float(np.sum(lengths(pieces)))
    found = eddy_loss_w_s2(uniform_map(P, [0.5], RING, 0.02), pieces, WIRE)
    assert found == pytest.approx(per_metre(0.25) * length, rel=1e-9)


def test_harmonics_add_their_squares_with_their_own_frequencies() -> None:
    found = eddy_loss_w_s2(uniform_map(P, [0.5, -0.1, 0.04], RING, 0.02), RADIAL, WIRE)
    wanted = per_metre(0.25) + per_metre(0.01, 3) + per_metre(0.0016, 5)
    assert found == pytest.approx(0.05 * wanted, rel=1e-12)


@pytest.mark.parametrize(("part", "pieces"), [(0, RADIAL), (1, ROUND), (2, RISING)])
def test_a_field_along_the_wire_wastes_half(part: int, pieces: Pieces) -> None:
    length = float(lengths(pieces)[0])
    for axis in range(3):
        amplitudes = [0.0, 0.0, 0.0]
        amplitudes[axis] = 0.4
        found = eddy_loss_w_s2(turning_map(*amplitudes), pieces, WIRE)
        assert found == pytest.approx(per_metre(0.16) * length * (0.5 if axis == part else 1), rel=1e-11)


def test_a_field_that_turns_across_the_wire_wastes_twice() -> None:
    turning = eddy_loss_w_s2(turning_map(0, 0.5j, 0.5), RADIAL, WIRE)
    assert turning == pytest.approx(2 * 0.05 * per_metre(0.25), rel=1e-12)
    slanting = eddy_loss_w_s2(turning_map(0, 0.5, 0.5), RADIAL, WIRE)  # not turning, but as large in both
    assert slanting == pytest.approx(turning, rel=1e-12)


@pytest.mark.parametrize("pieces", ALL)
def test_no_field_no_loss_and_no_angle_matters(pieces: Pieces) -> None:
    assert eddy_loss_w_s2(turning_map(0, 0, 0), pieces, WIRE) == 0
    field = turning_map(0.1, 0.3j, 0.5 + 0.2j, 3)
    turned = replace(pieces, start=pieces.start + TURN, end=pieces.end + TURN)
    assert eddy_loss_w_s2(field, turned, WIRE) == pytest.approx(eddy_loss_w_s2(field, pieces, WIRE), rel=1e-12)


def test_a_piece_of_no_length_wastes_nothing() -> None:
    nothing = piece(LINE, (0.08, 0.3, 0.005), (0.08, 0.3, 0.005))
    assert eddy_loss_w_s2(turning_map(0.1, 0.3j, 0.5), nothing, WIRE) == 0


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.floats(0.1, 3.0), st.floats(0.2, 2.0), st.integers(1, 500), st.floats(1.0, 1.1), st.floats(-20.0, 150.0))
def test_scaling(field: float, diameter: float, strands: int, take_up: float, celsius: float) -> None:
    """B^2, d^4, strands and their length, and one over the resistivity."""
    plain = eddy_loss_w_s2(uniform_map(P, [1.0], RING, 0.02), SPIRALLING, WIRE)
    wire = Wire("litz", diameter * 0.8e-3, strands, 5e-3, celsius, take_up)
    other = eddy_loss_w_s2(uniform_map(P, [field], RING, 0.02), SPIRALLING, wire)
    scale = field**2 * diameter**4 * strands * take_up * RHO / copper_resistivity(celsius)
    assert other == pytest.approx(scale * plain, rel=1e-10)


def test_a_split_wire_of_equal_copper_wastes_so_many_times_less() -> None:
    field = uniform_map(P, [0.5, 0.1], RING, 0.02)
    many = replace(WIRE, kind="litz", strands=19, strand_diameter_m=0.8e-3 / math.sqrt(19))
    assert eddy_loss_w_s2(field, RADIAL, many) == pytest.approx(eddy_loss_w_s2(field, RADIAL, WIRE) / 19, rel=1e-12)


def by_angles(field_map: FieldMap, pieces: Pieces, wire: Wire, across: int = 100, angles: int = 256) -> float:
    """The long way: pi d^4 / (64 rho) <(dB/dt)^2> along every piece, dB/dt by differences from angle to angle.

    The field across the wire by B less its part along it, both in Cartesian components of the piece's own place, which
    stands still; midpoints along the piece, central differences over one electrical period of rotor angles.
    """
    fraction = np.broadcast_to((np.arange(across) + 0.5) / across, (pieces.count, across))
    point = points_along(pieces, fraction)
    slope = slopes_along(pieces, fraction)
    steps = np.stack([slope[..., 0], point[..., 0] * slope[..., 1], slope[..., 2]], axis=-1)
    size = np.linalg.norm(steps, axis=-1)
    direction = steps / size[..., None]
    period = 2 * np.pi / field_map.pole_pairs
    alpha = period * np.arange(angles) / angles
    field = field_at(field_map, point[..., 0], point[..., 1] - alpha[:, None, None], point[..., 2])
    # a smooth periodic function: four-point central differences
    step = period / angles
    rate = (
        (8 * (np.roll(field, -1, 1) - np.roll(field, 1, 1)) - np.roll(field, -2, 1) + np.roll(field, 2, 1)) / 12 / step
    )
    along = np.einsum("camq,mqc->amq", rate, direction)
    across_squared = np.sum(rate**2, axis=0) - along**2
    mean = np.mean(across_squared + along**2 / 2, axis=0)
    rho = copper_resistivity(wire.temperature_c)
    total = float(np.sum(mean * size / across))
    return math.pi * wire.strand_diameter_m**4 / (64 * rho) * wire.strands * wire.length_factor * total


@pytest.mark.parametrize("pieces", ALL)
def test_sampled_rates_agree_in_an_even_field(pieces: Pieces) -> None:
    field = turning_map(0.1, 0.3j, 0.5 + 0.2j, 2)
    assert by_angles(field, pieces, WIRE) == pytest.approx(eddy_loss_w_s2(field, pieces, WIRE), rel=2e-5)


@pytest.mark.parametrize("name", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_sampled_rates_agree_in_real_fields(bundled, name: str) -> None:
    """One round of the first phase, harmonics up to seven: the differences blur the high ones."""
    result = bundled(name)
    loops = result.paths.loop < result.lay.pole_pairs if name == "quiet-halbach" else result.paths.loop == 0
    few = np.flatnonzero(loops)
    round_ = Pieces(*(getattr(result.paths, part)[few] for part in ("kind", "start", "end", "phase", "loop")))
    low = result.field_map.orders <= 7
    kept = {part: getattr(result.field_map, part)[low] for part in ("orders", "b_r_t", "b_theta_t", "b_z_t")}
    field = replace(result.field_map, **kept)
    wire = result.design.wire
    found = by_angles(field, round_, wire, 60, 128)
    assert found == pytest.approx(eddy_loss_w_s2(field, round_, wire), rel=1e-3)


def test_thick_wire_is_one_skin_depth_of_its_rim() -> None:
    """Very thick: current in a rim, ratio a / 2 delta + 1/4; and nothing overflows."""
    depth = skin_depth_m(1e6, RHO)
    for depths in (50, 5000):
        assert skin_ratio(2 * depths * depth, 1e6, RHO) == pytest.approx(depths / 2 + 0.25, rel=2e-4)


def test_skin_effect_joins_smoothly_to_that_of_thin_wire() -> None:
    depth = skin_depth_m(50, RHO)
    thin, thick = (skin_ratio(2 * depths * depth, 50, RHO) - 1 for depths in (0.00999, 0.01001))
    assert thick / thin == pytest.approx((1.001 / 0.999) ** 4, rel=1e-4)


def test_direct_current_knows_no_skin() -> None:
    assert skin_ratio(1e-3, 0, RHO) == 1


def test_a_negative_frequency_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 0 Hz; received -50"):
        skin_ratio(1e-3, -50, RHO)
