"""Magnets of the user's own outline as slabs: the profile drawn at the mean radius, carried to all radii."""

import math
from dataclasses import replace
from pathlib import Path
from typing import assert_never

import numpy as np

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Rotor
from fieldrun.field.mesh_file import read_section_mesh
from fieldrun.field.mesh_fit import FIT
from fieldrun.field.outline import body_pitch_rad, covered_half_angles, mean_radius_m, radial_breaks_m
from fieldrun.field.own_profile import grouped, mean_half_width_m, profile_of
from fieldrun.field.slabs import Slab, Stack

STEP = 0.02
"""How far the width may change within a slab, over the largest; against a quarter of it the EMF moves by 0.003 %."""


def drawn_stack(magnets: Magnets, rotor: Rotor, step: float = STEP) -> Stack:
    """The magnets as slabs, as far as their section mesh tells.

    The section's half width w at the mean radius r is an angle w / r, which a disc's diameter, a block's width or an
    arc's share follows from. Assumes that discs are round at every height; that the inner and outer ends of blocks and
    arcs are upright, or, with `outline_ends = "cut"`, cut back as far as the flanks.

    Parameters
    ----------
    magnets, rotor : the machine
    step : how far the width may change within a slab, over the largest

    Returns
    -------
    Slabs from the foot up. None where nothing of its own is drawn, where the drawing has no profile
    (`own_profile.profile_of`), and where magnets so wide would overlap at another radius.

    Raises
    ------
    DesignError
        If the mesh does not fit the machine.
    """
    if not magnets.section_mesh:
        return ()
    section, mesh = read_section_mesh(Path(magnets.section_mesh), magnets, rotor)
    pieces = profile_of(section, mesh, magnets.thickness_m)
    largest = max((half for piece in pieces for half in (piece.lower_m, piece.upper_m)), default=0.0)
    stack = []
    for group in grouped(pieces, step * largest):
        half_rad = mean_half_width_m(group) / mean_radius_m(magnets)
        outline = _narrowed(magnets, half_rad)
        if outline is not None and not _stands_alone(replace(magnets, outline=outline), half_rad):
            return ()
        stack += [Slab(group[0].low_m, group[-1].high_m, outline)] if outline is not None else []
    return tuple(stack)


def _narrowed(magnets: Magnets, half_rad: float) -> Outline | None:
    """The outline that covers this angle on both sides of its axis at the mean radius; None if nothing is left."""
    outline, cut = magnets.outline, magnets.outline_ends == "cut"
    if isinstance(outline, Disc):
        diameter = 4 * outline.pitch_radius_m * math.sin(half_rad / 2)
        return replace(outline, diameter_m=diameter) if diameter > 0 else None
    if isinstance(outline, Block):
        width = 2 * outline.pitch_radius_m * math.sin(half_rad)
        length = outline.radial_m - (outline.tangential_m - width if cut else 0.0)
        return replace(outline, tangential_m=width, radial_m=length) if min(width, length) > 0 else None
    if isinstance(outline, Arc):
        pitch = body_pitch_rad(magnets)
        share = min(1.0, 2 * half_rad / pitch)
        off = (outline.share - share) * pitch / 2 * mean_radius_m(magnets) if cut else 0.0
        inner, outer = outline.inner_radius_m + off, outline.outer_radius_m - off
        return Arc(inner, outer, share) if share > 0 and inner < outer else None
    assert_never(outline)


def _stands_alone(magnets: Magnets, half_rad: float) -> bool:
    """Whether the magnets cover what is drawn at the mean radius, and touch no neighbour at any other."""
    slack = FIT * body_pitch_rad(magnets)
    breaks = radial_breaks_m(magnets)
    radii = np.concatenate([breaks, np.linspace(breaks[0], breaks[-1], 101)])
    there, anywhere = (covered_half_angles(magnets, r)[1].max() for r in (mean_radius_m(magnets), radii))
    return bool(abs(there - half_rad) <= slack and anywhere <= body_pitch_rad(magnets) / 2 + slack)
