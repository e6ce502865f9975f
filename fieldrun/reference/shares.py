"""How much of the circle the magnets cover, at one radius."""

import math

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline


def mean_radius(outline: Outline) -> float:
    """Radius through the magnets' centres; for arcs midway between their edges [m]."""
    if isinstance(outline, Arc):
        return (outline.inner_radius_m + outline.outer_radius_m) / 2
    return outline.pitch_radius_m


def bodies_per_pole(magnets: Magnets) -> int:
    """Bodies that make up one pole: 1 for north and south in turn, the segments of a Halbach face."""
    return magnets.segments_per_pole if magnets.pattern == "halbach" else 1


def covered_share(magnets: Magnets, radius_m: float) -> float:
    """Part of its pitch that one body covers on the circle of this radius: 2 psi / (body pitch), 0 off the magnets.

    psi is the body's angular half width: a disc of radius a centred at R has cos psi = (r^2 + R^2 - a^2) / (2 r R); a
    block reaches sin psi = b / 2r where that lies between its inner and outer edge.
    """
    if isinstance(magnets.outline, Arc):
        inside = magnets.outline.inner_radius_m <= radius_m <= magnets.outline.outer_radius_m
        return magnets.outline.share if inside else 0.0
    half_width = (
        _disc(magnets.outline, radius_m) if isinstance(magnets.outline, Disc) else _block(magnets.outline, radius_m)
    )
    pitch = 2 * math.pi / (magnets.count * bodies_per_pole(magnets))
    return 2 * half_width / pitch


def _disc(disc: Disc, r: float) -> float:
    a, centre = disc.diameter_m / 2, disc.pitch_radius_m
    cosine = (r**2 + centre**2 - a**2) / (2 * r * centre)
    return math.acos(cosine) if cosine < 1 else 0.0


def _block(block: Block, r: float) -> float:
    """Half the arc inside the block: it enters by the outer edge, it leaves by the side or the inner edge."""
    inner, outer = block.pitch_radius_m - block.radial_m / 2, block.pitch_radius_m + block.radial_m / 2
    if r <= inner:
        return 0.0
    enters = math.acos(outer / r) if r > outer else 0.0
    leaves = min(math.asin(min(1.0, block.tangential_m / (2 * r))), math.acos(inner / r))
    return max(0.0, leaves - enters)
