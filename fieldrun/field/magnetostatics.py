"""Magnetostatics of one section: the vector potential A along the radius, second-order elements, Newton in the steel.

B = (B_x, B_z) = (-dA/dz, dA/dx). Magnets: H = (B - B_r) / (mu0 mu_rec), along both axes alike; steel: H along B by its
curve. The weak form INT H . curl v = 0 holds for every v; what is not said about a side means that flux crosses it at
right angles.
"""

from dataclasses import dataclass

import numpy as np
import skfem

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.design.magnetisation import field_strength
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field.assembly import (
    Block,
    Numbering,
    Operators,
    band_matrix,
    element_blocks,
    gather,
    gradient_of,
    numbering,
    operators,
    second_order_basis,
    spread,
)
from fieldrun.field.banded import solve_band
from fieldrun.field.harmonics import facets_at_height, mesh_line, open_side_block
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.section import Section

NEWTON_TOLERANCE = 1e-8
"""Residual relative to the magnets' load at which Newton stops."""

SLOPE_LEFT = 0.1
"""Share of the energy's slope that a line search may leave: of 243 machines the worst takes 11 steps; 12 with 0.05."""

LONGEST_STEP = 2.0
"""How far a line search may go beyond Newton's step where the steel turns out softer than its tangent said."""

LINE_SEARCH_TRIALS = 12
"""Trials along one direction; two or three are usual, and one in the last steps."""

NEWTON_STEPS = 40
"""Steps after which Newton gives up; steel discs of 1 to 12 mm take five to eleven."""

NO_ENTRIES = frozen_array([], np.int64)


@dataclass(frozen=True, eq=False)
class Materials:
    """What fills each element.

    Parameters
    ----------
    reluctivity : (e,) [m/H], of everything but steel
    remanence_t : (e, 2) B_x, B_z
    steels : curve and element numbers of each steel
    """

    reluctivity: Floats
    remanence_t: Floats
    steels: tuple[tuple[SteelCurve, Ints], ...]


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything a solve needs, with no geometry left in it but the operators.

    `load` [A] is an extra nodal load, for tests against currents.
    """

    ops: Operators
    rows: Numbering
    materials: Materials
    open_sides: tuple[Block, ...]
    load: Floats


@dataclass(frozen=True, eq=False)
class SectionField:
    """A solved section.

    Parameters
    ----------
    section, mesh : what was solved
    potential : (n,) nodal A [Wb/m]
    flux_density_t : (e, q, 2) B_x, B_z at the Gauss points
    newton_steps : 1 for a linear section
    """

    section: Section
    mesh: SectionMesh
    basis: skfem.CellBasis
    potential: Floats
    flux_density_t: Floats
    newton_steps: int

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("potential", "flux_density_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def solve_section(section: Section, mesh: SectionMesh, neighbour: SectionField | None = None) -> SectionField:
    """Solve one section.

    Parameters
    ----------
    section, mesh : the section and any mesh of it
    neighbour : a like section's solution for Newton to start from; passed over if its mesh has another topology

    Raises
    ------
    SolveError
        If Newton does not converge.
    """
    basis = second_order_basis(mesh.mesh)
    problem = section_problem(section, mesh, basis)
    alike = neighbour is not None and neighbour.potential.shape == (problem.ops.count,)
    potential, steps = solve(problem, neighbour.potential if neighbour and alike else None)
    return SectionField(section, mesh, basis, potential, flux_density_of(problem.ops, potential), steps)


def section_problem(section: Section, mesh: SectionMesh, basis: skfem.CellBasis) -> Problem:
    """Fill in materials, sides and unknowns of a section on a mesh."""
    ops = operators(basis)
    sides = [
        mesh_line(basis, facets_at_height(mesh.mesh, height))
        for height, kind in ((section.bottom_m, section.bottom), (section.top_m, section.top))
        if kind == "open"
    ]
    held, pairs = _side_conditions(section, ops)
    rows = numbering(ops, held, pairs, [np.unique(side.dofs) for side in sides])
    blocks = tuple(open_side_block(section, side) for side in sides)
    return Problem(ops, rows, materials_of(section, mesh), blocks, np.zeros(ops.count))


def _side_conditions(section: Section, ops: Operators) -> tuple[Ints, tuple[Ints, Ints]]:
    x, z = ops.places_m
    slack = 1e-9 * section.width_m
    left, right = np.flatnonzero(x < slack), np.flatnonzero(x > section.width_m - slack)
    if section.width == "half pole":
        return left, (NO_ENTRIES, NO_ENTRIES)
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    if len(left) != len(right) or np.max(np.abs(z[left] - z[right])) > slack:
        raise SolveError("the two sides of a full pole must carry the same mesh points")
    return NO_ENTRIES, (left, right)


def materials_of(section: Section, mesh: SectionMesh) -> Materials:
    """Look up each element's material."""
    regions = section.regions
    permeability = np.array([region.permeability for region in regions] + [1.0])
    remanence = np.array([region.remanence_t for region in regions] + [(0.0, 0.0)])
    steels = tuple(
        (region.steel, np.flatnonzero(mesh.region == i)) for i, region in enumerate(regions) if region.steel is not None
    )
    return Materials(1 / (MU0 * permeability[mesh.region]), remanence[mesh.region], steels)


