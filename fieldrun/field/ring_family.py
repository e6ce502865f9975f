"""Rings without saturating steel, for one gap or many over the same magnets: modes where the machine is even, conjugate
gradients for the magnets' recoil permeability.

All under the magnets' face is the same at every gap, and air without steel falls apart into modes (ring_modes), whose
column of air over the face is one number each. The recoil permeability, which couples the harmonics, is a few per cent
above air's, so that the machine filled with air is nearly its inverse: each step takes off a factor of fifty or more.
Every gap goes its own way; they only share the products of matrices.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_mesh import RingMesh, elements_over_face
from fieldrun.field.ring_modes import Column, Modes, column, lower_modes, radial_modes
from fieldrun.field.ring_system import AxialMatrices, RadialMatrices, RingSystem, on_free

TOLERANCE = 1e-9
"""Residual of the coupled harmonics, relative to the sources."""

ITERATIONS = 150
"""Conjugate gradient steps at most; recoil permeabilities of magnets take four to six."""


@dataclass(frozen=True, eq=False)
class Coupling:
    """A slab's permeability above air's, radial element by element.

    `along` and `across`, (e, 3 n, 3 n), go with the axial matrices of mass and of stiffness.
    """

    along: Floats
    across: Floats
    axial: AxialMatrices


@dataclass(frozen=True, eq=False)
class Lower:
    """All that a family has in common: the machine under its face.

    Parameters
    ----------
    mesh, waves : of any machine of the family
    radial, axial : modes over radius and height in air; the last node of the height is the face
    sums : (n, k, l) eigenvalues of both axes added up
    magnet : (r, z) nodes where the magnets are
    mask : (n, r, 1, z) one at the magnets' nodes that are free
    sources : (n, r, 1, z) at the magnets' nodes, zero where they are not free [A]
    couplings : the magnets' slabs; none if their permeability is air's
    """

    mesh: RingMesh
    waves: Ints
    radial: Modes
    axial: Modes
    sums: Floats
    magnet: tuple[slice, slice]
    mask: Floats
    sources: Floats
    couplings: tuple[Coupling, ...]

    @property
    def face(self) -> Floats:
        """(n, l) what each mode over the height is at the face."""
        return self.axial.shapes[:, -1]


@dataclass(frozen=True, eq=False)
class FaceSolution:
    """A family's solution at some gaps.

    Parameters
    ----------
    lower : the family
    columns : the air over the face at every gap
    face : (n, k, gaps) amplitudes of the modes at the face [A]
    inside : (n, k, gaps, l) amplitudes of the modes under the face
    """

    lower: Lower
    columns: tuple[Column, ...]
    face: Floats
    inside: Floats


def lower_of(system: RingSystem) -> Lower:
    """The machine under its face, steel of its own left out."""
    radial, axial = radial_modes(system), lower_modes(system)
    r, z = system.magnet_nodes
    mask = on_free(system, np.ones_like(system.sources))[:, r, z][:, :, None]
    return Lower(
        mesh=system.mesh,
        waves=system.waves,
        radial=radial,
        axial=axial,
        sums=radial.values[:, :, None] + axial.values[:, None, :],
        magnet=(r, z),
        mask=mask,
        sources=mask * system.sources[:, r, z][:, :, None],
        couplings=tuple(_coupling(magnets, heights) for magnets, heights in system.magnets),
    )


def solve_gaps(lower: Lower, gaps: Sequence[Floats]) -> FaceSolution:
    """Solve a machine without steel of its own at several gaps.

    Parameters
    ----------
    lower : the machine under its face
    gaps : lines of the mesh over the face for each gap, the first zero, potential zero on the last [m]

    Raises
    ------
    SolveError
        If the couplings of one of them do not converge.
    """
    with one_thread():
        columns = tuple(_column(lower, lines) for lines in gaps)
        load = np.repeat(lower.sources, len(columns), axis=2)
        if lower.couplings:
            load = _conjugate_gradients(lower, columns, load)
        inside = _inside(lower, columns, load)
    return FaceSolution(lower, columns, np.einsum("nkgl,nl->nkg", inside, lower.face), inside)


def _column(lower: Lower, lines: Floats) -> Column:
    ends = [elements_over_face(lower.mesh, int(wave), lines) for wave in lower.waves]
    return column(np.diff(lines), ends, lower.radial)


def _conjugate_gradients(lower: Lower, columns: tuple[Column, ...], sources: Floats) -> Floats:
    """The load on air at the magnets' nodes that gives each gap's solution, (n, r, gaps, z) [A].

    (Air + couplings) x = sources with air's inverse at hand: what air would need for x goes along in step.

    Scalars are one for each gap; a gap that has settled stands still.
    """
    limit = TOLERANCE * np.sqrt(_product(sources, sources))
    left, load = sources.copy(), np.zeros_like(sources)
    direction, on_air = np.zeros_like(sources), np.zeros_like(sources)
    old = np.ones(len(columns))
    going = np.sqrt(_product(left, left)) > limit
    for step in range(ITERATIONS):
        if not going.any():
            return load
        moved = _from_air(lower, columns, left)
        energy = _product(left, moved)
        turn = _each(np.where(going, energy / old, 0.0) if step else np.zeros(len(columns)))
        direction, on_air = moved + turn * direction, left + turn * on_air
        ahead = on_air + lower.mask * _coupled(lower.couplings, direction)
        length = _each(np.where(going, energy / np.where(going, _product(direction, ahead), 1.0), 0.0))
        load += length * on_air
        left -= length * ahead
        old = np.where(going, energy, 1.0)
        going &= np.sqrt(_product(left, left)) > limit
    raise SolveError(f"the harmonics' couplings did not settle within {ITERATIONS} steps")


def _product(one: Floats, other: Floats) -> Floats:
    """Sum of products for each gap; of each gap alone, whatever stands beside it."""
    return np.asarray(np.einsum("nrgz,nrgz->g", one, other))


def _each(scalars: Floats) -> Floats:
    return np.asarray(scalars[:, None])


def _coupling(radial: RadialMatrices, axial: AxialMatrices) -> Coupling:
    return Coupling(_by_element(radial.slopes + radial.turns), _by_element(radial.values), axial)


def _by_element(matrix: Floats) -> Floats:
    """Cut (n, m, i, j) into the shares of its elements, (e, 3 n, 3 m); a node shared by two goes to the first."""
    count = (matrix.shape[2] - 1) // 2
    orders = len(matrix)
    out = np.empty((count, orders, 3, orders, 3))
    for e in range(count):
        nodes = slice(2 * e, 2 * e + 3)
        out[e] = matrix[:, :, nodes, nodes].transpose(0, 2, 1, 3)
        if e:
            out[e, :, 0, :, 0] = 0.0
    return out.reshape(count, 3 * orders, 3 * orders)


def _coupled(couplings: tuple[Coupling, ...], potential: Floats) -> Floats:
    """The permeability above air's times a potential at the magnets' nodes, (n, r, gaps, z)."""
    out = np.zeros_like(potential)
    for one in couplings:
        stiff, massy = one.axial
        moved = one.along @ _windows(potential @ massy) + one.across @ _windows(potential @ stiff)
        orders, _, gaps, heights = potential.shape
        parts = moved.reshape(len(moved), orders, 3, gaps, heights).transpose(2, 1, 0, 3, 4)
        out[:, :-1:2] += parts[0]
        out[:, 1::2] += parts[1]
        out[:, 2::2] += parts[2]
    return out


def _windows(values: Floats) -> Floats:
    """(n, r, ...) at the nodes of each radial element: (e, 3 n, ...)."""
    parts = np.stack([values[:, :-1:2], values[:, 1::2], values[:, 2::2]], axis=2)
    orders, count = parts.shape[:2]
    return parts.swapaxes(0, 1).reshape(count, 3 * orders, -1)


def _from_air(lower: Lower, columns: tuple[Column, ...], load: Floats) -> Floats:
    """Potential at the magnets' nodes for a load on them, with air all round: (n, r, gaps, z)."""
    r, z = lower.magnet
    inside = _inside(lower, columns, load)
    orders, modes, gaps, _ = inside.shape
    over_height = inside @ lower.axial.shapes[:, None, z].swapaxes(2, 3)
    found = lower.radial.shapes[:, r] @ over_height.reshape(orders, modes, -1)
    return np.asarray(found.reshape(orders, -1, gaps, over_height.shape[3]))


