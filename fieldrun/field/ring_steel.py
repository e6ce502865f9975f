"""Saturating steel discs in rings: where the harmonics meet.

With g = grad phi, summed over the harmonics at points of one quarter of an electrical wave, the steel's permeability
above air's is a number at each point of radius, height and theta; its share of each harmonic's equation is a sum over
those points (a spectral method over theta).
"""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.magnetisation import permeabilities
from fieldrun.design.units import MU0
from fieldrun.field.axis import Axis, element_nodes
from fieldrun.field.ring_mesh import STEEL_GAUSS, RingMesh, SteelPart, axis_of_span

FEWEST_ANGLES = 16
"""Points over a quarter wave, at least."""


@dataclass(frozen=True, eq=False)
class SteelTables:
    """One steel disc tabulated for sums over its Gauss points.

    Parameters
    ----------
    part : the disc
    radial, axial : its elements along r and z
    cosines, sines : (n, theta) of n p theta at midpoints of a quarter wave [1]
    waves : (n,) n p
    weights : (a, b) r dr dz of each Gauss point [m^3], times 2 / number of angles
    """

    part: SteelPart
    radial: Axis
    axial: Axis
    cosines: Floats
    sines: Floats
    waves: Ints
    weights: Floats

    @property
    def nodes(self) -> tuple[slice, slice]:
        """Its nodes in the mesh."""
        return self.part.radial.nodes, self.part.axial.nodes


def steel_tables(mesh: RingMesh, waves: Ints) -> tuple[SteelTables, ...]:
    """Tabulate every steel disc of a mesh, for odd harmonics n p = `waves` (n,).

    Sums over theta by the midpoint rule, eight points over a quarter wave for each harmonic.
    """
    # p divides every wave, and the first three orders or any one of them have no other common divisor
    orders = waves // np.gcd.reduce(waves)
    count = max(FEWEST_ANGLES, 8 * len(orders))
    angle = (np.arange(count) + 0.5) / count * np.pi / 2
    turned = np.outer(orders, angle)
    tables = []
    for steel in mesh.steels:
        radial = axis_of_span(mesh.radial, steel.radial, STEEL_GAUSS)
        axial = axis_of_span(mesh.axial, steel.axial, STEEL_GAUSS)
        weights = 2 / count * np.outer((radial.points_m * radial.weights_m).ravel(), axial.weights_m.ravel())
        tables.append(SteelTables(steel, radial, axial, np.cos(turned), np.sin(turned), waves, weights))
    return tuple(tables)


def dense(axis: Axis, *, slope: bool) -> Floats:
    """Shape functions [1], or slopes [1/m], at all Gauss points as one matrix (points, nodes)."""
    functions = axis.slopes if slope else np.broadcast_to(axis.values, axis.slopes.shape)
    elements, points, _ = functions.shape
    out = np.zeros((elements, points, axis.count))
    out[np.arange(elements)[:, None, None], np.arange(points)[:, None], element_nodes(axis)[:, None, :]] = functions
    return out.reshape(elements * points, axis.count)


def gradients(steel: SteelTables, potential: Floats) -> Floats:
    """Amplitudes of grad phi at a disc's Gauss points, (3, n, a, b) along r, theta, z [A/m].

    Parameters
    ----------
    steel : the disc
    potential : (n, r, z) over the whole mesh [A]
    """
    r_nodes, z_nodes = steel.nodes
    own = potential[:, r_nodes, z_nodes]
    value_r, slope_r = dense(steel.radial, slope=False), dense(steel.radial, slope=True)
    value_z, slope_z = dense(steel.axial, slope=False).T, dense(steel.axial, slope=True).T
    level = value_r @ own
    turn = steel.waves[:, None] / steel.radial.points_m.ravel()
    return np.stack([slope_r @ own @ value_z, -turn[:, :, None] * (level @ value_z), level @ slope_z])


def scattered(steel: SteelTables, flux: Floats, out: Floats) -> None:
    """Add INT flux . grad v for every shape function to `out` (n, r, z) [A m].

    The flux (3, n, a, b) has its weights in it: [A/m] times [m^3].
    """
    value_r, slope_r = dense(steel.radial, slope=False).T, dense(steel.radial, slope=True).T
    value_z, slope_z = dense(steel.axial, slope=False), dense(steel.axial, slope=True)
    turn = steel.waves[:, None] / steel.radial.points_m.ravel()
    along_r, along_t, along_z = flux
    r_nodes, z_nodes = steel.nodes
    out[:, r_nodes, z_nodes] += (
        slope_r @ along_r @ value_z - value_r @ (turn[:, :, None] * along_t) @ value_z + value_r @ along_z @ slope_z
    )


def round_the_ring(steel: SteelTables, amplitudes: Floats) -> Floats:
    """Sum harmonics at the angles: (3, n, a, b) to (3, a, b, theta), in their unit."""
    along_r, along_t, along_z = amplitudes
    return np.stack(
        [
            np.tensordot(along_r, steel.cosines, (0, 0)),
            np.tensordot(along_t, steel.sines, (0, 0)),
            np.tensordot(along_z, steel.cosines, (0, 0)),
        ]
    )


def into_harmonics(steel: SteelTables, around: Floats) -> Floats:
    """The reverse of `round_the_ring` with the points' weights: (3, a, b, theta) to (3, n, a, b), times [m^3]."""
    along_r, along_t, along_z = around * steel.weights[:, :, None]
    return np.stack(
        [
            np.moveaxis(along_r @ steel.cosines.T, -1, 0),
            np.moveaxis(along_t @ steel.sines.T, -1, 0),
            np.moveaxis(along_z @ steel.cosines.T, -1, 0),
        ]
    )


@dataclass(frozen=True, eq=False)
class SteelState:
    """A disc at one potential.

    Parameters
    ----------
    tables : the disc
    gradient : (3, a, b, theta) grad phi round the ring [A/m]
    excess : (a, b, theta) relative permeability above air's [1]
    bend : (a, b, theta) its derivative by H, over H [m^2/A^2]
    """

    tables: SteelTables
    gradient: Floats
    excess: Floats
    bend: Floats

    @property
    def flux_density_t(self) -> Floats:
        """|B| = mu0 mu |grad phi|, (a, b, theta) [T]."""
        return np.asarray(MU0 * (1 + self.excess) * np.sqrt(np.sum(self.gradient**2, axis=0)))


def steel_state(steel: SteelTables, potential: Floats) -> SteelState:
    """Look up the permeability on the disc's B-H curve at a potential (n, r, z) [A], by |H| = |grad phi|."""
    gradient = round_the_ring(steel, gradients(steel, potential))
    strength = np.sqrt(np.sum(gradient**2, axis=0))
    total, rise = permeabilities(steel.part.curve, strength)
    safe = np.where(strength > 0, strength, 1.0)
    return SteelState(steel, gradient, total - 1, np.where(strength > 0, (rise - total) / safe**2, 0.0))


def steel_residual(states: tuple[SteelState, ...], out: Floats) -> None:
    """Add the steel's share of INT (mu - 1) grad phi . grad v to `out`, (n, r, z) [A m]; the 1 counts as air."""
    for state in states:
        scattered(state.tables, into_harmonics(state.tables, state.excess * state.gradient), out)
