"""What magnets cover of the plane: areas and moments from closed forms, whatever the mesh."""

import math

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc
from fieldrun.reference.solid_grid import with_midpoints
from fieldrun.reference.solid_outline import coverage, is_inside, outline_area, outline_radii

COUNT = 12
RADII, ANGLES = np.linspace(0.045, 0.085, 15), np.linspace(0, math.pi / COUNT, 8)
OUTLINES = [Disc(0.020, 0.065), Block(0.024, 0.014, 0.065), Arc(0.050, 0.080, 0.7)]


@pytest.mark.parametrize("outline", OUTLINES)
def test_area_is_exact_and_its_moment_close(outline):
    cover = coverage(outline, COUNT, RADII, ANGLES)
    half = outline_area(outline, COUNT) / 2
    assert cover.node_areas_m2.sum() == pytest.approx(half, rel=1e-12)
    x = np.outer(with_midpoints(RADII), np.cos(with_midpoints(ANGLES)))
    assert np.sum(cover.node_areas_m2 * x) == pytest.approx(half * centroid(outline), rel=2e-4)


def centroid(outline):
    """Distance of the area's centre from the shaft."""
    if isinstance(outline, Arc):
        half = outline.share * math.pi / COUNT
        a, b = outline.inner_radius_m, outline.outer_radius_m
        return 2 / 3 * (b**3 - a**3) / (b**2 - a**2) * math.sin(half) / half
    return outline.pitch_radius_m


@pytest.mark.parametrize("outline", OUTLINES)
def test_shares_are_parts_of_triangles(outline):
    shares = coverage(outline, COUNT, RADII, ANGLES).shares
    assert shares.min() == 0
    assert shares.max() == pytest.approx(1, abs=2e-3)
    area = np.multiply.outer(np.diff(RADII**2) / 2, np.diff(ANGLES)) / 2
    assert np.sum(shares * area[..., None]) == pytest.approx(outline_area(outline, COUNT) / 2, rel=2e-3)


def test_an_arc_on_mesh_lines_fills_whole_cells():
    cover = coverage(Arc(RADII[2], RADII[9], 3 / 7), COUNT, RADII, ANGLES)
    assert np.unique(cover.shares) == pytest.approx([0, 1], abs=1e-12)
    assert cover.shares[2:9, :3].min() == pytest.approx(1)


@pytest.mark.parametrize(
    ("outline", "edges"),
    [
        (OUTLINES[0], (0.055, 0.075)),
        (OUTLINES[1], (0.053, math.hypot(0.077, 0.007))),
        (OUTLINES[2], (0.050, 0.080)),
    ],
)
def test_radii_enclose_the_magnet(outline, edges):
    assert outline_radii(outline) == pytest.approx(edges)
    theta = np.linspace(0, math.pi / COUNT, 4000)
    inner, outer = edges
    for radius, expected in ((inner - 1e-6, False), (inner + 1e-6, True), (outer - 1e-5, True), (outer + 1e-6, False)):
        assert np.any(is_inside(outline, COUNT, np.full(4000, radius), theta)) == expected
