"""Line integral along the legs against flux linkage along the ends: two sides of Green's theorem, two codes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Disc, Magnets, Plate, Rotor, Winding, Wire
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.field.field_map import FieldMap, amplitudes_at, uniform_map
from fieldrun.field.solve import field_of
from fieldrun.generator.emf import emf_harmonics
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces
from tests.linkage import flux_inside, linkage_harmonics

P = 8
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("serpentine", 0.065, 0.105, 3, None, 1, 0.004)


def hilly_map(jump: float, seed: int = 0) -> FieldMap:
    """Smooth hills of random place and phase for each harmonic, with a jump at 80 mm."""
    dice = np.random.default_rng(seed)
    radii = np.concatenate([np.linspace(0.05, 0.08, 41), np.linspace(0.08, 0.12, 51)])
    heights, n = np.linspace(0, 0.01, 7), 2 * np.arange(6) + 1
    middle, width = dice.uniform(0.07, 0.1, (6, 1)), dice.uniform(0.01, 0.03, (6, 1))
    hill = np.exp(-(((radii - middle) / width) ** 2)) * np.exp(1j * dice.uniform(0, 6, (6, 1))) / n[:, None]
    hill[:, 41:] *= 1 + jump
    b_z = hill[:, :, None] * np.cosh(n[:, None, None] * P / radii[:, None] * (heights - 0.005))
    return FieldMap(P, n, radii, heights, 0.3 * b_z, 0 * b_z, b_z)


def flattened(pieces: Pieces, height: float = 0.004) -> Pieces:
    """All sheets pressed into one plane: the loops stay closed."""
    start, end = pieces.start.copy(), pieces.end.copy()
    start[:, 2] = end[:, 2] = height
    return Pieces(pieces.kind, start, end, pieces.phase, pieces.loop)


def worst_difference(field_map: FieldMap, pieces: Pieces, phases: int) -> float:
    """Largest |G_n - j n p Lambda_n| over the largest |G_n|."""
    by_legs = emf_harmonics(field_map, pieces, phases)
    by_ends = 1j * field_map.orders * field_map.pole_pairs * linkage_harmonics(field_map, pieces, phases)
    return float(np.abs(by_legs - by_ends).max() / np.abs(by_legs).max())


@pytest.mark.parametrize("jump", [0.0, 0.7])
@pytest.mark.parametrize("leg", ["chord", "spiral"])
@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_emf_is_minus_the_slope_of_the_linkage(shape: str, leg: str, jump: float) -> None:
    winding = replace(BASE, shape=shape, leg=leg, span=0.8 if shape == "zigzag" else 1.0, start_rad=0.05)
    assert worst_difference(hilly_map(jump), flattened(lay(winding, P, WIRE).pieces), 3) < 1e-10


@settings(derandomize=True, max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.055, 0.115), st.floats(0.02, 0.6)), min_size=3, max_size=6),
    st.integers(0, 1000),
    st.booleans(),
)
def test_it_holds_for_any_polygon(corners: list[tuple[float, float]], seed: int, spiral: bool) -> None:
    radius, turn = np.array(corners).T
    angle = np.concatenate([[0.0], np.cumsum(turn)])
    start = np.column_stack([radius, angle[:-1], np.full(len(radius), 0.004)])
    end = np.roll(start, -1, axis=0)
    end[-1, 1] = 0.0
    kind = np.full(len(radius), SPIRAL if spiral else LINE)
    kind[-1] = SPIRAL  # the way back may turn more than half a turn
    loop = Pieces(kind, start, end, np.zeros(len(kind)), np.zeros(len(kind)))
    field = hilly_map(0.4, seed)
    size = np.abs(field.b_z_t).max() * 0.06 * 0.1
    by_legs = emf_harmonics(field, loop, 1)
    by_ends = 1j * field.orders * P * linkage_harmonics(field, loop, 1)
    assert np.abs(by_legs - by_ends).max() < 1e-10 * size


def test_it_holds_for_a_wave_that_closes_after_the_whole_ring() -> None:
    pieces = lay(replace(BASE, phases=1, rounds=1), P, WIRE).pieces
    assert pieces.end[-1, 1] - pieces.start[0, 1] == pytest.approx(2 * np.pi)
    assert worst_difference(hilly_map(0.5), pieces, 1) < 1e-10


def test_it_holds_for_the_map_of_a_real_rotor() -> None:
    magnets = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.29, 1.05, 7500.0)
    rotor = Rotor(2, 0.009, Plate(None), None, 0.05, 0.082)
    winding = replace(BASE, shape="rhomboid", inner_radius_m=0.053, outer_radius_m=0.079, height_m=0.0045)
    assert worst_difference(field_of(magnets, rotor), lay(winding, P, WIRE).pieces, 3) < 1e-10


def test_linkage_is_positive_for_upward_flux_through_a_counterclockwise_loop() -> None:
    """A sector of a quarter pole under a north pole, its flux in closed form, for both senses of winding."""
    field = uniform_map(P, [0.5], (0.05, 0.12), 0.01)
    a, r1, r2 = np.pi / P / 4, 0.06, 0.11
    corner = np.array([[r1, -a, 0.005], [r2, -a, 0.005], [r2, a, 0.005], [r1, a, 0.005]])
    loop = Pieces([LINE, ARC, LINE, ARC], corner, np.roll(corner, -1, axis=0), np.zeros(4), np.zeros(4))
    back = Pieces(loop.kind[::-1], loop.end[::-1], loop.start[::-1], np.zeros(4), np.zeros(4))
    flux = 0.5 * (r2**2 - r1**2) / 2 * 2 * np.sin(P * a) / P
    assert linkage_harmonics(field, loop, 1)[0, 0] == pytest.approx(flux, rel=1e-12)
    assert linkage_harmonics(field, back, 1)[0, 0] == pytest.approx(-flux, rel=1e-12)
    # when the north pole leaves to larger angles the linkage falls: e = -d(linkage)/d(alpha) > 0 a quarter wave later
    emf = emf_harmonics(field, loop, 1)[0, 0]
    assert (emf * np.exp(-1j * np.pi / 2)).real == pytest.approx(P * flux, rel=1e-12)


def test_flux_inside_is_the_area_integral() -> None:
    """Against Simpson's rule on a fine grid, stretch by stretch, outside the map constant."""
    field = hilly_map(0.7)
    radius = np.array([0.02, 0.05, 0.0555, 0.08, 0.1003, 0.12, 0.2])
    found = flux_inside(field, radius, np.full(len(radius), 0.004))
    for i, r in enumerate(np.clip(radius, 0.05, 0.12)):
        total = np.zeros(6, complex)
        for low, high in ((0.05, min(r, 0.08)), (0.08, max(r, 0.08))):
            grid = np.linspace(low + 1e-12, high - 1e-12, 2001) if high > low + 1e-9 else np.full(2001, low)
            weight = np.ones(2001)
            weight[1:-1:2], weight[2:-1:2] = 4, 2
            value = amplitudes_at(field, grid, np.full(2001, 0.004))[2] * grid
            total += (value * weight).sum(axis=1) * (grid[1] - grid[0]) / 3
        np.testing.assert_allclose(found[:, i], total, rtol=1e-7, atol=1e-11)


def test_a_loop_that_leaves_its_plane_is_refused() -> None:
    pieces = lay(replace(BASE, shape="zigzag"), P, WIRE).pieces
    with pytest.raises(ValueError, match=r"needs each loop in one plane; one leaves it by 0.86 mm"):
        linkage_harmonics(hilly_map(0.0), pieces, 3)


def test_planes_of_different_loops_may_differ() -> None:
    pieces = lay(replace(BASE, layers=3, height_m=0.005), P, WIRE).pieces
    assert len(set(pieces.start[:, 2])) == 3
    assert worst_difference(hilly_map(0.3), pieces, 3) < 1e-10
