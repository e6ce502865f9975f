"""From a winding as stated to conductors: rounds, belts, sheets and phases laid out round the ring."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Magnets, Rotor, Winding, Wire
from fieldrun.design.stack import sheet_heights_m, sheets_per_layer, wound_thickness_m
from fieldrun.winding.belts import (
    PHASE_STEP,
    allowed_belt_rad,
    available_belt_rad,
    rounds_that_fit,
    step_rad,
    tightest_radius_m,
)
from fieldrun.winding.checks import bundle_faults, path_height_faults, winding_faults
from fieldrun.winding.ends import EndBundle, end_bundles
from fieldrun.winding.path import copies, read_path, ring_m, rounds_of, sheets_of
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.shapes import SHAPES, ring_of
from fieldrun.winding.turn import Edge, raised, turn_edges

HERE = Path()

KEPT = 8
"""Windings remembered: a megabyte each, ten of the largest."""


@dataclass(frozen=True, eq=False)
class Lay:
    """A winding laid out: every conductor of every phase, and how the rounds share the ring.

    Parameters
    ----------
    pieces : all conductors, phase after phase, in winding order
    pole_pairs : p
    inner_radius_m, outer_radius_m : ring that the legs cover [m]
    rounds_per_phase : rounds of one phase over all belts and layers; of a path, whole passes of the ring's middle
    rounds_per_group : N, rounds side by side in one belt of one layer; of a path, its copies
    step_rad : mechanical angle from one round to the next [rad]; 0 for a path of one round
    belt_rad : N p step_rad, what one group really covers [electrical rad]
    sheets : number of sheets; of a path, of distinct heights of its flat pieces
    sheet_heights_m : (sheets,) their mid-planes, lowest first [m]
    thickness_m : from the lowest wire's underside to the highest wire's top [m]
    rim_m_per_phase : length of the circle at the inner radius that one group of a phase covers, N step r1: after so
        much rim the winder stops and goes on with the next group; None for a path
    end_bundles : bundles of end arcs, one for each circle they lie on, innermost first
    """

    pieces: Pieces
    pole_pairs: int
    inner_radius_m: float
    outer_radius_m: float
    rounds_per_phase: int
    rounds_per_group: int
    step_rad: float
    belt_rad: float
    sheets: int
    sheet_heights_m: Floats
    thickness_m: float
    rim_m_per_phase: float | None
    end_bundles: tuple[EndBundle, ...]

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "sheet_heights_m", frozen_array(self.sheet_heights_m))

    @property
    def end_bundle(self) -> EndBundle | None:
        """The bundle of most wires, None if the winding has no end arcs."""
        return max(self.end_bundles, key=lambda bundle: bundle.wires, default=None)


def lay(winding: Winding, pole_pairs: int, wire: Wire, folder: Path = HERE) -> Lay:
    """Lay a winding out.

    Round j of N stands (j - (N-1)/2) steps from the middle of its belt; a second belt is turned by one pole pitch and
    run backwards; phase k is turned by (k-1) 2 tau/3 (three phases) or tau/2 (two).

    Parameters
    ----------
    winding, wire : as stated
    pole_pairs : p
    folder : where a path's file is looked for if its name is relative

    Raises
    ------
    DesignError
        If it cannot be laid: every reason at once.
    """
    if winding.shape == "path":
        return _lay_path(winding, pole_pairs, wire, folder)
    if faults := _shape_faults(_anywhere(winding), pole_pairs, wire):
        raise DesignError(faults)
    return _lay_shape(winding, pole_pairs, wire)


def lay_faults(
    magnets: Magnets | None, rotor: Rotor | None, winding: Winding | None, wire: Wire | None, folder: Path
) -> list[Fault]:
    """Everything that keeps a winding from being laid between these magnets; nothing if a record it needs is missing.

    Files and lines of the design's keys are left to the reader to fill in; faults of a path file carry their own.
    """
    if magnets is None or winding is None or wire is None:
        return []
    if winding.shape != "path":
        return _named_faults(magnets, rotor, winding, wire)
    faults = winding_faults(winding, magnets.pole_pairs, wire, folder)
    if faults or rotor is None:
        return faults
    return place_faults(lay(winding, magnets.pole_pairs, wire, folder), magnets, rotor, winding, wire)


def _named_faults(magnets: Magnets, rotor: Rotor | None, winding: Winding, wire: Wire) -> list[Fault]:
    """The same of a named shape: at which height it lies changes nothing, and a sweep of gaps asks once."""
    flat = _anywhere(winding)
    faults = list(_shape_faults(flat, magnets.pole_pairs, wire))
    if faults or rotor is None:
        return faults
    return place_faults(_numbered(flat, magnets.pole_pairs, wire.overall_diameter_m), magnets, rotor, winding, wire)


@lru_cache(maxsize=4 * KEPT)
def _shape_faults(winding: Winding, pole_pairs: int, wire: Wire) -> tuple[Fault, ...]:
    return tuple(winding_faults(winding, pole_pairs, wire, HERE))


def _anywhere(winding: Winding) -> Winding:
    """A named winding without its height and clearance, on which its lay does not depend."""
    return replace(winding, height_m=0.0, clearance_m=0.0)


def place_faults(laid: Lay, magnets: Magnets, rotor: Rotor, winding: Winding, wire: Wire) -> list[Fault]:
    """What keeps a winding that was laid out from turning between these magnets."""
    if winding.shape == "path":
        return path_height_faults(laid.pieces, wire, rotor)
    return bundle_faults(laid.end_bundles, magnets, rotor, winding)


def _lay_shape(winding: Winding, pole_pairs: int, wire: Wire) -> Lay:
    """Lay the sheets at their heights; all else is the same whatever the height, and a sweep of gaps lays it once."""
    diameter, former = wire.overall_diameter_m, winding.former_in_gap_m
    numbered = _numbered(_anywhere(winding), pole_pairs, diameter)
    heights = np.array(sheet_heights_m(numbered.sheets, diameter, former, winding.height_m))
    start, end = (_at_height(ends, heights) for ends in (numbered.pieces.start, numbered.pieces.end))
    return replace(numbered, pieces=replace(numbered.pieces, start=start, end=end), sheet_heights_m=heights)


def _at_height(ends: Floats, heights: Floats) -> Floats:
    """Ends of pieces with their sheet's height [m] in place of its number."""
    return np.column_stack([ends[:, :2], heights[ends[:, 2].astype(np.intp)]])


