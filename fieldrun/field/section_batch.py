"""Linear sections of one template together: what numpy asks for each call is shared, LAPACK alone is left for each.

Designs come last and fastest: an array over elements becomes one over elements and designs, so that the formulas and
sums of one section serve many as they are.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.units import MU0
from fieldrun.field.assembly import banded, solve_columns, spread
from fieldrun.field.magnetostatics import SectionField, open_sides
from fieldrun.field.mesh import Grid
from fieldrun.field.section import Section
from fieldrun.field.section_elements import Operators
from fieldrun.field.section_newton import linear_parts
from fieldrun.field.section_template import Template

KEPT = 16
"""Templates and counts remembered."""


def linear_fields(sections: Sequence[Section], grids: Sequence[Grid], template: Template) -> list[SectionField]:
    """Solve sections without steel that share a template, on as many threads as LAPACK may use.

    Raises
    ------
    SolveError
        If elements are so thin that rounding eats them.
    """
    count = len(sections)
    points = np.stack([grid.points_m for grid in grids], axis=2)
    ops = _repeated(template, count).at(points.reshape(2, -1))
    factor, remanence = _materials(sections, template)
    matrices, loads = linear_parts(ops, factor, remanence)
    sums = template.sums.every
    values = np.ascontiguousarray((sums.band.signs @ matrices.reshape(-1, count)).T)
    load = np.ascontiguousarray((sums.loads @ loads.reshape(-1, count)).T)
    sides: list[tuple[Ints, Floats]] = []
    fields = []
    for k, (section, grid) in enumerate(zip(sections, grids, strict=True)):
        if k == 0 or grid.x_m is not grids[k - 1].x_m:  # else the open sides are those of the design before
            blocks = open_sides(section, template, points[:, :, k])
            pairs = zip(template.sums.blocks, blocks, strict=True)
            sides = [(one.stored, one.signs @ block.matrix.ravel()) for one, block in pairs]
        band = banded(template.rows, [(sums.band.stored, values[k]), *sides])
        fields.append(SectionField(section, grid, template, spread(template.rows, solve_columns(band, load[k])), 1))
    return fields


@lru_cache(maxsize=KEPT)
def _repeated(template: Template, count: int) -> Operators:
    """The template's elements once for each design; degrees of freedom stay the template's own, (i, e) of one design.

    They serve element matrices and loads alone, which ask for corners and points only.
    """
    ops = template.ops
    corners = (ops.corners[:, :, None] * count + np.arange(count)).reshape(len(ops.corners), -1)
    return Operators(ops.element, corners, ops.dofs, ops.count, ops.points_m, ops.straight)


def _materials(sections: Sequence[Section], template: Template) -> tuple[Floats, Floats]:
    """Reluctivity (e,) and remanence (2, e) of every element of every design."""
    permeability = np.array([[region.permeability for region in one.regions] + [1.0] for one in sections])
    remanence = np.array([[region.remanence_t for region in one.regions] + [(0.0, 0.0)] for one in sections])
    factor = (1 / (MU0 * permeability)).T[template.region].ravel()
    return factor, remanence.transpose(2, 1, 0)[:, template.region].reshape(2, -1)
