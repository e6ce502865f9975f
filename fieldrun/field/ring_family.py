"""Rings without saturating steel, for one gap or many over the same magnets: modes where the machine is even, conjugate
gradients for the magnets' recoil permeability.

All under the magnets' face is the same at every gap, and air without steel falls apart into modes (ring_modes), whose
column of air over the face is one number each. The recoil permeability, which couples the harmonics, is a few per cent
above air's, so that the machine filled with air is nearly its inverse: each step takes off a factor of fifty or more.
Every gap goes its own way; they only share the products of matrices.

Loads [A m] and potentials [A] at the magnets' nodes have the radius in front, then harmonics, gaps and heights, as the
couplings want them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_coupling import Coupling, coupled
from fieldrun.field.ring_mesh import RingMesh, elements_over_face
from fieldrun.field.ring_modes import Column, Modes, column, lower_modes, radial_modes
from fieldrun.field.ring_system import RingSystem, couplings_of, on_free

TOLERANCE = 1e-10
"""Residual of the coupled harmonics, relative to the sources: fields found from different starts agree to 1e-9."""

ITERATIONS = 150
"""Conjugate gradient steps at most; recoil permeabilities of magnets take four to six."""


@dataclass(frozen=True, eq=False)
class Lower:
    """All that a family has in common: the machine under its face.

    Parameters
    ----------
    mesh, waves : of any machine of the family, the latter (n,) n p
    radial, axial : modes over radius and height in air; the last node of the height is the face
    replies : (n, l, k) what a mode of both axes answers a load of one: one over the sum of their eigenvalues [m^2]
    magnet : slices of r and of z, nodes where the magnets are
    mask : (r, n, 1, z) 1 at the magnets' nodes that are free, else 0
    sources : (r, n, 1, z) at the magnets' nodes, zero where they are not free [A m]
    couplings : the magnets' slabs; none if their permeability is air's
    nodes : (n, 2) how many are free over the radius, and over the height up to the face
    """

    mesh: RingMesh
    waves: Ints
    radial: Modes
    axial: Modes
    replies: Floats
    magnet: tuple[slice, slice]
    mask: Floats
    sources: Floats
    couplings: tuple[Coupling, ...]
    nodes: Ints

    @property
    def face(self) -> Floats:
        """(n, l) what each mode over the height is at the face [m^-1/2]."""
        return self.axial.shapes[:, -1]

    @cached_property
    def at_magnets(self) -> tuple[Floats, Floats]:
        """Modes over radius and height at the magnets' nodes, (n, r, k) [1/m] and (n, 1, z, l) [m^-1/2]."""
        r, z = self.magnet
        return np.ascontiguousarray(self.radial.shapes[:, r]), np.ascontiguousarray(self.axial.shapes[:, None, z])

    @cached_property
    def from_face(self) -> Floats:
        """(n, 1, l, k) amplitudes that a load of one at the face raises [m^3/2]."""
        return np.asarray((self.face[:, :, None] * self.replies)[:, None])

    @cached_property
    def give(self) -> Floats:
        """(n, k) what the face gives way to a load of one on it [m]."""
        return np.asarray(np.einsum("nlk,nl->nk", self.from_face[:, 0], self.face))


@dataclass(frozen=True, eq=False)
class FaceSolution:
    """A family's solution at some gaps.

    Parameters
    ----------
    lower : the family
    columns : the air over the face at every gap
    face : (n, gaps, k) amplitudes of the modes over the radius at the face [A m]
    load : (r, n, gaps, z) what air would need at the magnets' nodes for the same solution [A m]
    """

    lower: Lower
    columns: tuple[Column, ...]
    face: Floats
    load: Floats


def lower_of(system: RingSystem) -> Lower:
    """The machine under its face, steel of its own left out.

    Raises
    ------
    SolveError
        If elements are so thin that rounding eats them.
    """
    radial, axial = radial_modes(system), lower_modes(system)
    r, z = system.magnet_nodes
    mask = _radius_first(on_free(system, np.ones_like(system.sources))[:, r, z])
    return Lower(
        mesh=system.mesh,
        waves=system.waves,
        radial=radial,
        axial=axial,
        replies=1 / (axial.values[:, :, None] + radial.values[:, None, :]),
        magnet=(r, z),
        mask=mask,
        sources=mask * _radius_first(system.sources[:, r, z]),
        couplings=couplings_of(system),
        nodes=np.array([(one.stop - one.start, axial.shapes.shape[1] - other.start) for one, other in system.free]),
    )


def _radius_first(values: Floats) -> Floats:
    """(n, r, z) of one machine as (r, n, 1, z)."""
    return np.ascontiguousarray(values.swapaxes(0, 1))[:, :, None]


def solve_gaps(
    lower: Lower, gaps: Sequence[Floats], counts: Sequence[int] | None = None, start: Floats | None = None
) -> FaceSolution:
    """Solve a machine without steel of its own at several gaps.

    Conjugate gradients on (air + couplings) phi = sources, air's own inverse being known by its modes.

    Parameters
    ----------
    lower : the machine under its face
    gaps : lines (l,) of the mesh over the face for each gap, the first zero, potential zero on the last [m]
    counts : how many harmonics each gap has, the others zero; all if not given
    start : (r, n, gaps, z) loads that are thought to be near those of the solutions [A m]

    Raises
    ------
    SolveError
        If the couplings of one of them do not converge.
    """
    with one_thread():
        columns = tuple(_column(lower, lines) for lines in gaps)
        orders = len(lower.waves)
        carried = np.arange(orders)[:, None] < np.broadcast_to(orders if counts is None else counts, len(columns))
        mask = lower.mask * carried[:, :, None]
        held = _held(lower, columns)
        load = mask * lower.sources
        if lower.couplings:
            load = _conjugate_gradients(lower, held, mask, load, None if start is None else mask * start)
        return FaceSolution(lower, columns, _face(lower, columns, load), load)


