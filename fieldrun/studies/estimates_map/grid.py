"""Machines of one arrangement over three ratios: gap and magnet thickness over the pole pitch, and the magnets' share.

Poles, the magnets' mean radius and material, faces, plates and pattern stay those of the design, and so do arcs' and
blocks' lengths along the radius; round magnets grow both ways. Where nothing closes the gap, the room that the winding
stands in the middle of counts as the gap: twice its height.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Literal, assert_never

import numpy as np

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor
from fieldrun.reference.shares import bodies_per_pole, covered_share, mean_radius

Steel = Literal["ideal", "own"]
"""Steel made perfect, so that ratios tell all; or plates as the design has them, in metres and with their curve."""

GAPS, THICKNESSES, SHARES = 9, 7, (0.5, 0.7, 0.9)
"""Grid lines of the default ratios."""

GAP_ENDS, THICKNESS_ENDS = (0.1, 1.0), (0.1, 0.6)
"""Smallest and largest gap and thickness over the pole pitch, widened where the design lies outside."""

FITS = 1e-9
"""By what share magnets may overlap before they do: they may touch, and ratios are rounded."""


@dataclass(frozen=True)
class Point:
    """Ratios of one machine: gap and thickness over the pole pitch, part of its pitch that a magnet covers."""

    gap: float
    thickness: float
    share: float


@dataclass(frozen=True)
class Axes:
    """Grid lines of the three ratios, each ascending."""

    gaps: tuple[float, ...]
    thicknesses: tuple[float, ...]
    shares: tuple[float, ...]

    @property
    def points(self) -> tuple[Point, ...]:
        """Every machine of the grid: shares outermost, gaps innermost."""
        lines = product(self.shares, self.thicknesses, self.gaps)
        return tuple(Point(gap, thickness, share) for share, thickness, gap in lines)

    @property
    def corners(self) -> tuple[int, ...]:
        """Numbers of the points at the grid's corners."""
        number = np.arange(np.prod(self.shape)).reshape(self.shape)
        return tuple(sorted({int(number[corner]) for corner in product((0, -1), repeat=3)}))

    @property
    def shape(self) -> tuple[int, int, int]:
        """Of an array over the grid: shares, thicknesses, gaps."""
        return len(self.shares), len(self.thicknesses), len(self.gaps)


@dataclass(frozen=True)
class Machine:
    """One machine of the grid, and where its field is asked for: height above the lower magnets, radius [m]."""

    magnets: Magnets
    rotor: Rotor
    height_m: float
    radius_m: float


@dataclass(frozen=True)
class Pattern:
    """What all machines of a grid have in common: a design's, with the winding's height as a share of the gap."""

    magnets: Magnets
    rotor: Rotor
    height_share: float = 0.5

    @property
    def pole_pitch_m(self) -> float:
        """At the magnets' mean radius [m]."""
        return math.pi * mean_radius(self.magnets.outline) / self.magnets.pole_pairs


def pattern_of(magnets: Magnets, rotor: Rotor, height_m: float, steel: Steel = "ideal") -> Pattern:
    """The pattern of a machine; an outline of the magnets' own is left out, and steel made ideal if asked."""
    share = 0.5 if rotor.gap_m is None else height_m / rotor.gap_m
    plates = (rotor.backing, rotor.return_plate)
    backing, return_plate = (Plate(None) if plate and steel == "ideal" else plate for plate in plates)
    same = replace(rotor, backing=backing, return_plate=return_plate)
    return Pattern(replace(magnets, section_mesh=""), same, share)


def point_of(pattern: Pattern, height_m: float) -> Point:
    """Where the pattern's own machine stands among the ratios; its winding's height counts where no gap is given."""
    magnets, rotor = pattern.magnets, pattern.rotor
    gap = 2 * height_m if rotor.gap_m is None else rotor.gap_m
    share = covered_share(magnets, mean_radius(magnets.outline))
    return Point(gap / pattern.pole_pitch_m, magnets.thickness_m / pattern.pole_pitch_m, share)


def machine_at(pattern: Pattern, point: Point) -> Machine:
    """The pattern's machine of given ratios."""
    pitch, magnets = pattern.pole_pitch_m, pattern.magnets
    outline = _covering(magnets, point.share)
    sized = replace(magnets, outline=outline, thickness_m=point.thickness * pitch)
    room = point.gap * pitch
    rotor = pattern.rotor if pattern.rotor.gap_m is None else replace(pattern.rotor, gap_m=room)
    return Machine(sized, rotor, pattern.height_share * room, mean_radius(outline))


def default_axes(pattern: Pattern, own: Point) -> Axes:
    """Grid lines in even ratios; shares up to what fits, the nearest of them replaced by the design's own."""
    most = min(SHARES[-1], largest_share(pattern.magnets))
    shares = [most * share / SHARES[-1] for share in SHARES]
    nearest = min(range(len(shares)), key=lambda k: abs(shares[k] - own.share))
    shares[nearest] = own.share
    return Axes(_spaced(GAP_ENDS, own.gap, GAPS), _spaced(THICKNESS_ENDS, own.thickness, THICKNESSES), tuple(shares))


def check_axes(axes: Axes, pattern: Pattern) -> None:
    """Refuse grid lines that no machine can have.

    Raises
    ------
    DesignError
        With every fault.
    """
    most = largest_share(pattern.magnets)
    faults = [fault for key in ("gaps", "thicknesses") for fault in _line_faults(key, getattr(axes, key), math.inf)]
    faults += _line_faults("shares", axes.shares, most)
    if faults:
        raise DesignError(faults)


def largest_share(magnets: Magnets) -> float:
    """Largest part of its pitch at the mean radius that a body may cover before it touches its neighbours."""
    outline, half_pitch = magnets.outline, math.pi / (magnets.count * bodies_per_pole(magnets))
    if isinstance(outline, Arc):
        return 1.0
    if isinstance(outline, Disc):
        return 2 * math.asin(math.sin(half_pitch) / 2) / half_pitch
    if isinstance(outline, Block):
        across = (outline.pitch_radius_m - outline.radial_m / 2) * math.tan(half_pitch)
        return math.asin(min(1.0, across / outline.pitch_radius_m)) / half_pitch
    assert_never(outline)


def _covering(magnets: Magnets, share: float) -> Outline:
    """The magnets' outline, as wide as covers this share of the circle through their middles."""
    outline, half = magnets.outline, share * math.pi / (magnets.count * bodies_per_pole(magnets))
    if isinstance(outline, Arc):
        return replace(outline, share=share)
    if isinstance(outline, Disc):
        return replace(outline, diameter_m=4 * outline.pitch_radius_m * math.sin(half / 2))
    if isinstance(outline, Block):
        return replace(outline, tangential_m=2 * outline.pitch_radius_m * math.sin(half))
    assert_never(outline)


def _spaced(ends: tuple[float, float], own: float, count: int) -> tuple[float, ...]:
    lines = np.geomspace(min(ends[0], own), max(ends[1], own), count)
    return tuple(lines.tolist())


def _line_faults(key: str, lines: tuple[float, ...], most: float) -> list[Fault]:
    limit = "" if most == math.inf else f" and at most {most:.6g}, where neighbours touch"
    if not lines or not all(0 < line <= most * (1 + FITS) and math.isfinite(line) for line in lines):
        received = ", ".join(f"{line:.6g}" for line in lines) or "none"
        return [Fault(key, f"ratios must be above 0{limit}; received {received}")]
    if any(second <= first for first, second in pairwise(lines)):
        return [Fault(key, f"ratios must ascend; received {', '.join(f'{line:.6g}' for line in lines)}")]
    return []
