"""The part of a circle that magnets cover, against the plain question whether a point lies in the magnet."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline
from fieldrun.field.outline import body_pitch_rad, covered_half_angles, mean_radius_m, radial_breaks_m

OUTLINES = [Disc(0.020, 0.066), Block(0.022, 0.016, 0.066), Block(0.006, 0.030, 0.066), Arc(0.056, 0.076, 0.8)]


def magnets(outline: Outline) -> Magnets:
    return Magnets(outline, 12, 0.006, 1.3, 1.05, 7500.0)


def holds(outline: Outline, r: float, theta: float) -> bool:
    """Whether a point lies in the magnet on the axis theta = 0."""
    x, y = r * math.cos(theta), r * math.sin(theta)
    match outline:
        case Disc(diameter_m=d, pitch_radius_m=R):
            return math.hypot(x - R, y) < d / 2
        case Block(radial_m=a, tangential_m=b, pitch_radius_m=R):
            return abs(x - R) < a / 2 and abs(y) < b / 2
        case Arc(inner_radius_m=low, outer_radius_m=high, share=share):
            return low < r < high and abs(theta) < share * math.pi / 12


@pytest.mark.parametrize("outline", OUTLINES, ids=["disc", "block", "wide block", "arc"])
@given(r=st.floats(0.045, 0.085), theta=st.floats(0.0, 0.5))
@settings(derandomize=True, max_examples=150, deadline=None)
def test_covered_is_inside(outline: Outline, r: float, theta: float) -> None:
    inner, outer = (float(psi) for psi in covered_half_angles(magnets(outline), r))
    if min(abs(theta - inner), abs(theta - outer)) > 1e-9:
        assert (inner < theta < outer) == holds(outline, r, theta) or theta < 1e-9


@pytest.mark.parametrize("outline", OUTLINES, ids=["disc", "block", "wide block", "arc"])
def test_covered_angles_give_the_area(outline: Outline) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(48)
    t = np.pi / 2 * (nodes + 1)  # r = middle - half cos t smooths the square roots at a stretch's ends
    breaks = radial_breaks_m(magnets(outline))
    total = 0.0
    for low, high in pairwise(breaks):
        r = (low + high) / 2 - (high - low) / 2 * np.cos(t)
        inner, outer = covered_half_angles(magnets(outline), r)
        total += float(np.sum((high - low) / 2 * np.sin(t) * np.pi / 2 * weights * 2 * r * (outer - inner)))
    match outline:
        case Disc(diameter_m=d):
            area = math.pi * d**2 / 4
        case Block(radial_m=a, tangential_m=b):
            area = a * b
        case Arc(inner_radius_m=low, outer_radius_m=high, share=share):
            area = share * math.pi * (high**2 - low**2) / 12
    assert total == pytest.approx(area, rel=1e-5)


def test_nothing_is_covered_outside() -> None:
    for outline in OUTLINES:
        low, *_, high = radial_breaks_m(magnets(outline))
        for r in (0.9 * low, 1.1 * high):
            inner, outer = covered_half_angles(magnets(outline), r)
            assert inner == outer


def test_a_call_with_many_radii_is_many_calls() -> None:
    radii = np.linspace(0.05, 0.08, 31)
    for outline in OUTLINES:
        together = np.stack(covered_half_angles(magnets(outline), radii))
        one_by_one = np.stack([covered_half_angles(magnets(outline), r) for r in radii], axis=1)
        assert np.array_equal(together, one_by_one)


def test_pitch_and_mean_radius() -> None:
    assert body_pitch_rad(magnets(OUTLINES[0])) == pytest.approx(math.radians(30))
    assert [mean_radius_m(magnets(outline)) for outline in OUTLINES] == pytest.approx([0.066] * 4)