def _inside(lower: Lower, columns: tuple[Column, ...], load: Floats) -> Floats:
    """Amplitudes of the modes under the face, (n, k, gaps, l), for a load at the magnets' nodes.

    Without the column the face is free; with it the face is held back by the column's pull, one number for each mode.
    """
    r, z = lower.magnet
    orders, _, gaps, _ = load.shape
    along = lower.radial.shapes[:, r].swapaxes(1, 2) @ load.reshape(orders, load.shape[1], -1)
    inside = along.reshape(orders, -1, gaps, load.shape[3]) @ lower.axial.shapes[:, None, z]
    inside /= lower.sums[:, :, None]
    reply = lower.face[:, None] / lower.sums
    at_face = np.einsum("nkgl,nl->nkg", inside, lower.face)
    pull = np.stack([one.pull for one in columns], axis=2)
    held = at_face * pull / (1 + pull * np.einsum("nkl,nl->nk", reply, lower.face)[:, :, None])
    inside -= held[:, :, :, None] * reply[:, :, None]
    return inside


def gap_potential(solution: FaceSolution, gap: int) -> Floats:
    """Potential over the face at one of the gaps, (n, r, z) over the nodes of its lines [A]."""
    amplitudes = solution.face[:, :, gap, None] * solution.columns[gap].profile
    return np.asarray(solution.lower.radial.shapes @ amplitudes)


def lower_potential(solution: FaceSolution, gap: int) -> Floats:
    """Potential under the face, the face included, (n, r, z) [A]."""
    over_height = solution.inside[:, :, gap] @ solution.lower.axial.shapes.swapaxes(1, 2)
    return np.asarray(solution.lower.radial.shapes @ over_height)


def unknowns(lower: Lower, lines_m: Floats) -> int:
    """Free nodes of all harmonics together, with these lines over the face."""
    under = [np.count_nonzero(np.any(shapes, axis=1)) for shapes in lower.axial.shapes]
    across = [np.count_nonzero(np.any(shapes, axis=1)) for shapes in lower.radial.shapes]
    over = [2 * elements_over_face(lower.mesh, int(wave), lines_m) - 1 for wave in lower.waves]
    return int(sum(r * (low + high) for r, low, high in zip(across, under, over, strict=True)))
