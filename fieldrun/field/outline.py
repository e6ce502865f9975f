"""Which part of a circle the magnets cover: the angular half widths of a magnet at a radius."""

import math
from typing import assert_never

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets
from fieldrun.design.outlines import middle_m


def covered_half_angles(magnets: Magnets, radius_m: ArrayLike) -> tuple[Floats, Floats]:
    """Angles from a magnet's axis between which it covers the circle of radius r.

    Disc of radius a centred at R: cos psi = (r^2 + R^2 - a^2) / (2 r R). Block (a along the radius, b across):
    psi_i = acos(min(1, (R + a/2) / r)), psi_o = min(asin(min(1, b / 2r)), acos(min(1, (R - a/2) / r))): plane geometry.

    Parameters
    ----------
    magnets : the face of magnets
    radius_m : (...) radii [m]

    Returns
    -------
    (psi_i, psi_o), each (...) [rad]: covered from psi_i to psi_o on both sides of the axis; equal where nothing is
    covered. psi_i is above zero only at a block's outer corners.
    """
    r = np.asarray(radius_m, float)
    outline = magnets.outline
    if isinstance(outline, Disc):
        outer = _disc_half_angle(outline, r)
        return np.zeros_like(outer), outer
    if isinstance(outline, Block):
        return _block_half_angles(outline, r)
    if isinstance(outline, Arc):
        half = outline.share * body_pitch_rad(magnets) / 2
        outer = np.where((r >= outline.inner_radius_m) & (r <= outline.outer_radius_m), half, 0.0)
        return np.zeros_like(outer), outer
    assert_never(outline)


def _disc_half_angle(disc: Disc, r: Floats) -> Floats:
    R, a = disc.pitch_radius_m, disc.diameter_m / 2
    cosine = (r**2 + R**2 - a**2) / (2 * r * R)
    return np.arccos(np.clip(cosine, -1, 1))


def _block_half_angles(block: Block, r: Floats) -> tuple[Floats, Floats]:
    R, a, b = block.pitch_radius_m, block.radial_m, block.tangential_m
    inner = np.arccos(np.minimum(1, (R + a / 2) / r))
    outer = np.minimum(np.arcsin(np.minimum(1, b / (2 * r))), np.arccos(np.minimum(1, (R - a / 2) / r)))
    return np.minimum(inner, outer), outer


def body_pitch_rad(magnets: Magnets) -> float:
    """Angle from one magnet body to the next on a face, 2 pi over their number [rad]."""
    return 2 * math.pi / (magnets.count * magnets.segments_per_pole)


def radial_breaks_m(magnets: Magnets) -> tuple[float, ...]:
    """Radii at which the covered angle starts, ends or bends, ascending [m]: ends on the axis, a block's corners."""
    outline = magnets.outline
    if isinstance(outline, Disc):
        R, a = outline.pitch_radius_m, outline.diameter_m / 2
        return (R - a, R + a)
    if isinstance(outline, Block):
        R, a, b = outline.pitch_radius_m, outline.radial_m, outline.tangential_m
        inner_corner, outer_corner = math.hypot(R - a / 2, b / 2), math.hypot(R + a / 2, b / 2)
        return tuple(sorted((R - a / 2, inner_corner, R + a / 2, outer_corner)))
    if isinstance(outline, Arc):
        return (outline.inner_radius_m, outline.outer_radius_m)
    assert_never(outline)


def mean_radius_m(magnets: Magnets) -> float:
    """Radius of the magnets' middle: the pitch circle, or halfway along an arc [m]."""
    return middle_m(magnets.outline)
