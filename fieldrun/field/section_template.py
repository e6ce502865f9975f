"""What all sections of one topology share: unknowns, sums, and lines across the box, made once per process.

The structured template of a layout is kept; a mesh of the user's own gets a template of its own, used once.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.field.assembly import Numbering, numbering
from fieldrun.field.harmonics import Line, facets_at_height, mesh_line
from fieldrun.field.mesh import Layout, SectionMesh
from fieldrun.field.section import Section, Side
from fieldrun.field.section_elements import Operators, operators, second_order_basis
from fieldrun.field.section_newton import Sums, sums_of

KEPT = 64
"""Layouts remembered: a machine has one to three."""

NO_ENTRIES = frozen_array([], np.int64)

Width = Literal["half pole", "full pole"]


@dataclass(frozen=True, eq=False)
class Template:
    """A topology with its unknowns.

    Parameters
    ----------
    ops : elements, at the points they were made with
    region : (e,) index into the section's regions, -1 in air
    rows : numbering of the unknowns
    steels : (region, its elements) of each region of steel
    sums : where matrices and loads go
    lines : "bottom" and "top" where the box is open there, "face" (z = 0) and "upper" where they are lines of the mesh
    """

    ops: Operators
    region: Ints
    rows: Numbering
    steels: tuple[tuple[int, Ints], ...]
    sums: Sums
    lines: Mapping[str, Line]


@dataclass(frozen=True)
class Box:
    """The box in the coordinates of the mesh that a template is made of."""

    kind: Width
    width: float
    heights: tuple[tuple[str, float], ...]
    open_sides: tuple[str, ...]


def template_of(section: Section, mesh: SectionMesh) -> Template:
    """The template of a section's mesh: a remembered one for a structured mesh.

    Raises
    ------
    SolveError
        If the two sides of a full pole carry different points.
    """
    if mesh.grid is not None:
        return grid_template(mesh.grid.layout, section.width, section.bottom, section.top)
    heights = [("bottom", section.bottom_m), ("top", section.top_m), ("face", 0.0)]
    heights += [] if section.upper_line_m is None else [("upper", section.upper_line_m)]
    box = Box(section.width, section.width_m, tuple(heights), _open_sides(section.bottom, section.top))
    steels = tuple(i for i, region in enumerate(section.regions) if region.steel is not None)
    return _made(box, mesh.mesh, mesh.region, steels)


@lru_cache(maxsize=KEPT)
def grid_template(
    layout: Layout, width: Width, bottom: Side, top: Side, order: Literal["narrow", "upwards"] = "narrow"
) -> Template:
    """The template of a grid; see `assembly.numbering` for the order."""
    heights = [("bottom", 0.0), ("top", float(sum(layout.up))), ("face", float(layout.face))]
    heights += [] if layout.upper is None else [("upper", float(layout.upper))]
    box = Box(width, float(sum(layout.across)), tuple(heights), _open_sides(bottom, top))
    return _made(box, layout.mesh, layout.element_regions, layout.steels, order)


def _open_sides(bottom: Side, top: Side) -> tuple[str, ...]:
    return tuple(name for name, side in (("bottom", bottom), ("top", top)) if side == "open")


def _made(
    box: Box, mesh: skfem.Mesh, region: Ints, steels: tuple[int, ...], order: Literal["narrow", "upwards"] = "narrow"
) -> Template:
    basis = second_order_basis(mesh)
    ops = operators(basis)
    found = {name: mesh_line(basis, facets_at_height(mesh, height)) for name, height in box.heights}
    lines = {name: line for name, line in found.items() if _covers(mesh.p[0, line.points], box.width)}
    open_sides = [lines[name].side for name in box.open_sides]
    rows = numbering(ops, *_side_conditions(box, ops), open_sides, order)
    elements = tuple((one, np.flatnonzero(region == one)) for one in steels)
    elements = tuple((one, where) for one, where in elements if len(where))
    sums = sums_of(ops, rows, [where for _, where in elements], open_sides)
    return Template(ops, region, rows, elements, sums, lines)


def _covers(ends: Floats, width: float) -> bool:
    return abs(float(np.diff(ends, axis=1).sum()) - width) <= 1e-9 * width


def _side_conditions(box: Box, ops: Operators) -> tuple[Ints, tuple[Ints, Ints]]:
    """Degrees of freedom held at zero, and antiperiodic pairs."""
    x, z = ops.places_m
    slack = 1e-9 * box.width
    left, right = np.flatnonzero(x < slack), np.flatnonzero(x > box.width - slack)
    if box.kind == "half pole":
        return left, (NO_ENTRIES, NO_ENTRIES)
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    if len(left) != len(right) or np.max(np.abs(z[left] - z[right])) > slack:
        raise SolveError("the two sides of a full pole must carry the same mesh points")
    return NO_ENTRIES, (left, right)
