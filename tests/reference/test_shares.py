import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Arc, Block, Disc, Magnets
from fieldrun.reference.shares import bend_radii, covered_share, half_angles, mean_radius


def face(outline, count=16, **more):
    return Magnets(outline, count, 0.006, 1.3, 1.05, 7500.0, **more)


def test_disc_through_its_centre():
    """16 discs of 20 mm on R 66: a chord of 2 a at R covers 4 asin(a / 2R) of 2 pi / 16."""
    expected = 4 * math.asin(0.010 / 0.132) / (2 * math.pi / 16)
    assert covered_share(face(Disc(0.020, 0.066)), 0.066) == pytest.approx(expected, rel=1e-12)


def test_block_through_its_centre():
    expected = 2 * math.asin(0.015 / (2 * 0.066)) / (2 * math.pi / 16)
    assert covered_share(face(Block(0.030, 0.015, 0.066)), 0.066) == pytest.approx(expected, rel=1e-12)


def test_arc_is_what_it_says_inside_and_nothing_outside():
    arc = Arc(0.05, 0.08, 0.7)
    assert [covered_share(face(arc), r) for r in (0.0499, 0.05, 0.066, 0.08, 0.0801)] == [0, 0.7, 0.7, 0.7, 0]


def test_halbach_bodies_are_measured_against_their_own_pitch():
    block = Block(0.030, 0.012, 0.066)
    plain = covered_share(face(block), 0.066)
    split = covered_share(face(block, pattern="halbach", segments_per_pole=2), 0.066)
    assert split == pytest.approx(2 * plain, rel=1e-12)


@pytest.mark.parametrize("outline", [Disc(0.020, 0.066), Block(0.030, 0.015, 0.066)])
@settings(derandomize=True, max_examples=40, deadline=None)
@given(radius=st.floats(0.045, 0.09))
def test_share_is_the_part_of_the_circle_inside_the_outline(outline, radius):
    """Counted point by point along the circle, with the plain test of whether a point is inside."""
    half, points = math.pi / 16, 20001
    inside = sum(contains(outline, radius, half * (2 * i / (points - 1) - 1)) for i in range(points))
    assert covered_share(face(outline), radius) == pytest.approx(inside / points, abs=2e-4)


def contains(outline, radius, angle):
    x, y = radius * math.cos(angle) - outline.pitch_radius_m, radius * math.sin(angle)
    if isinstance(outline, Disc):
        return math.hypot(x, y) <= outline.diameter_m / 2
    return abs(x) <= outline.radial_m / 2 and abs(y) <= outline.tangential_m / 2


def test_a_circle_beyond_a_block_cuts_its_corners_only():
    """R 66, 30 x 15 mm: at 81.2 mm it enters the outer side, 81 mm out, and leaves by the flank, 7.5 mm aside."""
    enters, leaves = half_angles(face(Block(0.030, 0.015, 0.066)), 0.0812)
    assert float(enters) == pytest.approx(math.acos(0.081 / 0.0812), rel=1e-12)
    assert float(leaves) == pytest.approx(math.asin(0.0075 / 0.0812), rel=1e-12)


@pytest.mark.parametrize("outline", [Disc(0.020, 0.066), Block(0.030, 0.015, 0.066), Arc(0.05, 0.08, 0.7)])
def test_nothing_is_covered_beyond_the_last_bends(outline):
    first, *_, last = bend_radii(outline)
    off = covered_share(face(outline), first - 1e-9), covered_share(face(outline), last + 1e-9)
    on = covered_share(face(outline), first + 1e-9), covered_share(face(outline), last - 1e-9)
    assert off == (0, 0)
    assert min(on) > 0


def test_bends_of_a_block_are_its_sides_and_corners():
    found = bend_radii(Block(0.030, 0.015, 0.066))
    assert found == pytest.approx([0.051, math.hypot(0.051, 0.0075), 0.081, math.hypot(0.081, 0.0075)])


def test_half_angles_of_many_radii_are_those_of_each():
    magnets, radii = face(Block(0.030, 0.015, 0.066)), [0.05, 0.0512, 0.066, 0.0812]
    enters, leaves = half_angles(magnets, radii)
    each = [half_angles(magnets, r) for r in radii]
    assert [*zip(enters, leaves, strict=True)] == [(float(a), float(b)) for a, b in each]


def test_mean_radius():
    assert mean_radius(Disc(0.02, 0.066)) == 0.066
    assert mean_radius(Block(0.03, 0.015, 0.066)) == 0.066
    assert mean_radius(Arc(0.05, 0.08, 0.7)) == pytest.approx(0.065)
