"""Every way this program knows from a machine to the field at its winding, from the pocket calculator to the whole.

Each yields the same record, a field map with the fundamental in it, so that one winding can be held into all of them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.model import Disc, Magnets, Rotor
from fieldrun.field.field_map import FieldMap, uniform_map
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.own_outline import with_own_outline
from fieldrun.field.own_slabs import drawn_stack
from fieldrun.field.ring_field import COUPLED
from fieldrun.field.solve import field_of, slices_of
from fieldrun.reference.end_effects import spread_map
from fieldrun.reference.estimates import estimates, machine_stack
from fieldrun.reference.layers import amplitudes, solve_layers
from fieldrun.reference.solid import solve_solid

LAYERED_RADII = 65
"""Radii between two breaks of the magnets' outline at which the layered solution is taken, drawn towards the ends."""

Maps = Mapping[str, FieldMap]
"""The maps that earlier ways gave, by key."""


class DoesNotApplyError(Exception):
    """A way does not hold for this machine; the message says why, as half a sentence."""


@dataclass(frozen=True, eq=False)
class Job:
    """A machine and where its field is asked for.

    Parameters
    ----------
    magnets, rotor : the machine
    mean_radius_m, height_m : of the copper's middle
    radii_m : (r,) ascending, over copper and magnets and a little beyond
    heights_m : (z,) ascending, over the copper and a little beyond, off the magnets' faces
    """

    magnets: Magnets
    rotor: Rotor
    mean_radius_m: float
    height_m: float
    radii_m: Floats
    heights_m: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "heights_m"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


@dataclass(frozen=True)
class Way:
    """One way to the field.

    Parameters
    ----------
    key, name : for programs, for people
    solve : yields the map, or raises `DoesNotApplyError`
    leaves_out : what it leaves out, one sentence
    flat : it knows no flux beside the magnets' own radii
    """

    key: str
    name: str
    solve: Callable[[Job, Maps], FieldMap]
    leaves_out: Callable[[Job], str]
    flat: bool = False


def heights_round_m(low_m: float, high_m: float, top_m: float) -> Floats:
    """Seven Chebyshev heights (7,) [m] over copper from low to high and a little beyond, never at the faces 0, top."""
    margin = max(0.1 * (high_m - low_m), 0.05 * low_m)
    first, last = max(low_m - margin, low_m / 2), min(high_m + margin, (high_m + top_m) / 2)
    return np.asarray((first + last) / 2 - (last - first) / 2 * np.cos(np.linspace(0, np.pi, 7)))


def by_hand(job: Job, _: Maps) -> FieldMap:
    """B1 of the hand calculation at the winding's mean radius, held over all the magnets' radii.

    Raises
    ------
    ValueError
        If the winding's middle is not in the gap.
    """
    breaks = radial_breaks_m(job.magnets)
    b1 = estimates(job.magnets, job.rotor, job.height_m, job.mean_radius_m)[0].b1_t
    return uniform_map(job.magnets.pole_pairs, [b1], (breaks[0], breaks[-1]), float(job.heights_m[-1]))


def layered(job: Job, _: Maps) -> FieldMap:
    """The fundamental of the layered Fourier solution, the machine unrolled at many radii."""
    radii = _drawn_to_breaks(radial_breaks_m(job.magnets))
    solved = [_layers_at(job, float(radius)) for radius in radii]
    b_theta, b_z = (np.stack([one[component] for one in solved], axis=1) for component in (0, 1))
    none = np.zeros_like(b_z)
    return FieldMap(job.magnets.pole_pairs, np.array([1]), radii, job.heights_m, none, b_theta, b_z)


def _drawn_to_breaks(breaks: tuple[float, ...]) -> Floats:
    """Radii closer together at each break, where a round magnet's width grows like a square root; breaks twice."""
    share = (1 - np.cos(np.linspace(0, np.pi, LAYERED_RADII))) / 2
    return np.concatenate([inner * (1 - share) + outer * share for inner, outer in pairwise(breaks)])


def _layers_at(job: Job, radius_m: float) -> tuple[Complexes, Complexes]:
    return amplitudes(solve_layers(machine_stack(job.magnets, job.rotor, radius_m, (1,))), job.heights_m)


