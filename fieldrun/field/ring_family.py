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
from fieldrun.field.ring_coupling import Coupling, coupled
from fieldrun.field.ring_mesh import RingMesh, elements_over_face
from fieldrun.field.ring_modes import Column, Modes, column, lower_modes, radial_modes
from fieldrun.field.ring_system import RingSystem, couplings_of, on_free

TOLERANCE = 1e-8
"""Residual of the coupled harmonics, relative to the sources."""

ITERATIONS = 150
"""Conjugate gradient steps at most; recoil permeabilities of magnets take four to six."""


@dataclass(frozen=True, eq=False)
class Lower:
    """All that a family has in common: the machine under its face.

    Parameters
    ----------
    mesh, waves : of any machine of the family
    radial, axial : modes over radius and height in air; the last node of the height is the face
    replies : (n, k, l) what a mode of both axes answers a load of one: one over the sum of their eigenvalues
    magnet : (r, z) nodes where the magnets are
    mask : (n, r, 1, z) one at the magnets' nodes that are free
    sources : (n, r, 1, z) at the magnets' nodes, zero where they are not free [A]
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
        replies=1 / (radial.values[:, :, None] + axial.values[:, None, :]),
        magnet=(r, z),
        mask=mask,
        sources=mask * system.sources[:, r, z][:, :, None],
        couplings=couplings_of(system),
        nodes=np.array([(one.stop - one.start, axial.shapes.shape[1] - other.start) for one, other in system.free]),
    )


def solve_gaps(lower: Lower, gaps: Sequence[Floats], counts: Sequence[int] | None = None) -> FaceSolution:
    """Solve a machine without steel of its own at several gaps.

    Parameters
    ----------
    lower : the machine under its face
    gaps : lines of the mesh over the face for each gap, the first zero, potential zero on the last [m]
    counts : how many harmonics each gap has, the others zero; all if not given

    Raises
    ------
    SolveError
        If the couplings of one of them do not converge.
    """
    with one_thread():
        columns = tuple(_column(lower, lines) for lines in gaps)
        orders = len(lower.waves)
        carried = np.arange(orders)[:, None] < np.broadcast_to(orders if counts is None else counts, len(columns))
        mask = lower.mask * carried[:, None, :, None]
        load = mask * lower.sources
        if lower.couplings:
            load = _conjugate_gradients(lower, columns, mask, load)
        inside = _inside(lower, columns, load)
    return FaceSolution(lower, columns, np.einsum("nkgl,nl->nkg", inside, lower.face), inside)


def _column(lower: Lower, lines: Floats) -> Column:
    return column(np.diff(lines), elements_over_face(lower.mesh, lower.waves, lines), lower.radial)


def _conjugate_gradients(lower: Lower, columns: tuple[Column, ...], mask: Floats, sources: Floats) -> Floats:
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
        ahead = on_air + mask * coupled(lower.couplings, direction)
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
    inside *= lower.replies[:, :, None]
    reply = lower.face[:, None] * lower.replies
    pull = np.stack([one.pull for one in columns], axis=2)
    share = pull / (1 + pull * np.einsum("nkl,nl->nk", reply, lower.face)[:, :, None])
    held = share * (inside @ lower.face[:, None, :, None])[..., 0]
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


def unknowns(lower: Lower, lines_m: Floats, count: int) -> int:
    """Free nodes of the first harmonics together, with these lines over the face."""
    over = 2 * elements_over_face(lower.mesh, lower.waves, lines_m) - 1
    across, under = lower.nodes.T
    return int(np.sum((across * (under + over))[:count]))