def flux_density_of(ops: Operators, potential: Floats) -> Floats:
    """B = (-dA/dz, dA/dx) at the Gauss points, (e, q, 2) [T]."""
    gradient = gradient_of(ops, potential)
    return np.stack([-gradient[:, :, 1], gradient[:, :, 0]], axis=2)


def solve(problem: Problem, start: Floats | None = None) -> tuple[Floats, int]:
    """Newton from `start` (or zero) with a line search on the slope; one step where there is no steel.

    The energy is convex (every curve rises), so that its slope along the step tells whether the step went too far or
    not far enough; its length is then changed by false position until the slope has fallen to `SLOPE_LEFT` of its value
    at the start.

    Returns
    -------
    A (n,) [Wb/m] and the number of steps taken

    Raises
    ------
    SolveError
        If the residual does not fall below `NEWTON_TOLERANCE` of the magnets' load within `NEWTON_STEPS`.
    """
    rows = problem.rows
    size = np.linalg.norm(gather(rows, _residual(problem, np.zeros(problem.ops.count))))
    values = np.zeros(rows.count) if start is None else _unknowns(rows, start)
    potential = spread(rows, values)
    residual = gather(rows, _residual(problem, potential))
    for step in range(NEWTON_STEPS):
        if np.linalg.norm(residual) <= NEWTON_TOLERANCE * size:
            return potential, step
        matrix = band_matrix(rows, [element_blocks(problem.ops, _tangent(problem, potential)), *problem.open_sides])
        direction = solve_band(matrix, -residual)
        if not problem.materials.steels:
            return spread(rows, values + direction), 1
        values, residual = _line_search(problem, values, residual, direction)
        potential = spread(rows, values)
    raise SolveError(f"the steel's flux did not settle within {NEWTON_STEPS} Newton steps")


def _line_search(problem: Problem, values: Floats, residual: Floats, direction: Floats) -> tuple[Floats, Floats]:
    """Change a step's length until the energy's slope along it is nearly spent; the new unknowns and residual."""
    first = float(residual @ direction)
    low, low_slope, high, high_slope = 0.0, first, 0.0, 0.0
    length = 1.0
    for _ in range(LINE_SEARCH_TRIALS):
        trial = values + length * direction
        after = gather(problem.rows, _residual(problem, spread(problem.rows, trial)))
        slope = float(after @ direction)
        if abs(slope) <= SLOPE_LEFT * abs(first) or (slope < 0 and high == 0 and length >= LONGEST_STEP):
            break
        if slope < 0:
            low, low_slope = length, slope
        else:
            high, high_slope = length, slope
        if high == 0:
            length = min(LONGEST_STEP, length * first / (first - slope)) if slope > first else LONGEST_STEP
        else:
            length = low + (high - low) * min(0.9, max(0.1, low_slope / (low_slope - high_slope)))
    return trial, after


def _unknowns(rows: Numbering, potential: Floats) -> Floats:
    values = np.zeros(rows.count)
    kept = rows.number >= 0
    values[rows.number[kept]] = (rows.sign * potential)[kept]
    return values


def _residual(problem: Problem, potential: Floats) -> Floats:
    """INT H . curl v for every shape function v, with the open sides and the extra load [A], (n,)."""
    ops, materials = problem.ops, problem.materials
    flux = flux_density_of(ops, potential)
    strength = materials.reluctivity[:, None, None] * (flux - materials.remanence_t[:, None, :])
    for curve, elements in materials.steels:
        strength[elements] = _along(curve, flux[elements])
    turned = np.stack([strength[:, :, 1], -strength[:, :, 0]], axis=2) * ops.weights[:, :, None]
    local = np.einsum("eqki,eqk->ei", ops.gradients, turned)
    total = np.bincount(ops.dofs.ravel(), weights=local.ravel(), minlength=ops.count) - problem.load
    for side in problem.open_sides:
        total[side.dofs[0]] += side.matrices[0] @ potential[side.dofs[0]]
    return total


def _along(curve: SteelCurve, flux: Floats) -> Floats:
    size = np.linalg.norm(flux, axis=2)
    strength, slope = field_strength(curve, size)
    ratio = np.where(size > 0, strength / np.where(size > 0, size, 1.0), slope)
    return np.asarray(ratio[:, :, None] * flux)


def _tangent(problem: Problem, potential: Floats) -> Floats:
    """dH/dB turned to act on (dA/dx, dA/dz): nu I, in steel nu (I - b b') + (dH/dB) b b', b the direction of B."""
    materials = problem.materials
    e, q = problem.ops.weights.shape
    tensors = np.zeros((e, q, 2, 2))
    tensors[:, :, 0, 0] = tensors[:, :, 1, 1] = materials.reluctivity[:, None]
    if not materials.steels:
        return tensors
    gradient = gradient_of(problem.ops, potential)
    for curve, elements in materials.steels:
        tensors[elements] = _steel_tangent(curve, gradient[elements])
    return tensors


def _steel_tangent(curve: SteelCurve, gradient: Floats) -> Floats:
    size = np.linalg.norm(gradient, axis=2)
    strength, slope = field_strength(curve, size)
    safe = np.where(size > 0, size, 1.0)
    ratio = np.where(size > 0, strength / safe, slope)
    along = gradient / safe[:, :, None]
    outer = along[:, :, :, None] * along[:, :, None, :]
    return np.asarray(ratio[:, :, None, None] * np.eye(2) + (slope - ratio)[:, :, None, None] * outer)
