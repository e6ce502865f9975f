"""Newton's method for the vector potential on any second-order mesh: one linear solve, or several where there is steel.

What is linear is summed once; each step adds the steel's tangent to a copy of it. The energy is convex (every curve
rises), so that its slope along a step tells whether the step went too far or not far enough.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.linalg.blas import dsbmv

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field.assembly import (
    BandSum,
    Block,
    Numbering,
    Scatter,
    added,
    band_matrix,
    dense_sum,
    gather,
    scatter,
    solve_columns,
    spread,
    unknowns_of,
)
from fieldrun.field.section_elements import Operators, gradient_of, isotropic_blocks, tensor_blocks, vector_loads

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


@dataclass(frozen=True, eq=False)
class Materials:
    """What fills each element.

    Parameters
    ----------
    reluctivity : (e,) [m/H], of everything but steel
    remanence_t : (e, 2) B_x, B_z [T]
    steels : curve and element numbers (k,) of each steel
    """

    reluctivity: Floats
    remanence_t: Floats
    steels: tuple[tuple[SteelCurve, Ints], ...]


@dataclass(frozen=True, eq=False)
class Sums:
    """Where all elements, those of each steel, and dense blocks are summed: topology alone."""

    every: Scatter
    steels: tuple[Scatter, ...]
    blocks: tuple[BandSum, ...]


def sums_of(ops: Operators, rows: Numbering, steels: Sequence[Ints], blocks: Sequence[Ints]) -> Sums:
    """The sums of a topology: element numbers (k,) of each steel, degrees of freedom (m,) of each dense block."""
    return Sums(
        scatter(rows, ops),
        tuple(scatter(rows, ops.part(elements)) for elements in steels),
        tuple(dense_sum(rows, dofs) for dofs in blocks),
    )


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything a solve needs, with no geometry left in it but the operators.

    `load` [A] is an extra nodal load (n,), for tests against currents; `known_sums` those of an earlier design on the
    same topology.
    """

    ops: Operators
    rows: Numbering
    materials: Materials
    blocks: tuple[Block, ...]
    load: Floats | None = None
    known_sums: Sums | None = None

    @cached_property
    def sums(self) -> Sums:
        """Where element matrices and loads go."""
        steels = [elements for _, elements in self.materials.steels]
        return self.known_sums or sums_of(self.ops, self.rows, steels, [block.dofs for block in self.blocks])


def flux_density_of(ops: Operators, potential: Floats) -> Floats:
    """B = (-dA/dz, dA/dx) at the Gauss points, (e, q, 2) [T], of a potential (n,) [Wb/m]."""
    x, z = gradient_of(ops, potential)
    return np.stack([-z.T, x.T], axis=2)


def linear_parts(ops: Operators, factor: Floats, remanence_t: Floats) -> tuple[Floats, Floats]:
    """Element matrices of nu grad A . grad v, (s, e) [m/H], and loads of nu (B_rz dv/dx - B_rx dv/dz), (i, e) [A].

    Parameters
    ----------
    ops : the elements, of one design or of many
    factor : (e,) nu, 0 in steel [m/H]
    remanence_t : (2, e) B_x, B_z [T]
    """
    turned = np.array([remanence_t[1], -remanence_t[0]]) * factor
    return isotropic_blocks(ops, factor), vector_loads(ops, turned)


def linear_system(problem: Problem) -> tuple[Floats, Floats]:
    """Band (bandwidth + 1, unknowns) [m/H] and load (unknowns,) [A] of everything but steel."""
    ops, materials, sums = problem.ops, problem.materials, problem.sums
    factor = materials.reluctivity
    if materials.steels:
        factor = factor.copy()
        factor[np.concatenate([elements for _, elements in materials.steels])] = 0.0
    matrices, loads = linear_parts(ops, factor, materials.remanence_t.T)
    load = sums.every.loads @ loads.ravel()
    if problem.load is not None:
        load = load + gather(problem.rows, problem.load)
    blocks = zip(sums.blocks, (block.matrix for block in problem.blocks), strict=True)
    return band_matrix(problem.rows, [(sums.every.band, matrices), *blocks]), load


def solve(problem: Problem, start: Floats | None = None) -> tuple[Floats, int]:
    """Solve at once, or by Newton from `start`, (n,) [Wb/m], or from zero where there is steel.

    Returns
    -------
    A (n,) [Wb/m] and the number of steps taken, 1 for a linear problem

    Raises
    ------
    SolveError
        If the residual does not fall below `NEWTON_TOLERANCE` of the magnets' load within `NEWTON_STEPS`.
    """
    rows = problem.rows
    band, load = linear_system(problem)
    if not problem.materials.steels:
        return spread(rows, solve_columns(band, load)), 1
    steels = [
        _Steel(problem.ops.part(elements), sums, _lines(curve))
        for (curve, elements), sums in zip(problem.materials.steels, problem.sums.steels, strict=True)
    ]
    values = np.zeros(rows.count) if start is None else unknowns_of(rows, start)
    found, steps = _newton(rows, band, load, steels, values)
    return spread(rows, found), steps


@dataclass(frozen=True, eq=False)
class _Steel:
    """One steel: its elements, their sums, and its curve as B (k,) [T], H [A/m] and dH/dB [m/H]."""

    ops: Operators
    sums: Scatter
    curve: tuple[Floats, Floats, Floats]


