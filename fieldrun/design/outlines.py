"""Where a magnet's outline reaches and what its corners are: plain geometry that every stage may ask for."""

import math
from typing import assert_never

from fieldrun.design.model import Arc, Block, Disc, Outline

SIGNS = ((-1, -1), (1, -1), (1, 1), (-1, 1))
"""Corners of a straight-sided body, one after the other round it: inner or outer, right or left of its axis."""


def reach_m(outline: Outline) -> tuple[float, float]:
    """Smallest and largest radius that a magnet touches [m]; a block's is that of its outer corners."""
    if isinstance(outline, Block):
        inner, outer = ends_m(outline)
        return inner, math.hypot(outer, outline.tangential_m / 2)
    if isinstance(outline, Disc | Arc):
        return ends_m(outline)
    assert_never(outline)


def ends_m(outline: Outline) -> tuple[float, float]:
    """Radii between which a magnet lies along its own axis [m]."""
    if isinstance(outline, Disc):
        half = outline.diameter_m / 2
        return outline.pitch_radius_m - half, outline.pitch_radius_m + half
    if isinstance(outline, Block):
        half = outline.radial_m / 2
        return outline.pitch_radius_m - half, outline.pitch_radius_m + half
    if isinstance(outline, Arc):
        return outline.inner_radius_m, outline.outer_radius_m
    assert_never(outline)


def middle_m(outline: Outline) -> float:
    """Radius of a magnet's middle: the pitch circle, or half way along an arc [m]."""
    if isinstance(outline, Disc | Block):
        return outline.pitch_radius_m
    if isinstance(outline, Arc):
        return (outline.inner_radius_m + outline.outer_radius_m) / 2
    assert_never(outline)


def corners_m(block: Block) -> tuple[tuple[float, float], ...]:
    """Corners of a straight-sided body: along its axis from the shaft, and across it [m]."""
    middle, long, wide = block.pitch_radius_m, block.radial_m / 2, block.tangential_m / 2
    return tuple((middle + along * long, across * wide) for along, across in SIGNS)
