"""The bodies of a face of magnets, as every drawing needs them; apart, as former and page do without matplotlib."""

import math
from dataclasses import dataclass

from fieldrun.design.model import Magnets, Outline
from fieldrun.design.outlines import reach_m
from fieldrun.design.units import MM


@dataclass(frozen=True)
class Body:
    """One magnet body: where its middle stands [rad], and how far its magnetisation is turned from north up [rad]."""

    angle_rad: float
    turn_rad: float


def bodies_of(magnets: Magnets) -> tuple[Body, ...]:
    """Every body of the lower face, number 0 a north pole at angle 0; a Halbach face turns by pi / segments."""
    per_pole = magnets.segments_per_pole if magnets.pattern == "halbach" else 1
    count = magnets.count * per_pole
    return tuple(Body(2 * math.pi * j / count, math.pi * j / per_pole) for j in range(count))


def reach_mm(outline: Outline) -> tuple[float, float]:
    """Smallest and largest radius that the magnets touch [mm]."""
    inner, outer = reach_m(outline)
    return inner / MM, outer / MM