@lru_cache(maxsize=16)
def _lines(curve: SteelCurve) -> tuple[Floats, Floats, Floats]:
    """B, H and dH/dB at a curve's points: straight lines between them, slope mu0 beyond."""
    b, h = np.asarray(curve.b_t), np.asarray(curve.h_a_per_m)
    return b, h, np.append(np.diff(h) / np.diff(b), 1 / MU0)


@dataclass(frozen=True, eq=False)
class _State:
    """Where Newton stands: values (unknowns,) [Wb/m], the linear part of their residual [A], and of each steel the
    gradient, (2, q, e) [T], and nu and dH/dB, (q, e) [m/H].
    """

    values: Floats
    linear: Floats
    gradients: list[Floats]
    curves: list[tuple[Floats, Floats]]


def _newton(rows: Numbering, band: Floats, load: Floats, steels: list[_Steel], values: Floats) -> tuple[Floats, int]:
    size = np.linalg.norm(load)
    gradients = _gradients(rows, steels, values)
    state = _State(values, _times(band, values) - load, gradients, _on_curves(steels, gradients))
    for step in range(NEWTON_STEPS):
        residual = state.linear + _pull(steels, state)
        if np.linalg.norm(residual) <= NEWTON_TOLERANCE * size:
            return state.values, step
        parts = [
            (one.sums.band, tensor_blocks(one.ops, tensor))
            for one, tensor in zip(steels, _tangents(state), strict=True)
        ]
        direction = solve_columns(added(band, parts), -residual)
        line = _Line(direction, _times(band, direction), _gradients(rows, steels, direction))
        state = _line_search(steels, state, line, float(residual @ direction))
    raise SolveError(f"the steel's flux did not settle within {NEWTON_STEPS} Newton steps")


@dataclass(frozen=True, eq=False)
class _Line:
    """A direction (unknowns,) [Wb/m], what it adds to the linear residual [A], and its gradient (2, q, e) [T] in each
    steel.
    """

    direction: Floats
    linear: Floats
    gradients: list[Floats]


def _line_search(steels: list[_Steel], state: _State, line: _Line, first: float) -> _State:
    """Change a step's length until the energy's slope along it, `first` at its start, is nearly spent.

    By false position. The steel's gradients are straight along the line: a trial costs their curves alone.
    """
    still, rise = float(state.linear @ line.direction), float(line.linear @ line.direction)
    low, low_slope, high, high_slope = 0.0, first, 0.0, 0.0
    taken, length = 0.0, 1.0
    for _ in range(LINE_SEARCH_TRIALS):
        taken = length
        gradients = [one + length * other for one, other in zip(state.gradients, line.gradients, strict=True)]
        curves = _on_curves(steels, gradients)
        slope = still + length * rise + _work(steels, gradients, curves, line.gradients)
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
    return _State(state.values + taken * line.direction, state.linear + taken * line.linear, gradients, curves)


def _times(band: Floats, values: Floats) -> Floats:
    return np.asarray(dsbmv(len(band) - 1, 1.0, band, values))


def _gradients(rows: Numbering, steels: list[_Steel], values: Floats) -> list[Floats]:
    potential = spread(rows, values)
    return [gradient_of(one.ops, potential) for one in steels]


def _on_curves(steels: list[_Steel], gradients: list[Floats]) -> list[tuple[Floats, Floats]]:
    return [_on_curve(one.curve, gradient) for one, gradient in zip(steels, gradients, strict=True)]


def _on_curve(curve: tuple[Floats, Floats, Floats], gradient: Floats) -> tuple[Floats, Floats]:
    """Reluctivity H / B and dH/dB, each (q, e): |B| = |grad A|."""
    b, h, slopes = curve
    size = np.hypot(gradient[0], gradient[1])
    piece = np.clip(np.searchsorted(b, size, side="right") - 1, 0, len(b) - 1)
    slope = slopes[piece]
    safe = np.where(size > 0, size, 1.0)
    return np.where(size > 0, (h[piece] + slope * (size - b[piece])) / safe, slope), slope


def _pull(steels: list[_Steel], state: _State) -> Floats:
    """INT nu grad A . grad v over the steel, (unknowns,)."""
    parts = [
        one.sums.loads @ vector_loads(one.ops, nu * gradient).ravel()
        for one, gradient, (nu, _) in zip(steels, state.gradients, state.curves, strict=True)
    ]
    return np.asarray(sum(parts))


def _work(
    steels: list[_Steel], gradients: list[Floats], curves: list[tuple[Floats, Floats]], along: list[Floats]
) -> float:
    """INT nu grad A . grad direction over the steel."""
    return sum(
        float(np.sum(nu * (gradient[0] * other[0] + gradient[1] * other[1]) * one.ops.weights.T))
        for one, gradient, (nu, _), other in zip(steels, gradients, curves, along, strict=True)
    )


def _tangents(state: _State) -> list[Floats]:
    """dH/dB turned to act on (dA/dx, dA/dz): nu (I - b b') + (dH/dB) b b', b along grad A; xx, zz, xz (3, q, e)."""
    return [_tangent(*one, gradient) for one, gradient in zip(state.curves, state.gradients, strict=True)]


def _tangent(nu: Floats, slope: Floats, gradient: Floats) -> Floats:
    x, z = gradient
    square = x * x + z * z
    excess = (slope - nu) / np.where(square > 0, square, 1.0)
    return np.stack([nu + excess * x * x, nu + excess * z * z, excess * x * z])
