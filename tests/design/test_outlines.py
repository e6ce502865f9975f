"""Where outlines reach, against plain geometry; and that no stage's table leaves an outline out."""

import math
from typing import get_args

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Outline
from fieldrun.design.outlines import corners_m, ends_m, middle_m, reach_m
from fieldrun.field.slices import SECTIONS_PER_STRETCH
from fieldrun.generator.accuracy import ENDS_SHARE
from fieldrun.reference.shares import bend_radii, mean_radius
from fieldrun.reference.solid_outline import outline_area, outline_radii

DISC, ARC, BLOCK = Disc(0.020, 0.066), Arc(0.050, 0.080, 0.8), Block(0.030, 0.016, 0.065)
OUTLINES: tuple[Outline, ...] = (DISC, ARC, BLOCK)


def test_no_outline_is_left_out() -> None:
    kinds = set(get_args(Outline))
    assert {type(outline) for outline in OUTLINES} == kinds
    assert set(SECTIONS_PER_STRETCH) == set(ENDS_SHARE) == kinds


@pytest.mark.parametrize(
    ("outline", "reach", "ends", "middle"),
    [
        (DISC, (0.056, 0.076), (0.056, 0.076), 0.066),
        (ARC, (0.050, 0.080), (0.050, 0.080), 0.065),
        (BLOCK, (0.050, math.hypot(0.080, 0.008)), (0.050, 0.080), 0.065),
    ],
)
def test_reach_ends_and_middle(
    outline: Outline, reach: tuple[float, float], ends: tuple[float, float], middle: float
) -> None:
    assert reach_m(outline) == pytest.approx(reach)
    assert ends_m(outline) == pytest.approx(ends)
    assert middle_m(outline) == pytest.approx(middle)


@pytest.mark.parametrize("outline", OUTLINES)
def test_the_reference_measures_the_same(outline: Outline) -> None:
    assert reach_m(outline) == pytest.approx(outline_radii(outline))
    assert reach_m(outline) == pytest.approx((bend_radii(outline)[0], bend_radii(outline)[-1]))
    assert middle_m(outline) == pytest.approx(mean_radius(outline))


def test_corners_lie_round_the_body_in_order() -> None:
    """They enclose its area (shoelace formula), counterclockwise, and the farthest is where it reaches."""
    along, across = np.array(corners_m(BLOCK)).T
    area = np.sum(along * np.roll(across, -1) - np.roll(along, -1) * across) / 2
    assert area == pytest.approx(outline_area(BLOCK, 1))
    assert np.hypot(along, across).max() == pytest.approx(reach_m(BLOCK)[1])
