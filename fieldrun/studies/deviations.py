"""One machine of many that were built from the same drawing: what a deviation does to magnets, gap and winding."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import assert_never

from fieldrun.design.model import Arc, Block, Design, Disc, Magnets, Outline, Rotor
from fieldrun.field.outline import body_pitch_rad, mean_radius_m


@dataclass(frozen=True)
class Built:
    """Magnets and rotor as built, and how much higher than drawn the winding lies above the lower magnets [m]."""

    magnets: Magnets
    rotor: Rotor
    lift_m: float = 0.0


Deviate = Callable[[Design, float], Built]
"""Builds a design with one deviation: a share of the remanence, or a length [m]."""


def as_drawn(design: Design) -> Built:
    """Nothing deviates. A mesh of the user's own fits one size only, so that the plain outline stands for it."""
    return Built(replace(design.magnets, section_mesh=""), design.rotor)


def with_remanence(design: Design, share: float) -> Built:
    """Magnets of a stronger or weaker batch."""
    drawn = as_drawn(design)
    return replace(drawn, magnets=replace(drawn.magnets, remanence_t=drawn.magnets.remanence_t * (1 + share)))


def with_gap(design: Design, length_m: float) -> Built:
    """A wider gap. Between two faces the winding stays in the middle; under a plate it stays where it is above the
    magnets; over one open face, which has no gap, it is the winding that lies higher.
    """
    drawn, rotor = as_drawn(design), design.rotor
    if rotor.gap_m is None:
        return replace(drawn, lift_m=length_m)
    wider = replace(rotor, gap_m=rotor.gap_m + length_m)
    return replace(drawn, rotor=wider, lift_m=length_m / 2 if rotor.faces == 2 else 0.0)


def with_thickness(design: Design, length_m: float) -> Built:
    """Thicker magnets behind the same gap."""
    drawn = as_drawn(design)
    return replace(drawn, magnets=replace(drawn.magnets, thickness_m=drawn.magnets.thickness_m + length_m))


def with_sides(design: Design, length_m: float) -> Built:
    """Magnets larger in both directions of their plane, as far as their neighbours leave room."""
    drawn = as_drawn(design)
    return replace(drawn, magnets=replace(drawn.magnets, outline=_grown(drawn.magnets, length_m)))


def with_circle(design: Design, length_m: float) -> Built:
    """All magnets farther from the shaft."""
    drawn = as_drawn(design)
    return replace(drawn, magnets=replace(drawn.magnets, outline=_moved(drawn.magnets, length_m)))


def _grown(magnets: Magnets, length_m: float) -> Outline:
    outline = magnets.outline
    if isinstance(outline, Disc):
        return replace(outline, diameter_m=_within(outline.diameter_m, length_m, room_m(magnets)))
    if isinstance(outline, Block):
        width = _within(outline.tangential_m, length_m, room_m(magnets))
        return replace(outline, radial_m=outline.radial_m + length_m, tangential_m=width)
    if isinstance(outline, Arc):
        share = outline.share + length_m / room_m(magnets)
        half = length_m / 2
        return Arc(outline.inner_radius_m - half, outline.outer_radius_m + half, min(share, 1.0))
    assert_never(outline)


def _moved(magnets: Magnets, length_m: float) -> Outline:
    """An arc keeps its width in m, so that its share falls on a larger circle."""
    outline = magnets.outline
    if isinstance(outline, Disc | Block):
        return replace(outline, pitch_radius_m=outline.pitch_radius_m + length_m)
    if isinstance(outline, Arc):
        middle = mean_radius_m(magnets)
        share = min(1.0, outline.share * middle / (middle + length_m))
        return Arc(outline.inner_radius_m + length_m, outline.outer_radius_m + length_m, share)
    assert_never(outline)


def room_m(magnets: Magnets) -> float:
    """Width along the motion that one body may have: discs touch between their centres, blocks at their inner corners,
    arcs along their whole sides [m].
    """
    outline, pitch = magnets.outline, body_pitch_rad(magnets)
    if isinstance(outline, Disc):
        return 2 * outline.pitch_radius_m * math.sin(pitch / 2)
    if isinstance(outline, Block):
        inner = outline.pitch_radius_m - outline.radial_m / 2
        return 2 * inner * math.tan(pitch / 2) if pitch < math.pi else math.inf
    if isinstance(outline, Arc):
        return mean_radius_m(magnets) * pitch
    assert_never(outline)


def smallest_side_m(magnets: Magnets) -> float:
    """The shortest of a magnet's dimensions [m]."""
    outline = magnets.outline
    if isinstance(outline, Disc):
        return min(magnets.thickness_m, outline.diameter_m)
    if isinstance(outline, Block):
        return min(magnets.thickness_m, outline.radial_m, outline.tangential_m)
    if isinstance(outline, Arc):
        depth = outline.outer_radius_m - outline.inner_radius_m
        return min(magnets.thickness_m, depth, outline.share * room_m(magnets))
    assert_never(outline)


def _within(width: float, more: float, room: float) -> float:
    return min(width + more, max(room, width))