@lru_cache(maxsize=KEPT)
def _numbered(winding: Winding, pole_pairs: int, diameter: float) -> Lay:
    """A winding whose pieces have the number of their sheet for a height."""
    edges, ring = turn_edges(winding, pole_pairs), ring_of(winding, pole_pairs)
    step = step_rad(diameter, tightest_radius_m(edges))
    rounds = _rounds_per_group(winding, pole_pairs, step, available_belt_rad(winding, edges, pole_pairs))
    sheets = winding.layers * sheets_per_layer(winding.shape)
    numbers = tuple(float(number) for number in range(sheets))
    pieces = _place(winding, pole_pairs, _layer_turns(winding, edges, numbers), step * _centred(rounds))
    return Lay(
        pieces=pieces,
        pole_pairs=pole_pairs,
        inner_radius_m=ring.inner_m,
        outer_radius_m=ring.outer_m,
        rounds_per_phase=rounds * winding.belts * winding.layers,
        rounds_per_group=rounds,
        step_rad=step,
        belt_rad=rounds * pole_pairs * step,
        sheets=sheets,
        sheet_heights_m=np.array(numbers),
        thickness_m=wound_thickness_m(sheets, diameter, winding.former_in_gap_m),
        rim_m_per_phase=rounds * step * ring.inner_m,
        end_bundles=end_bundles(pieces, diameter),
    )


