"""Magnetostatics of one section: the vector potential A along the radius, second-order elements, Newton in the steel.

B = (B_x, B_z) = (-dA/dz, dA/dx). Magnets: H = (B - B_r) / (mu0 mu_rec), along both axes alike; steel: H along B by its
curve. The weak form INT H . curl v = 0 holds for every v; what is not said about a side means that flux crosses it at
right angles.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.units import MU0
from fieldrun.field.assembly import Block
from fieldrun.field.banded import one_thread
from fieldrun.field.harmonics import open_side_block
from fieldrun.field.mesh import Grid, SectionMesh, mesh_of
from fieldrun.field.section import Section
from fieldrun.field.section_elements import second_order_basis
from fieldrun.field.section_newton import Materials, Problem, flux_density_of, solve
from fieldrun.field.section_template import Template, grid_template, template_of


@dataclass(frozen=True, eq=False)
class SectionField:
    """A solved section.

    Parameters
    ----------
    section : what was solved
    source : its mesh, or the grid that its mesh follows from
    template : topology of the mesh
    potential : (n,) nodal A [Wb/m]
    newton_steps : 1 for a linear section
    """

    section: Section
    source: SectionMesh | Grid
    template: Template
    potential: Floats
    newton_steps: int

    def __post_init__(self) -> None:
        """Lock the array."""
        object.__setattr__(self, "potential", frozen_array(self.potential))

    @cached_property
    def mesh(self) -> SectionMesh:
        """The mesh; that of a grid is made when it is asked for."""
        return mesh_of(self.source) if isinstance(self.source, Grid) else self.source

    @cached_property
    def basis(self) -> skfem.CellBasis:
        """scikit-fem's basis, for whoever probes or draws."""
        return second_order_basis(self.mesh.mesh)

    @cached_property
    def flux_density_t(self) -> Floats:
        """B_x, B_z at the Gauss points, (e, q, 2) [T]."""
        return frozen_array(flux_density_of(self.template.ops.at(self._points_m), self.potential))

    def line_at(self, height_m: float) -> tuple[Floats, Ints] | None:
        """The mesh line along the whole box at the magnets' face (0) or the gap's upper line, if there is one.

        Ends (f, 2) [m] and degrees of freedom (f, 3) of its facets.
        """
        name = "face" if height_m == 0 else "upper" if height_m == self.section.upper_line_m else "none"
        line = self.template.lines.get(name)
        return None if line is None else (self._points_m[0, line.points], line.dofs)

    @cached_property
    def _points_m(self) -> Floats:
        return _points_m(self.source)


def solve_section(section: Section, mesh: SectionMesh | Grid, neighbour: SectionField | None = None) -> SectionField:
    """Solve one section.

    Parameters
    ----------
    section : the section
    mesh : any mesh of it, or the grid of its structured mesh
    neighbour : a like section's solution for Newton to start from; passed over if its mesh has another topology

    Raises
    ------
    SolveError
        If Newton does not converge.
    """
    with one_thread():
        return solved(section, mesh, neighbour)


def solved(section: Section, mesh: SectionMesh | Grid, neighbour: SectionField | None = None) -> SectionField:
    """`solve_section` on as many threads as LAPACK may use, for many sections under one limit."""
    template = _template(section, mesh)
    problem = section_problem(section, mesh, template)
    alike = neighbour is not None and neighbour.potential.shape == (problem.ops.count,)
    potential, steps = solve(problem, neighbour.potential if neighbour and alike else None)
    return SectionField(section, mesh, template, potential, steps)


def _template(section: Section, mesh: SectionMesh | Grid) -> Template:
    return template_of_grid(section, mesh) if isinstance(mesh, Grid) else template_of(section, mesh)


def template_of_grid(section: Section, grid: Grid) -> Template:
    """The remembered template of a section's grid."""
    return grid_template(grid.layout, section.width, section.bottom, section.top)


def _points_m(mesh: SectionMesh | Grid) -> Floats:
    return mesh.points_m if isinstance(mesh, Grid) else np.asarray(mesh.mesh.p)


def section_problem(section: Section, mesh: SectionMesh | Grid, template: Template | None = None) -> Problem:
    """Fill in geometry, materials and sides of a section on a mesh; `template` if another than the usual one."""
    template = template or _template(section, mesh)
    ops = template.ops.at(_points_m(mesh))
    return Problem(
        ops,
        template.rows,
        materials_of(section, template),
        open_sides(section, template, ops.points_m),
        known_sums=template.sums,
    )


def open_sides(section: Section, template: Template, points_m: Floats) -> tuple[Block, ...]:
    """The couplings of a section's open sides, the lower one first, on a mesh of points (2, v) [m]."""
    names = (name for name, side in (("bottom", section.bottom), ("top", section.top)) if side == "open")
    return tuple(open_side_block(section, template.lines[name], points_m) for name in names)


def materials_of(section: Section, template: Template) -> Materials:
    """Look up each element's material."""
    regions = section.regions
    permeability = np.array([region.permeability for region in regions] + [1.0])
    remanence = np.array([region.remanence_t for region in regions] + [(0.0, 0.0)])
    curves = ((regions[index].steel, elements) for index, elements in template.steels)
    steels = tuple((curve, elements) for curve, elements in curves if curve is not None)
    return Materials((1 / (MU0 * permeability))[template.region], remanence[template.region], steels)
