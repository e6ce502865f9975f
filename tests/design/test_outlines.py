"""Where outlines reach, against plain geometry; and that no stage's table leaves an outline out."""

import math
from typing import get_args

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline
from fieldrun.design.outlines import corners_m, ends_m, middle_m, reach_m
from fieldrun.field.outline import covered_half_angles
from fieldrun.field.slices import SECTIONS_PER_STRETCH
from fieldrun.generator.accuracy import ENDS_SHARE
from fieldrun.generator.moving import magnets_part
from fieldrun.generator.wind.runaway import magnet_load_n
from fieldrun.reference.shares import bend_radii, half_angles, mean_radius
from fieldrun.reference.solid_outline import is_inside, outline_area, outline_radii

DISC, ARC, BLOCK = Disc(0.020, 0.066), Arc(0.050, 0.080, 0.8), Block(0.030, 0.016, 0.065)
OUTLINES: tuple[Outline, ...] = (DISC, ARC, BLOCK)
COUNT = 8


def magnets(outline: Outline) -> Magnets:
    return Magnets(outline, COUNT, 0.006, 1.3, 1.05, 7500.0)


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


@pytest.mark.parametrize("outline", OUTLINES)
def test_field_and_reference_cover_the_same_of_every_circle(outline: Outline) -> None:
    inner, outer = reach_m(outline)
    radii = np.linspace(inner, outer, 203)[1:-1]
    angles = np.linspace(0, math.pi / COUNT, 2002)[1:]
    enters, leaves = covered_half_angles(magnets(outline), radii)
    for found, judged in zip((enters, leaves), half_angles(magnets(outline), radii), strict=True):
        np.testing.assert_allclose(found, judged, atol=1e-9)
    inside = is_inside(outline, COUNT, radii[:, None], angles[None, :])
    np.testing.assert_allclose(inside.mean(axis=1) * math.pi / COUNT, leaves - enters, atol=1e-3 * math.pi / COUNT)


@pytest.mark.parametrize("outline", OUTLINES)
def test_mass_inertia_and_pull_are_those_of_what_lies_inside(outline: Outline) -> None:
    """Cut into cells of a polar grid: area, mean square of the distance, and the middle along the axis."""
    inner, outer = reach_m(outline)
    radii = inner + (outer - inner) * (np.arange(800) + 0.5) / 800
    angles = math.pi / COUNT * (np.arange(800) + 0.5) / 800
    area = is_inside(outline, COUNT, radii[:, None], angles[None, :]) * radii[:, None]
    part = magnets_part(magnets(outline), 1)
    assert part.mass_kg == pytest.approx(COUNT * outline_area(outline, COUNT) * 0.006 * 7500)
    square = np.sum(area * radii[:, None] ** 2) / area.sum()
    assert part.inertia_kg_m2 / part.mass_kg == pytest.approx(square, rel=1e-3)
    middle = np.sum(area * radii[:, None] * np.cos(angles)) / area.sum()
    each = part.mass_kg / COUNT
    assert magnet_load_n(magnets(outline), 100.0) == pytest.approx(each * 100.0**2 * middle, rel=1e-3)
