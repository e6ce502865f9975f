"""The radii and angles at which a shape gives most, near the magnets of one machine: the field is solved beforehand.

What is looked for is the largest EMF^2/R in the same thickness of the same wire. Whole rounds would make it a staircase
in the inner radius, so the search lets a belt hold parts of a round and counts one turn at the middle height, by the
fundamental; where it ends, whole rounds are counted again for every number of phases and belts.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import Bounds, direct, minimize

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import DesignError
from fieldrun.design.model import Design, Winding
from fieldrun.design.shapes import numbers_of
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import radial_breaks_m
from fieldrun.generator.emf import emf_harmonics, fundamental_only
from fieldrun.winding.belts import allowed_belt_rad, available_belt_rad, rounds_that_fit, step_rad, tightest_radius_m
from fieldrun.winding.factors import belt_factor
from fieldrun.winding.lay import lay, place_faults
from fieldrun.winding.pieces import ARC, Pieces, lengths
from fieldrun.winding.shapes import ring_of
from fieldrun.winding.turn import Edge, passes_its_foot, raised, turn_edges

NEIGHBOURHOOD = 0.5
"""How far beyond the magnets' inner and outer radius is looked, in lengths of the magnets along the radius."""

LEAST_DEPTH = 0.4
"""Least length of the legs along the radius, in the same."""

ANGLES: dict[str, tuple[float, float]] = {"span": (0.05, 1.0), "skew": (0.0, 1.0), "straight_share": (0.0, 0.9)}
"""From where to where a shape may change the numbers that it is drawn by, besides its radii."""

TRIALS = 240
"""Windings that are tried all over the neighbourhood, before the best of them is improved step by step."""

POLISH = 120
"""Steps of that."""

AT_EDGE = 0.01
"""Share of its bounds within which a key counts as at their edge."""

NUDGE, NUDGES = 0.04, 17
"""The inner radius is moved by up to this share at the end, in so many places, so that whole rounds fill the belt."""


@dataclass(frozen=True)
class Search:
    """One shape in one machine: its keys that may change, each with its bounds."""

    design: Design
    winding: Winding
    field_map: FieldMap
    bounds: dict[str, tuple[float, float]]


@dataclass(frozen=True)
class Found:
    """The best of a search, and which of its keys ended at the edge of where was looked."""

    winding: Winding
    at_edge: tuple[str, ...]


def best_winding(design: Design, winding: Winding, field_map: FieldMap) -> Found | None:
    """Find the radii and angles at which a named shape's EMF^2/R is largest, parts of rounds let count.

    Deterministic: rectangles are divided all over the neighbourhood (DIRECT), then a simplex walks (Nelder and Mead).

    Parameters
    ----------
    design : the machine and its wire
    winding : shape, phases, belts, layers and height, "fill"
    field_map : the machine's field

    Returns
    -------
    The best; None if the shape cannot be laid anywhere near the magnets.
    """
    first = fundamental_only(field_map)
    bounds = _radii(design, field_map) | {key: ANGLES[key] for key in numbers_of(winding)}
    search = Search(design, winding, first, bounds)
    low, high = np.array(list(search.bounds.values())).T

    def loss(share: Floats) -> float:
        return -worth(search.design, _placed(search, low + share * (high - low)), first)

    unit = Bounds(np.zeros(len(low)), np.ones(len(low)))
    coarse = direct(loss, unit, maxfun=TRIALS, locally_biased=False)
    fine = minimize(
        loss, coarse.x, method="Nelder-Mead", bounds=unit, options={"maxfev": POLISH, "xatol": 1e-3, "fatol": 0}
    )
    if fine.fun == 0:
        return None
    edge = tuple(key for key, share in zip(search.bounds, fine.x, strict=True) if not AT_EDGE < share < 1 - AT_EDGE)
    return Found(_placed(search, low + fine.x * (high - low)), edge)


def whole_rounds(design: Design, winding: Winding, field_map: FieldMap) -> Winding:
    """Move the inner radius a little to where whole rounds make the most of the belt.

    Raises
    ------
    ValueError
        If the winding has no radii (a path).
    """
    first, ring = fundamental_only(field_map), ring_of(winding, design.magnets.pole_pairs)
    places = ring.inner_m * np.linspace(1 - NUDGE, 1 + NUDGE, NUDGES)
    tried = [replace(winding, inner_radius_m=float(place)) for place in places if place < ring.outer_m]
    return max([winding, *tried], key=lambda moved: worth(design, moved, first, whole=True))


def worth(design: Design, winding: Winding, field_map: FieldMap, *, whole: bool = False) -> float:
    """EMF^2/R of a winding up to a factor that shape, radii, angles, belts and phases do not change.

    N (k e)^2 / l over all groups and phases: N rounds of one group, k their belt factor, e and l EMF and length of one
    turn at the middle height. Zero for what cannot be laid.

    Parameters
    ----------
    design : the machine and its wire
    winding : of a named shape, "fill"
    field_map : with the fundamental first
    whole : count whole rounds only
    """
    pole_pairs = design.magnets.pole_pairs
    edges = turn_edges(winding, pole_pairs)
    if any(passes_its_foot(edge) for edge in edges):
        return 0.0
    step = step_rad(design.wire.overall_diameter_m, tightest_radius_m(edges))
    belt = allowed_belt_rad(winding, available_belt_rad(winding, edges, pole_pairs))
    rounds = rounds_that_fit(belt, pole_pairs, step)
    if rounds < 1 or not _has_room(design, winding, edges):
        return 0.0
    turn = _one_turn(winding, edges)
    emf = float(abs(emf_harmonics(field_map, turn, 1)[0, 0]))
    factor = float(belt_factor(rounds, pole_pairs * step, np.array([1]))[0]) if whole else math.sin(belt / 2) * 2 / belt
    count = rounds if whole else belt / (pole_pairs * step)
    return winding.phases * winding.belts * count * (factor * emf) ** 2 / float(np.sum(lengths(turn)))


def _has_room(design: Design, winding: Winding, edges: tuple[Edge, ...]) -> bool:
    """Whether bundles of end arcs, if there are any, keep clear of the magnets."""
    if not any(edge.kind == ARC for edge in edges):
        return True
    try:
        laid = lay(winding, design.magnets.pole_pairs, design.wire)
    except DesignError:
        return False
    return not place_faults(laid, design.magnets, design.rotor, winding, design.wire)


def _one_turn(winding: Winding, edges: tuple[Edge, ...]) -> Pieces:
    kind, start, end = raised(edges, winding.height_m, winding.height_m)
    return Pieces(kind, start, end, np.zeros_like(kind), np.zeros_like(kind))


def _radii(design: Design, field_map: FieldMap) -> dict[str, tuple[float, float]]:
    """Bounds of the two radii [m], inside what the map covers."""
    breaks = radial_breaks_m(design.magnets)
    inner, outer, depth = breaks[0], breaks[-1], breaks[-1] - breaks[0]
    least = max(inner - NEIGHBOURHOOD * depth, float(field_map.radii_m[0]))
    most = min(outer + NEIGHBOURHOOD * depth, float(field_map.radii_m[-1]))
    middle = (inner + outer) / 2
    half = LEAST_DEPTH * depth / 2
    return {"inner_radius_m": (least, middle - half), "outer_radius_m": (middle + half, most)}


def _placed(search: Search, values: Floats) -> Winding:
    found = dict(zip(search.bounds, values.tolist(), strict=True))
    return replace(search.winding, **found)
