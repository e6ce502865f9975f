"""Newton's method of the solid judge: from no field to balance, with a line search on the slope of the energy."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import SolveError
from fieldrun.reference.solid_cg import conjugate_gradients, wave_preconditioner
from fieldrun.reference.solid_steel import (
    SteelPart,
    SteelState,
    mean_permeability,
    steel_parts,
    steel_residual,
    steel_state,
    steel_tangent,
)
from fieldrun.reference.solid_system import SolidSystem

TOLERANCE = 1e-5
"""Newton stops when what is left is this part of the magnets' drive."""

LINEAR_TOLERANCE = 1e-8
"""The same for a machine without saturating steel, solved in one go."""

LOOSE, TIGHT = 3e-2, 1e-3
"""How far conjugate gradients take each of Newton's steps: looser far from balance."""

MOST_STEPS, MOST_HALVINGS = 60, 40
FLAT_ENOUGH = 0.9
"""A step is taken if the slope along it has fallen to this part of the slope at its start."""


@dataclass(frozen=True, eq=False)
class Balance:
    """Potential (n,) [T m], the plates under it, and Newton's steps (0: no saturating steel)."""

    potential: Floats
    states: tuple[tuple[SteelPart, SteelState], ...]
    steps: int


@dataclass(frozen=True, eq=False)
class _Point:
    potential: Floats
    states: tuple[SteelState, ...]
    residual: Floats


def solve_balance(system: SolidSystem) -> Balance:
    """Find the potential whose flux has no sources.

    Raises
    ------
    SolveError
        If Newton does not come to rest: no number is better than a doubtful one.
    """
    parts = steel_parts(system.grid)
    here = _at(system, parts, np.zeros(len(system.drive)))
    if not parts:
        return Balance(_newton_direction(system, parts, here, LINEAR_TOLERANCE), (), 0)
    drive = float(np.linalg.norm(here.residual))
    left = 1.0
    for step in range(1, MOST_STEPS + 1):
        direction = _newton_direction(system, parts, here, min(max(0.1 * left, TIGHT), LOOSE))
        here = _line_search(system, parts, here, direction)
        left = float(np.linalg.norm(here.residual)) / drive
        if left < TOLERANCE:
            return Balance(here.potential, tuple(zip(parts, here.states, strict=True)), step)
    raise SolveError(_gave_up(system))


def _at(system: SolidSystem, parts: tuple[SteelPart, ...], potential: Floats) -> _Point:
    states = tuple(steel_state(part, potential) for part in parts)
    residual = system.matrix @ potential - system.drive
    for part, state in zip(parts, states, strict=True):
        residual = residual + steel_residual(part, state, len(potential))
    return _Point(potential, states, system.free * residual)


def _newton_direction(system: SolidSystem, parts: tuple[SteelPart, ...], here: _Point, tolerance: float) -> Floats:
    matrix = system.matrix
    permeability = np.ones((3, system.grid.cells[0], system.grid.cells[2]))
    for part, state in zip(parts, here.states, strict=True):
        matrix = matrix + steel_tangent(part, state, system.grid)
        permeability[:, part.cells[0], part.cells[2]] = mean_permeability(part, state)
    near = wave_preconditioner(system.grid, permeability, system.free)
    return conjugate_gradients(matrix, -here.residual, system.free, near, tolerance)


def _line_search(system: SolidSystem, parts: tuple[SteelPart, ...], here: _Point, direction: Floats) -> _Point:
    """Halve between too short and too long a step until the energy's slope along it has fallen.

    The energy is convex, so the slope only rises; but it does so almost in a jump where steel's field turns over, and
    shortening alone can leap that place and creep for ever after.
    """
    start = float(here.residual @ direction)
    short, long = 0.0, 1.0
    share = long
    for _ in range(MOST_HALVINGS):
        there = _at(system, parts, here.potential + share * direction)
        left = float(there.residual @ direction) / start
        if abs(left) <= FLAT_ENOUGH or (left > 0 and share == 1):
            break
        short, long = (share, long) if left > 0 else (short, share)
        share = (short + long) / 2
    return there


def _gave_up(system: SolidSystem) -> str:
    height = system.grid.heights_m
    plates = " and ".join(
        f"{1e3 * (height[top] - height[low]):g} mm of {curve.name}" for curve, (low, top), _ in system.grid.steels
    )
    return (
        f"the solid model found no balance of flux in {plates}, which the magnets saturate deeply; "
        "try thicker steel, or fewer or thinner magnets"
    )