def sections(job: Job, _: Maps) -> FieldMap:
    """Finite elements of the machine unrolled flat at many radii; an outline of the user's own laid over them."""
    plain = slices_of(job.magnets, job.rotor)
    return with_own_outline(plain, job.magnets, job.rotor) if job.magnets.section_mesh else plain


def spread_sections(job: Job, earlier: Maps) -> FieldMap:
    """The sections' fundamental, spread past the magnets' ends by the K1 kernel.

    Raises
    ------
    DoesNotApplyError
        For an outline of one's own, a Halbach array, or without sections.
    """
    if job.magnets.section_mesh:
        raise DoesNotApplyError("it does not know an outline of one's own")
    if job.magnets.pattern != "alternating":
        raise DoesNotApplyError("its charge sheets know magnets along the shaft only, and here some lie on their side")
    if "sections" not in earlier:
        raise DoesNotApplyError("it starts from the flat sections, and they were not solved")
    return spread_map(earlier["sections"], job.magnets, job.rotor, job.radii_m, job.heights_m)


def rings(job: Job, _: Maps) -> FieldMap:
    """The default field map: what every run answers with."""
    return field_of(job.magnets, job.rotor)


def solid(job: Job, _: Maps) -> FieldMap:
    """Whole magnets and discs in tetrahedra, by a chain of its own.

    Raises
    ------
    DoesNotApplyError
        For what `solve_solid` refuses: a Halbach array, an outline of one's own.
    SolveError
        If Newton finds no balance in deeply saturated steel.
    """
    try:
        return solve_solid(job.magnets, job.rotor, job.heights_m).field_map
    except ValueError as reason:
        raise DoesNotApplyError(str(reason)) from reason


def _hand_gap(job: Job) -> str:
    estimate = estimates(job.magnets, job.rotor, job.height_m, job.mean_radius_m)[0]
    name = f"{estimate.name[0].upper()}{estimate.name[1:]}"
    return f"{name}, one value over all the magnets' radii. {estimate.leaves_out}{_plain_only(job)}"


def _layered_gap(job: Job) -> str:
    return estimates(job.magnets, job.rotor, job.height_m, job.mean_radius_m)[1].leaves_out + _plain_only(job)


def _plain_only(job: Job) -> str:
    return " Knows plain magnets only, not the outline drawn." if job.magnets.section_mesh else ""


def _sections_gap(_: Job) -> str:
    return "Unrolls every radius flat: no flux spreads past the magnets' inner and outer ends."


def _spread_gap(job: Job) -> str:
    steel = "; takes any steel as perfect and endless for that" if job.rotor.plates else ""
    return f"Lets the sections' flux spread past the magnets' ends{steel}. Time on top of the sections'."


def _rings_gap(job: Job) -> str:
    steel = f"; where steel saturates, the first {COUPLED} harmonics in it" if job.rotor.real_steel else ""
    return f"The default: whole magnets and discs, as far as its mesh and harmonics go{steel}.{_drawn(job)}"


def _drawn(job: Job) -> str:
    if not job.magnets.section_mesh:
        return ""
    if not drawn_stack(job.magnets, job.rotor):
        return " Takes the outline drawn from a flat section, the same at every radius."
    if isinstance(job.magnets.outline, Disc):
        return " Takes the outline drawn all round, slab by slab."
    ends = {"plain": "upright", "cut": "cut like the flanks"}[job.magnets.outline_ends]
    return f" Takes the outline drawn slab by slab, the magnets' ends {ends}."


def _solid_gap(_: Job) -> str:
    return "Whole magnets and discs in tetrahedra, as far as its mesh goes."


HAND = Way("hand", "hand calculation", by_hand, _hand_gap, flat=True)
LAYERED = Way("layered", "layered Fourier", layered, _layered_gap, flat=True)
SECTIONS = Way("sections", "flat sections", sections, _sections_gap, flat=True)
SPREAD = Way("k1", "sections + K1", spread_sections, _spread_gap)
RINGS = Way("rings", "rings", rings, _rings_gap)
SOLID = Way("solid", "solid", solid, _solid_gap)

WAYS = (HAND, LAYERED, SECTIONS, SPREAD, RINGS, SOLID)
"""From the crudest to the best; a way may use the maps of those before it."""
