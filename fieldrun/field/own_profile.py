"""What a section mesh of the user's own says of the magnets' width over their height.

Only where every pole is one body of magnet, upright and symmetric about its axis: half of its section is the profile.
The outline's corners are joined by straight lines, so that the width is linear between two of their heights.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.field.mesh import SectionMesh, element_areas
from fieldrun.field.mesh_fit import EXACT, FIT
from fieldrun.field.section import Region, Section, polygon_area


@dataclass(frozen=True)
class Piece:
    """Part of a profile between two heights: half widths at its lower and its upper end [m]."""

    low_m: float
    high_m: float
    lower_m: float
    upper_m: float


def profile_of(section: Section, mesh: SectionMesh, thickness_m: float) -> tuple[Piece, ...]:
    """Half the width of the magnet that points up, and of its neighbour turned over where the box shows it.

    Parameters
    ----------
    section, mesh : of the user's file; it fits the machine
    thickness_m : of the magnets [m]

    Returns
    -------
    Pieces from -`thickness_m` up to 0; empty if there is no such profile: magnets that lie, that have holes or gaps, or
    whose halves differ; pole shoes; shaped discs of steel.
    """
    magnets = [index for index, region in enumerate(section.regions) if any(region.remanence_t)]
    up, down = (_pointing(section, sign) for sign in (1, -1))
    whole = section.width == "full pole"
    if not up or len(up) + len(down) != len(magnets) or bool(down) != whole:
        return ()
    if not _steel_is_plain(section, thickness_m) or _has_holes(section, mesh, magnets):
        return ()
    sides = [_sides(up, 0.0), *([_sides(down, section.pole_pitch_m)] if whole else [])]
    return _joined(sides, thickness_m, FIT * section.pole_pitch_m)


def _pointing(section: Section, sign: int) -> list[Region]:
    return [region for region in section.regions if region.remanence_t[0] == 0 and sign * region.remanence_t[1] > 0]


def _steel_is_plain(section: Section, thickness_m: float) -> bool:
    """Whether all steel is level plates as wide as the box, none of it beside or on the magnets."""
    slack = FIT * section.pole_pitch_m
    for region in section.regions:
        x, z = np.array(region.polygon_m).T
        at_ends = [np.minimum(v - v.min(), v.max() - v).max() <= slack for v in (x, z)]
        wide = np.ptp(x) >= section.width_m - slack
        if region.steel is not None and not (all(at_ends) and wide and (z.max() <= slack - thickness_m or z.min() > 0)):
            return False
    return True


def _has_holes(section: Section, mesh: SectionMesh, magnets: list[int]) -> bool:
    filled = float(element_areas(mesh)[np.isin(mesh.region, magnets)].sum())
    outlined = sum(polygon_area(section.regions[index].polygon_m) for index in magnets)
    return abs(filled - outlined) > FIT * outlined


def _sides(regions: list[Region], axis_m: float) -> Floats:
    """All sides of some outlines, (2, 2, sides) over ends and (distance from the axis, height) [m]."""
    corners = [np.array([[abs(x - axis_m), z] for x, z in region.polygon_m]).T for region in regions]
    return np.concatenate([np.stack([one, np.roll(one, -1, axis=1)]) for one in corners], axis=2)


def _joined(sides: list[Floats], thickness_m: float, slack_m: float) -> tuple[Piece, ...]:
    """Join the pieces between all corners' heights; the lowest and the highest are the magnets' faces."""
    hair = EXACT * thickness_m
    heights = _distinct(np.concatenate([one[0, 1] for one in sides]), hair)
    if max(abs(heights[0] + thickness_m), abs(heights[-1])) > slack_m:
        return ()
    named = [-thickness_m, *heights[1:-1], 0.0]
    pieces = []
    for levels, (low, high) in zip(pairwise(heights), pairwise(named), strict=True):
        halves = [_half_width(one, np.array(levels), hair, slack_m) for one in sides]
        known = [half for half in halves if half is not None]
        if len(known) < len(halves) or np.ptp(known, axis=0).max() > slack_m:
            return ()
        lower, upper = np.mean(known, axis=0)
        pieces.append(Piece(low, high, float(lower), float(upper)))
    return tuple(pieces)


def _distinct(values: Floats, hair: float) -> list[float]:
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > hair:
            kept.append(float(value))
    return kept


def _half_width(sides: Floats, levels: Floats, hair: float, slack_m: float) -> Floats | None:
    """Distance from the axis at two heights of the one side beyond the axis itself; None if there are more or none."""
    low, high = sides[:, 1].min(axis=0), sides[:, 1].max(axis=0)
    across = sides[:, :, (low <= levels[0] + hair) & (high >= levels[1] - hair)]
    if across.shape[2] != 2:
        return None
    (x0, x1), (z0, z1) = across[:, 0], across[:, 1]
    place = x0 + (x1 - x0) * (levels[:, None] - z0) / (z1 - z0)  # (levels, sides)
    axis, flank = place[:, np.argsort(place.sum(axis=0))].T
    return flank if np.abs(axis).max() <= slack_m else None


def grouped(pieces: Sequence[Piece], step_m: float) -> list[list[Piece]]:
    """Cut slants and join what follows on, so that the half width changes by `step_m` at most within a group."""
    groups: list[list[Piece]] = []
    for piece in (part for one in pieces for part in _cut(one, step_m)):
        if groups and _range([*groups[-1], piece]) <= step_m / 2:
            groups[-1].append(piece)
        else:
            groups.append([piece])
    return groups


def _cut(piece: Piece, step_m: float) -> list[Piece]:
    count = max(1, int(np.ceil(abs(piece.upper_m - piece.lower_m) / step_m)))
    heights = np.linspace(piece.low_m, piece.high_m, count + 1)
    halves = np.linspace(piece.lower_m, piece.upper_m, count + 1)
    return [Piece(*map(float, one)) for one in zip(heights, heights[1:], halves, halves[1:], strict=False)]


def _range(pieces: list[Piece]) -> float:
    return float(np.ptp([half for piece in pieces for half in (piece.lower_m, piece.upper_m)]))


def mean_half_width_m(group: list[Piece]) -> float:
    """Half width of the rectangle with the same height and area [m]; each piece is a trapezium."""
    area = sum((piece.lower_m + piece.upper_m) / 2 * (piece.high_m - piece.low_m) for piece in group)
    return area / (group[-1].high_m - group[0].low_m)
