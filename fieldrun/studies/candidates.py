"""Which windings a design could have instead of its own, in the same space: shapes, belts and numbers of phases."""

import math
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from typing import Literal

from fieldrun.design.model import Design, Winding, WindingShape
from fieldrun.design.shapes import SHAPE_DEFAULTS
from fieldrun.design.stack import CROSSED_SHAPES, FLAT_SHAPES, sheets_per_layer, wound_thickness_m
from fieldrun.generator.machine import middle_height_m
from fieldrun.winding.lay import Lay

Phases = Literal[1, 2, 3]
Belts = Literal[1, 2]

PHASES: tuple[Phases, ...] = (1, 2, 3)

FLAT_BELTS: tuple[Belts, ...] = (1,)
CROSSED_BELTS: tuple[Belts, ...] = (1, 2)

LAYS: tuple[tuple[WindingShape, Belts], ...] = (
    *product(FLAT_SHAPES, FLAT_BELTS),
    *product(CROSSED_SHAPES, CROSSED_BELTS),
)
"""Every named shape with the belts that its lay allows."""

HAIR_M = 1e-9
"""Lengths that differ by less are equal."""


@dataclass(frozen=True)
class Candidate:
    """A winding to hold against others.

    Parameters
    ----------
    name : of the shape, the path file or the design
    winding : as a design would state it
    own : of the user's own: the design's shape, belts and phases, and every path file
    """

    name: str
    winding: Winding
    own: bool = False


@dataclass(frozen=True)
class Space:
    """What every candidate gets: the ring between two radii, so many sheets of wire, and the height of their middle.

    `own_sheets` is how many the design's own winding has.
    """

    inner_radius_m: float
    outer_radius_m: float
    height_m: float
    sheets: int
    own_sheets: int


def space_of(design: Design, laid: Lay) -> Space:
    """The space that a design's winding takes, its sheets made even where they can be.

    Two sheets of a flat lay are as thick as one layer of a crossed one, so an odd number gives one sheet away; a single
    sheet becomes two where gap and clearances have room.
    """
    own, diameter = design.winding, design.wire.overall_diameter_m
    height = middle_height_m(laid) if own.shape == "path" else own.height_m
    own_sheets = max(1, math.floor((laid.thickness_m - own.former_in_gap_m + HAIR_M) / diameter))
    one = 2 if _fits(design, height, 2) else 1
    sheets = one if own_sheets == 1 else own_sheets // 2 * 2
    return Space(laid.inner_radius_m, laid.outer_radius_m, height, sheets, own_sheets)


def _fits(design: Design, height_m: float, sheets: int) -> bool:
    winding, gap = design.winding, design.rotor.gap_m
    thickness = wound_thickness_m(sheets, design.wire.overall_diameter_m, winding.former_in_gap_m)
    room = winding.clearance_m + (winding.resin_m + thickness) / 2 - HAIR_M
    return height_m >= room and (gap is None or height_m + room <= gap)


def candidates(design: Design, space: Space, files: tuple[Path, ...] = ()) -> tuple[Candidate, ...]:
    """Every named shape with one, two and three phases, as many belts as its lay has, and the paths given.

    All are filled: as many rounds as the space holds, in series, by the default belts. Two sheets of a flat lay stand
    for one layer of a crossed lay.

    Parameters
    ----------
    design : wire, height, leg and clearances are its own; its own shape keeps span, skew and straight share
    space : ring and sheets
    files : path files besides; a design that is a path itself is in anyway
    """
    out = [_named(design, space, shape, phases, belts) for phases in PHASES for shape, belts in LAYS]
    own = design.winding
    if own.shape == "path":
        out += [Candidate(Path(own.file).name, _turned(own, n), n == own.phases) for n in PHASES]
    out += [Candidate(file.name, _turned(path_of(design, file), n), n == own.phases) for file in files for n in PHASES]
    return tuple(out)


def _named(
    design: Design, space: Space, shape: WindingShape, phases: Literal[1, 2, 3], belts: Literal[1, 2]
) -> Candidate:
    own = design.winding
    look = {key: getattr(own, key) if own.shape == shape else usual for key, usual in SHAPE_DEFAULTS.items()}
    stated = replace(
        own,
        shape=shape,
        inner_radius_m=space.inner_radius_m,
        outer_radius_m=space.outer_radius_m,
        rounds=None,
        layers=max(1, space.sheets // sheets_per_layer(shape)),
        height_m=space.height_m,
        belts=belts,
        belt_rad=None,
        file="",
        step_rad=None,
        inner_notches=None,
        outer_notches=None,
        **look,
    )
    is_own = (own.shape, own.phases, own.belts) == (shape, phases, belts)
    return Candidate(shape, _turned(stated, phases), is_own)


def _turned(winding: Winding, phases: Phases) -> Winding:
    """The same with another number of phases, all rounds in series."""
    return replace(winding, phases=phases, parallel=1, connection="separate")


def path_of(design: Design, file: Path) -> Winding:
    """A path file in the design's gap, wound once as it is written."""
    return replace(
        design.winding,
        shape="path",
        inner_radius_m=None,
        outer_radius_m=None,
        rounds=1,
        layers=1,
        belts=1,
        belt_rad=None,
        file=str(file.resolve()),
        step_rad=None,
        inner_notches=None,
        outer_notches=None,
    )
