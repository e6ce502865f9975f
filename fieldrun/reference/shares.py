"""How much of the circle the magnets cover, at any radius."""

import math
from typing import assert_never

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline


def mean_radius(outline: Outline) -> float:
    """Radius through the magnets' centres; for arcs midway between their edges [m]."""
    if isinstance(outline, Arc):
        return (outline.inner_radius_m + outline.outer_radius_m) / 2
    if isinstance(outline, Disc | Block):
        return outline.pitch_radius_m
    assert_never(outline)


def bodies_per_pole(magnets: Magnets) -> int:
    """Bodies that make up one pole: 1 for north and south in turn, the segments of a Halbach face."""
    return magnets.segments_per_pole if magnets.pattern == "halbach" else 1


def covered_share(magnets: Magnets, radius_m: float) -> float:
    """Part of its pitch that one body covers on the circle of this radius, 0 off the magnets."""
    enters, leaves = half_angles(magnets, radius_m)
    pitch = 2 * math.pi / (magnets.count * bodies_per_pole(magnets))
    return 2 * float(leaves - enters) / pitch


def half_angles(magnets: Magnets, radius_m: ArrayLike) -> tuple[Floats, Floats]:
    """Angles from a body's axis at which half a circle enters the body and leaves it; equal off the magnets.

    Parameters
    ----------
    magnets : the face
    radius_m : (...) radii [m]

    Returns
    -------
    enters, leaves : each (...) [rad]; the circle enters off the axis only beyond a block's outer side, at its corners
    """
    r = np.asarray(radius_m, float)
    outline = magnets.outline
    if isinstance(outline, Arc):
        inside = (outline.inner_radius_m <= r) & (r <= outline.outer_radius_m)
        half = outline.share * math.pi / (magnets.count * bodies_per_pole(magnets))
        return np.zeros_like(r), np.where(inside, half, 0.0)
    if isinstance(outline, Disc):
        return _disc(outline, r)
    if isinstance(outline, Block):
        return _block(outline, r)
    assert_never(outline)


def bend_radii(outline: Outline) -> tuple[float, ...]:
    """Radii at which the covered angles start, bend or end, ascending [m]: plane geometry of rims, sides, corners."""
    if isinstance(outline, Arc):
        return outline.inner_radius_m, outline.outer_radius_m
    if isinstance(outline, Disc):
        return outline.pitch_radius_m - outline.diameter_m / 2, outline.pitch_radius_m + outline.diameter_m / 2
    if isinstance(outline, Block):
        sides = _sides(outline)
        return tuple(sorted([*sides, *(math.hypot(side, outline.tangential_m / 2) for side in sides)]))
    assert_never(outline)


def _disc(disc: Disc, r: Floats) -> tuple[Floats, Floats]:
    """From the triangle of axis, centre and rim: sin^2(psi/2) = (a^2 - (r - R)^2) / 4 r R, exact to the very edge."""
    a, aside = disc.diameter_m / 2, r - disc.pitch_radius_m
    sine2 = (a - aside) * (a + aside) / (4 * r * disc.pitch_radius_m)
    return np.zeros_like(r), 2 * np.arcsin(np.sqrt(np.maximum(sine2, 0.0)))


def _block(block: Block, r: Floats) -> tuple[Floats, Floats]:
    """A circle enters a block by its outer side, and leaves by its flank or its inner side."""
    inner, outer = (np.arccos(np.minimum(1.0, side / r)) for side in _sides(block))
    leaves = np.minimum(np.arcsin(np.minimum(1.0, block.tangential_m / (2 * r))), inner)
    return np.minimum(outer, leaves), leaves


def _sides(block: Block) -> tuple[float, float]:
    return block.pitch_radius_m - block.radial_m / 2, block.pitch_radius_m + block.radial_m / 2
