"""Magnets whose outline changes over their height: a stack of slabs, each a plain magnet."""

from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.model import Magnets, Outline
from fieldrun.field.outline import radial_breaks_m


@dataclass(frozen=True)
class Slab:
    """The part of a magnet between two heights, and its outline there [m]."""

    low_m: float
    high_m: float
    outline: Outline


Stack = tuple[Slab, ...]
"""Slabs from the foot up; none where the magnets are plain."""


def of_slab(magnets: Magnets, slab: Slab) -> Magnets:
    """Magnets with the outline of one slab."""
    return replace(magnets, outline=slab.outline)


def slabs_of(magnets: Magnets, stack: Stack) -> Stack:
    """The slabs of a stack; of plain magnets one that is all of them."""
    return stack or (Slab(-magnets.thickness_m, 0.0, magnets.outline),)


def longest(magnets: Magnets, stack: Stack) -> Magnets:
    """Magnets with the outline of the slab that reaches farthest along the radius: those that a mesh must hold."""
    return max((of_slab(magnets, slab) for slab in slabs_of(magnets, stack)), key=_length_m)


def _length_m(magnets: Magnets) -> float:
    return float(np.ptp(radial_breaks_m(magnets)))
