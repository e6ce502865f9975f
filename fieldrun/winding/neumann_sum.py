"""Neumann's integral between whole phases and their images: every pair of forms once for every angle between them."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.winding.combs import Families
from fieldrun.winding.filaments import Filaments
from fieldrun.winding.meetings import Image, Meetings, bundled, image_meetings, kept, meetings_of, without_selves
from fieldrun.winding.neumann import neumann, own
from fieldrun.winding.pieces import Pieces

CHUNK = 8192
"""Pairs of filaments worked out at once: what fits into a processor's cache."""

PAIRS_AT_MOST = 2e6
"""Pairs of filaments that one is willing to wait for, for every two phases: less than a second."""


class TooManyPairsError(Exception):
    """More pairs of filaments than one is willing to wait for."""


@dataclass(frozen=True, eq=False)
class Forms:
    """The distinct pieces of a winding, each lowered and turned to angle 0, as one form each.

    Parameters
    ----------
    pieces : u forms
    filaments : the same, cut
    apart_m : (u,) how far apart arcs of one circle are taken, 0 for other forms [m]
    wire_diameter_m : nor are wires drawn along each other taken closer than this
    radius_m : of the copper in the wire
    pole_pairs : how often the winding may repeat
    """

    pieces: Pieces
    filaments: Filaments
    apart_m: Floats
    wire_diameter_m: float
    radius_m: float
    pole_pairs: int

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "apart_m", frozen_array(self.apart_m))


def own_sum(forms: Forms, a: Families, b: Families) -> float:
    """Sum of Neumann's integral over all pieces of one phase and all pieces of another [m].

    mu0 / 4 pi times it is their mutual inductance, or for a phase with itself (`a` is `b`) its self inductance: then
    the integral of every filament with itself is that of a round wire.

    Parameters
    ----------
    forms : of both
    a, b : families of the two phases

    Raises
    ------
    TooManyPairsError
        If the phases are so irregular that more than `PAIRS_AT_MOST` pairs would have to be worked out.
    """
    _refuse(len(a.form) * len(b.form))
    meetings = meetings_of(forms.filaments, a, b, forms.pole_pairs)
    if a is b:
        meetings = without_selves(meetings, np.bincount(a.form, a.sizes, forms.pieces.count).astype(float))
    total = _summed(forms, bundled(forms.pieces, forms.apart_m, meetings))
    return total + float(a.sizes @ _selves(forms)[a.form]) if a is b else total


def image_sum(forms: Forms, a: Families, b: Families, images: tuple[Image, ...]) -> float:
    """Sum of Neumann's integral over all pieces of one phase and all images of another's pieces [m].

    Parameters
    ----------
    forms, a, b : as for `own_sum`
    images : one or more

    Raises
    ------
    TooManyPairsError
        As for `own_sum`.
    """
    _refuse(len(a.form) * len(b.form) * len(images))
    return _summed(forms, image_meetings(forms.filaments, a, b, images, forms.pole_pairs))


def _refuse(pairs: float) -> None:
    if pairs > PAIRS_AT_MOST:
        raise TooManyPairsError


def _selves(forms: Forms) -> Floats:
    """Integral of every form with itself, (u,) [m]."""
    every = np.arange(forms.pieces.count)
    counts = forms.filaments.counts
    a, b, form = _filament_pairs(forms.filaments, every, every)
    ends = forms.filaments.ends
    length = np.sqrt(np.sum((ends[1] - ends[0]) ** 2, axis=0))
    others = a != b
    mutual = np.bincount(form[others], neumann(ends[..., a[others]], ends[..., b[others]]), len(counts))
    return np.asarray(mutual + np.add.reduceat(own(length, forms.radius_m), forms.filaments.first[:-1]))


def _filament_pairs(filaments: Filaments, a: Ints, b: Ints) -> tuple[Ints, Ints, Ints]:
    """Numbers of all filaments of forms `a` with all of forms `b`, and the pair of forms each belongs to."""
    many = filaments.counts[a] * filaments.counts[b]
    pair = np.repeat(np.arange(len(a)), many)
    within = np.arange(len(pair)) - np.repeat(np.cumsum(many) - many, many)
    across = filaments.counts[b][pair]
    return filaments.first[a][pair] + within // across, filaments.first[b][pair] + within % across, pair


def _summed(forms: Forms, meetings: Meetings) -> float:
    counts = forms.filaments.counts
    _refuse(float(np.sum(counts[meetings.a] * counts[meetings.b])))
    done = np.cumsum(counts[meetings.a] * counts[meetings.b])
    cuts = np.unique(np.searchsorted(done, np.arange(CHUNK, done[-1] if len(done) else 0, CHUNK)))
    parts = np.split(np.arange(len(done)), cuts)
    return sum(_chunk_sum(forms, kept(meetings, part)) for part in parts if len(part))


def _chunk_sum(forms: Forms, meetings: Meetings) -> float:
    a, b, pair = _filament_pairs(forms.filaments, meetings.a, meetings.b)
    x, y, z = np.moveaxis(forms.filaments.ends[..., b], 1, 0)
    cosine, sine = np.cos(meetings.turn)[pair], np.sin(meetings.turn)[pair]
    placed = np.stack(
        [cosine * x - sine * y, sine * x + cosine * y, meetings.sign[pair] * z + meetings.lift[pair]], axis=1
    )
    return float(meetings.weight[pair] @ neumann(forms.filaments.ends[..., a], placed, forms.wire_diameter_m))