def _rounds_per_group(winding: Winding, pole_pairs: int, step: float, available: float) -> int:
    if winding.rounds is None:
        return rounds_that_fit(allowed_belt_rad(winding, available), pole_pairs, step)
    return winding.rounds // (winding.belts * winding.layers)


def _centred(count: int) -> Floats:
    return np.arange(count, dtype=float) - (count - 1) / 2


def _layer_turns(
    winding: Winding, edges: tuple[Edge, ...], heights: tuple[float, ...]
) -> list[tuple[Ints, Floats, Floats]]:
    """One turn per layer: outward sides in the layer's upper sheet, inward sides in its lower one."""
    per_layer = sheets_per_layer(winding.shape)
    pairs = [heights[i : i + per_layer] for i in range(0, len(heights), per_layer)]
    return [raised(edges, out_m=pair[-1], in_m=pair[0]) for pair in pairs]


def _place(winding: Winding, pole_pairs: int, turns: list[tuple[Ints, Floats, Floats]], offsets: Floats) -> Pieces:
    """Repeat a turn of each layer round the ring, for all rounds, belts and phases."""
    tau = math.pi / pole_pairs
    whole = [_whole_round(turn, tau) for turn in turns]
    blocks = [
        _turned(block, winding.start_rad + k * PHASE_STEP[winding.phases] / pole_pairs + belt * tau + offsets, k)
        for k in range(winding.phases)
        for belt in range(winding.belts)
        for layer in whole
        for block in [_backwards(layer) if belt else layer]
    ]
    kind, start, end, phase = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    per_loop = len(turns[0][0]) * (1 if SHAPES[winding.shape].closed else pole_pairs)
    return Pieces(kind, start, end, phase, np.arange(len(kind)) // per_loop)


def _whole_round(turn: tuple[Ints, Floats, Floats], tau: float) -> tuple[Ints, Floats, Floats]:
    kind, start, end = turn
    pole_pairs = round(math.pi / tau)
    shift = np.zeros((pole_pairs, 1, 3))
    shift[:, 0, 1] = 2 * tau * np.arange(pole_pairs)
    return np.tile(kind, pole_pairs), (start + shift).reshape(-1, 3), (end + shift).reshape(-1, 3)


def _backwards(turn: tuple[Ints, Floats, Floats]) -> tuple[Ints, Floats, Floats]:
    kind, start, end = turn
    return kind[::-1], end[::-1], start[::-1]


def _turned(turn: tuple[Ints, Floats, Floats], angles: Floats, phase: int) -> tuple[Ints, Floats, Floats, Ints]:
    """A turn at each of the angles [rad], one after the other."""
    kind, start, end = turn
    shift = angles[:, None, None] * np.array([0.0, 1.0, 0.0])
    copies = len(angles)
    return (
        np.tile(kind, copies),
        (start + shift).reshape(-1, 3),
        (end + shift).reshape(-1, 3),
        np.full(copies * len(kind), phase),
    )


def _lay_path(winding: Winding, pole_pairs: int, wire: Wire, folder: Path) -> Lay:
    pieces, faults = read_path(winding, pole_pairs, wire, folder)
    if pieces is None:
        raise DesignError(faults)
    heights, count = sheets_of(pieces), copies(winding)
    inner, outer = ring_m(pieces)
    step = (winding.step_rad or 0.0) if count > 1 else 0.0
    return Lay(
        pieces=pieces,
        pole_pairs=pole_pairs,
        inner_radius_m=inner,
        outer_radius_m=outer,
        rounds_per_phase=max(1, round(rounds_of(pieces, pole_pairs))),
        rounds_per_group=count,
        step_rad=step,
        belt_rad=count * pole_pairs * step,
        sheets=len(heights),
        sheet_heights_m=np.array(heights),
        thickness_m=float(np.ptp(pieces.start[:, 2])) + wire.overall_diameter_m,
        rim_m_per_phase=None,
        end_bundles=end_bundles(pieces, wire.overall_diameter_m),
    )
