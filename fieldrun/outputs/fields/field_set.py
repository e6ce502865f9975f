"""Everything that `fieldrun field` tells of a design, or of what a second one does otherwise, before it is written."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design
from fieldrun.design.read import design_hash
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.ring_view import RingView, ring_view
from fieldrun.generator.result import RunResult
from fieldrun.outputs.fields.asked import Asked, Places, places_of
from fieldrun.outputs.fields.bars import Harmonics, harmonics_of
from fieldrun.outputs.fields.cuts import Cuts, cuts_of
from fieldrun.outputs.fields.gap_map import shown_heights
from fieldrun.outputs.fields.grid import FieldGrid, grid_faults, grid_of
from fieldrun.outputs.fields.looks import rounded_up
from fieldrun.outputs.section_drawing import section_drawing
from fieldrun.outputs.section_picture import scale_top_t

MAP_RADII, MAP_ANGLES, MOST_MAP_ANGLES = 81, 144, 1441
"""Points of a map over radius, over each pole pair, and over angle at most."""

MARGIN = 0.08
"""What a map shows beyond magnets and winding, as a share of their length."""


@dataclass(frozen=True, eq=False)
class FieldSet:
    """What is told of a design's field.

    Parameters
    ----------
    result : its answer
    grid : for the table and the arrays
    map_grid : for the pictures: denser, magnets and winding whole
    cuts, harmonics : for the pictures
    view : the rings in space, for files and the cut along the radius
    largest_t : largest |B_z| in map and cuts, of both designs [T]
    gap_top_t, height_top_t : ends of their scale, and of that of the cut over height [T]
    section_top_t : end of the scale of the section and of the cut along the radius, of both designs [T]
    other, other_grid, other_map : the second design's answer, and its field at the same places
    """

    result: RunResult
    grid: FieldGrid
    map_grid: FieldGrid
    cuts: Cuts
    harmonics: Harmonics
    view: RingView
    largest_t: float
    gap_top_t: float
    height_top_t: float
    section_top_t: float
    other: RunResult | None = None
    other_grid: FieldGrid | None = None
    other_map: FieldGrid | None = None

    @property
    def winding_m(self) -> tuple[float, float]:
        """Radii of the design's winding [m]."""
        return self.result.lay.inner_radius_m, self.result.lay.outer_radius_m

    @property
    def difference_top_t(self) -> float:
        """End of the difference's own scale [T]; 0 without a second design."""
        if self.other_map is None:
            return 0.0
        return rounded_up(float(np.abs(self.other_map.b_t[2] - self.map_grid.b_t[2]).max()))


def field_set(
    result: RunResult,
    asked: Asked,
    other: RunResult | None = None,
    range_t: float | None = None,
    section_range_t: float | None = None,
) -> FieldSet:
    """Work out grid, map, cuts and harmonics, and the same places of a second design.

    Parameters
    ----------
    result, other : answers
    asked : places
    range_t, section_range_t : ends of the scales [T]; None for the largest there is, of all that is drawn

    Raises
    ------
    DesignError
        If a place lies where a map has no answer, or the two designs cannot be set against each other.
    """
    places = places_of(result, asked)
    faults = grid_faults(result.field_map, result.design.rotor, places)
    if other is not None:
        faults += pair_faults(result.design, other.design)
        faults += [] if faults else _beyond_other(other, places)
    if faults:
        raise DesignError(faults)
    on_map = _map_places(result, asked, places, other)
    grid, map_grid = _at(result, places), _at(result, on_map)
    cuts = cuts_of(result, places, on_map.radii_m)
    other_map = None if other is None else _at(other, on_map)
    drawn = [float(np.abs(one.b_t[2]).max()) for one in (map_grid, other_map) if one]
    largest = max(cuts.largest_t, *drawn)
    return FieldSet(
        result=result,
        grid=grid,
        map_grid=map_grid,
        cuts=cuts,
        harmonics=harmonics_of(result, places),
        view=ring_view(result.design.magnets, result.design.rotor, result.field.stack),
        largest_t=largest,
        gap_top_t=range_t or rounded_up(largest),
        height_top_t=range_t or rounded_up(max(largest, float(np.abs(cuts.over_height.b_z_t).max()))),
        section_top_t=section_range_t or max(_section_top_t(one) for one in (result, other) if one),
        other=other,
        other_grid=None if other is None else _at(other, places),
        other_map=other_map,
    )


def pair_faults(design: Design, other: Design) -> list[Fault]:
    """Why a second design cannot be set against the first, as far as can be told without a field."""
    name, poles, others = other.name, design.magnets.count, other.magnets.count
    if design_hash(design) == design_hash(other):
        return [Fault("OTHER", f"is the same design as the first, so that nothing differs; received {name}")]
    if poles != others:
        text = f"must have as many poles as the first, {poles}, for places to correspond; {name} has {others}"
        return [Fault("OTHER", text)]
    return []


def check_pair(design: Design, other: Design) -> None:
    """Refuse two designs that cannot be set against each other, before either is answered.

    Raises
    ------
    DesignError
        If they are the same, or differ in the number of poles.
    """
    if faults := pair_faults(design, other):
        raise DesignError(faults)


def _beyond_other(other: RunResult, places: Places) -> list[Fault]:
    faults = grid_faults(other.field_map, other.design.rotor, places)
    return [Fault(fault.key, f"in {other.design.name}, {fault.text}") for fault in faults]


def _section_top_t(result: RunResult) -> float:
    return scale_top_t(section_drawing(result.section))


def _at(result: RunResult, places: Places) -> FieldGrid:
    return grid_of(result, places.radii_m, places.angles_rad, places.heights_m)


def _map_places(result: RunResult, asked: Asked, places: Places, other: RunResult | None) -> Places:
    """Where pictures show the field: between the ends of what was asked, else magnets and winding of a pole pair."""
    radii = (asked.radii_m[0], asked.radii_m[-1]) if asked.radii_m and len(asked.radii_m) > 1 else None
    low, high = radii or _whole(result, other)
    pitch = math.pi / result.field_map.pole_pairs
    angles = (asked.angles_rad[0], asked.angles_rad[-1]) if asked.angles_rad and len(asked.angles_rad) > 1 else None
    first, last = angles or (-pitch / 2, 1.5 * pitch)
    count = min(MOST_MAP_ANGLES, 1 + max(2, round(MAP_ANGLES * (last - first) / (2 * pitch))))
    heights = places.heights_m[shown_heights(places.heights_m)]
    return Places(np.linspace(low, high, MAP_RADII), np.linspace(first, last, count), heights)


def _whole(result: RunResult, other: RunResult | None) -> tuple[float, float]:
    """Magnets and winding with a margin, as far as the maps reach [m]."""
    breaks = radial_breaks_m(result.design.magnets)
    low, high = min(breaks[0], result.lay.inner_radius_m), max(breaks[-1], result.lay.outer_radius_m)
    margin = MARGIN * (high - low)
    maps = [one.field_map.radii_m for one in (result, other) if one is not None]
    return max(low - margin, *(r[0] for r in maps)), min(high + margin, *(r[-1] for r in maps))