def _column(lower: Lower, lines: Floats) -> Column:
    return column(np.diff(lines), elements_over_face(lower.mesh, lower.waves, lines), lower.radial)


def _held(lower: Lower, columns: tuple[Column, ...]) -> Floats:
    """(n, gaps, 1, k) load that holds the face back, for one that the face would rise to if it were free."""
    pull = np.stack([one.pull for one in columns], axis=1)
    return np.asarray((pull / (1 + pull * lower.give[:, None]))[:, :, None])


def _conjugate_gradients(lower: Lower, held: Floats, mask: Floats, sources: Floats, start: Floats | None) -> Floats:
    """The load on air at the magnets' nodes that gives each gap's solution, (r, n, gaps, z) [A m].

    (Air + couplings) x = sources with air's inverse at hand: what air would need for x goes along in step.

    Scalars are one for each gap; a gap that has settled stands still.
    """
    limit = TOLERANCE * np.sqrt(_product(sources, sources))
    left, load = sources.copy(), np.zeros_like(sources)
    if start is not None:
        left -= start + mask * coupled(lower.couplings, _from_air(lower, held, start))
        load += start
    direction, on_air = np.zeros_like(sources), np.zeros_like(sources)
    old = np.ones(sources.shape[2])
    going = np.sqrt(_product(left, left)) > limit
    for step in range(ITERATIONS):
        if not going.any():
            return load
        moved = _from_air(lower, held, left)
        energy = _product(left, moved)
        turn = _each(np.where(going, energy / old, 0.0) if step else np.zeros(len(old)), sources)
        direction, on_air = moved + turn * direction, left + turn * on_air
        ahead = on_air + mask * coupled(lower.couplings, direction)
        length = _each(np.where(going, energy / np.where(going, _product(direction, ahead), 1.0), 0.0), sources)
        load += length * on_air
        left -= length * ahead
        old = np.where(going, energy, 1.0)
        going &= np.sqrt(_product(left, left)) > limit
    raise SolveError(f"the harmonics' couplings did not settle within {ITERATIONS} steps")


def _product(one: Floats, other: Floats) -> Floats:
    """Sum of products for each gap; of each gap alone, whatever stands beside it."""
    return np.asarray((one * other).sum(axis=(0, 1)).sum(axis=1))


def _each(scalars: Floats, like: Floats) -> Floats:
    """Scalars of the gaps over all heights: numpy is slow at rows of a dozen numbers."""
    return np.repeat(scalars, like.shape[3]).reshape(like.shape[2:])


def _from_air(lower: Lower, held: Floats, load: Floats) -> Floats:
    """Potential at the magnets' nodes for a load on them, with air all round: (r, n, gaps, z)."""
    over_radius, over_height = lower.at_magnets
    inside = over_height @ _inside(lower, held, load)
    orders, gaps, heights, modes = inside.shape
    found = over_radius @ inside.reshape(orders, gaps * heights, modes).swapaxes(1, 2)
    return np.ascontiguousarray(found.swapaxes(0, 1)).reshape(load.shape)


def _along(lower: Lower, load: Floats) -> Floats:
    """A load at the magnets' nodes by modes over the radius, (n, gaps, z, k)."""
    nodes, orders, gaps, heights = load.shape
    rows = load.reshape(nodes, orders, gaps * heights).transpose(1, 2, 0)
    return np.asarray(rows @ lower.at_magnets[0]).reshape(orders, gaps, heights, -1)


def _inside(lower: Lower, held: Floats, load: Floats) -> Floats:
    """Amplitudes of the modes under the face, (n, gaps, l, k), for a load at the magnets' nodes.

    Without the column the face is free; with it the face is held back by the column's pull, one number for each mode.
    """
    inside = lower.at_magnets[1].swapaxes(2, 3) @ _along(lower, load)
    inside *= lower.replies[:, None]
    back = held * (lower.face[:, None, None] @ inside)
    inside -= back * lower.from_face
    return inside


def _face(lower: Lower, columns: tuple[Column, ...], load: Floats) -> Floats:
    """Amplitudes of the modes at the face, (n, gaps, k), for a load at the magnets' nodes."""
    reply = lower.at_magnets[1] @ lower.from_face
    free = np.einsum("ngzk,nzk->ngk", _along(lower, load), reply[:, 0])
    return np.asarray(free / (1 + np.stack([one.pull for one in columns], axis=1) * lower.give[:, None]))


def gap_potential(solution: FaceSolution, gap: int) -> Floats:
    """Potential over the face at one of the gaps, (n, r, z) over the nodes of its lines [A]."""
    amplitudes = solution.face[:, gap, :, None] * solution.columns[gap].profile
    return np.asarray(solution.lower.radial.shapes @ amplitudes)


def lower_potential(solution: FaceSolution, gap: int) -> Floats:
    """Potential under the face, the face included, (n, r, z) [A]."""
    lower, some = solution.lower, slice(gap, gap + 1)
    inside = _inside(lower, _held(lower, solution.columns[some]), solution.load[:, :, some])
    over_height = lower.axial.shapes @ inside[:, 0]
    return np.asarray(lower.radial.shapes @ over_height.swapaxes(1, 2))


def unknowns(lower: Lower, lines_m: Floats, count: int) -> int:
    """Free nodes of the first harmonics together, with these lines (l,) over the face [m]."""
    over = 2 * elements_over_face(lower.mesh, lower.waves, lines_m) - 1
    across, under = lower.nodes.T
    return int(np.sum((across * (under + over))[:count]))
