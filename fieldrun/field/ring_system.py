"""Matrices of a ring of magnets: one scalar potential over radius and height for each harmonic.

H = -grad phi, phi = sum over odd n of phi_n(r, z) cos(n p theta), B = mu0 mu H + J with J the magnets' remanence. For
every v: INT mu [d_r phi_n d_r v + d_z phi_n d_z v + (n p / r)^2 phi_n v] r dr dz
= (1 / mu0) INT [J_r d_r v + J_z d_z v - (n p / r) J_theta v] r dr dz.
The magnets' recoil permeability is not the same all round: it couples the harmonics (ring_sources). Potentials [A] and
loads [A m] are arrays (n, r, z) over orders and nodes.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.model import Magnets
from fieldrun.design.units import MU0
from fieldrun.field.axis import Axis, axis_of, between, load, mass, stiffness
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.ring_coupling import Coupling, coupled, coupling_elements
from fieldrun.field.ring_mesh import GAUSS, RingMesh, axis_of_span, reach
from fieldrun.field.ring_sources import recoil_couplings, remanence_amplitudes
from fieldrun.field.slabs import Slab, Stack, of_slab, slabs_of

Matrix = Callable[[Floats], Floats]
"""Something linear that takes potentials (n, r, z) to loads (n, r, z), or back."""

KEPT = 2
"""Machines whose matrices over the radius are remembered: those that differ in heights alone have the same."""

REACH = 2
"""Nodes of second-order elements couple with the next two on either side."""


@dataclass(frozen=True, eq=False)
class RadialMatrices:
    """What a stretch of radii contributes: (..., r, r), for any leading axes of orders.

    Parameters
    ----------
    slopes : INT w N' N' r dr [1]
    values : INT w N N r dr [m^2]
    turns : INT w n p m p N N / r dr [1]
    """

    slopes: Floats
    values: Floats
    turns: Floats

    @cached_property
    def sides(self) -> Floats:
        """(..., r, r) what goes with the axial mass [1]; `values` go with the axial stiffness."""
        return self.slopes + self.turns

    @cached_property
    def inverse(self) -> Floats:
        """The inverse of `values` between the first node and the last, (r - 2, r - 2) [1/m^2]."""
        return np.asarray(np.linalg.inv(self.values[1:-1, 1:-1]), float)

    @cached_property
    def elements(self) -> Floats:
        """The same as `Coupling.elements` wants it, (e, 3 n, 6 n), for matrices that couple orders."""
        return coupling_elements(self.sides, self.values)


AxialMatrices = tuple[Floats, Floats]
"""Stiffness [1/m] and mass [m] over a stretch of heights, (z, z) each."""


@dataclass(frozen=True, eq=False)
class RingSystem:
    """Everything linear about a machine's rings.

    Parameters
    ----------
    mesh : the mesh
    waves : (n,) n p
    air : (n,) radial matrices of the whole mesh, filled with air
    air_axial : its axial matrices
    magnets : of every slab, (n, n) radial matrices of its permeability above air's, and axial ones; none if it is air's
    sources : (n, r, z) right-hand side [A m]
    free : (n) nodes along radius and height where each harmonic is unknown; elsewhere it is zero
    """

    mesh: RingMesh
    waves: Ints
    air: RadialMatrices
    air_axial: AxialMatrices
    magnets: tuple[tuple[RadialMatrices, AxialMatrices], ...]
    sources: Floats
    free: tuple[tuple[slice, slice], ...]

    @property
    def magnet_nodes(self) -> tuple[slice, slice]:
        """Nodes of the magnets along radius and height."""
        return self.mesh.magnet_radial.nodes, self.mesh.magnet_axial.nodes


@dataclass(frozen=True, eq=False)
class _Layer:
    """Plain magnets over some heights, and Gauss points on the mesh's two axes for what they are there."""

    magnets: Magnets
    radial: Axis
    axial: Axis


def ring_system(magnets: Magnets, mesh: RingMesh, orders: Ints, stack: Stack = ()) -> RingSystem:
    """Assemble a machine's rings, steel left out.

    Parameters
    ----------
    magnets : the lower face
    mesh : reaches over the longest of the slabs
    orders : (n,) odd
    stack : the magnets' slabs if they are not plain
    """
    waves = magnets.pole_pairs * orders
    layers = [_layer(of_slab(magnets, slab), mesh, slab) for slab in slabs_of(magnets, stack)]
    return RingSystem(
        mesh=mesh,
        waves=frozen_array(waves, np.int64),
        air=_air(mesh.radial.vertices_m.tobytes(), waves.tobytes()),
        air_axial=(stiffness(mesh.axial), mass(mesh.axial)),
        magnets=tuple(_recoil(layer, orders) for layer in layers) if magnets.recoil_permeability != 1 else (),
        sources=_sources(layers, mesh, orders),
        free=tuple(reach(mesh, int(wave)) for wave in waves),
    )


def _layer(magnets: Magnets, mesh: RingMesh, slab: Slab) -> _Layer:
    radial, axial = axis_of_span(mesh.radial, mesh.magnet_radial), axis_of_span(mesh.axial, mesh.magnet_axial)
    heights = (slab.low_m, slab.high_m)
    return _Layer(magnets, between(radial, radial_breaks_m(magnets), GAUSS), between(axial, heights, GAUSS))


def in_air(radial: Axis, waves: Ints) -> RadialMatrices:
    """Radial matrices of air; (n, r, r), of harmonics n p = `waves` (n,), in those that go with turns, else (r, r)."""
    r = radial.points_m
    turns = (waves**2)[:, None, None] * mass(radial, 1 / r)
    return RadialMatrices(stiffness(radial, r), mass(radial, r), turns)


@lru_cache(maxsize=KEPT)
def _air(lines: bytes, waves: bytes) -> RadialMatrices:
    return in_air(axis_of(np.frombuffer(lines), GAUSS), np.frombuffer(waves, np.int64))


def _recoil(layer: _Layer, orders: Ints) -> tuple[RadialMatrices, AxialMatrices]:
    lines = layer.radial.vertices_m.tobytes()
    around = replace(layer.magnets, thickness_m=0.0, remanence_t=0.0, grade="", temperature_c=0.0)
    return _recoil_over_radius(around, lines, orders.tobytes()), (stiffness(layer.axial), mass(layer.axial))


@lru_cache(maxsize=KEPT)
def _recoil_over_radius(magnets: Magnets, lines: bytes, orders: bytes) -> RadialMatrices:
    """What depends on neither thickness nor remanence."""
    numbers = np.frombuffer(orders, np.int64)
    radial = between(axis_of(np.frombuffer(lines), GAUSS), radial_breaks_m(magnets), GAUSS)
    r, waves = radial.points_m, magnets.pole_pairs * numbers
    cosines, sines = recoil_couplings(magnets, numbers, r)
    turns = np.multiply.outer(waves, waves)[:, :, None, None] * mass(radial, sines / r)
    return RadialMatrices(stiffness(radial, cosines * r), mass(radial, cosines * r), turns)


def _sources(layers: list[_Layer], mesh: RingMesh, orders: Ints) -> Floats:
    out = np.zeros((len(orders), mesh.radial.count, mesh.axial.count))
    for layer in layers:
        out[:, mesh.magnet_radial.nodes, mesh.magnet_axial.nodes] += _source(layer, orders)
    return out


def _source(layer: _Layer, orders: Ints) -> Floats:
    """Right-hand side of one layer at the magnets' nodes, (n, r, z) [A m]."""
    radial, axial, r = layer.radial, layer.axial, layer.radial.points_m
    remanence = remanence_amplitudes(layer.magnets, orders, r)
    waves = (layer.magnets.pole_pairs * orders)[:, None, None]
    level = np.ones_like(axial.points_m)
    along_r = load(radial, remanence.radial * r, slope=True) - load(radial, waves * remanence.tangential)
    along_z = load(radial, remanence.axial * r)
    both = along_r[:, :, None] * load(axial, level) + along_z[:, :, None] * load(axial, level, slope=True)
    return np.asarray(both / MU0)


def first_orders(system: RingSystem, count: int) -> RingSystem:
    """The same rings with the first few harmonics only."""
    if count >= len(system.waves):
        return system
    return some_orders(system, slice(0, count))


def some_orders(system: RingSystem, some: slice) -> RingSystem:
    """The same rings with a run of the harmonics only."""

    def chosen(radial: RadialMatrices) -> RadialMatrices:
        return RadialMatrices(*(one[some, some] for one in (radial.slopes, radial.values, radial.turns)))

    return replace(
        system,
        waves=system.waves[some],
        air=replace(system.air, turns=system.air.turns[some]),
        magnets=tuple((chosen(radial), axial) for radial, axial in system.magnets),
        sources=system.sources[some],
        free=system.free[some],
    )


def linear_operator(system: RingSystem) -> Matrix:
    """What multiplies a potential (n, r, z) [A] by air and magnets, to [A m]; made once, it may be used many times."""
    r, z = system.magnet_nodes
    stiff, massy = system.air_axial
    couplings = couplings_of(system)

    def times(potential: Floats) -> Floats:
        total = np.asarray(system.air.sides @ (potential @ massy) + system.air.values @ (potential @ stiff))
        if couplings:
            inside = np.ascontiguousarray(potential[:, r, z].swapaxes(0, 1))[:, :, None]
            total[:, r, z] += coupled(couplings, inside)[:, :, 0].swapaxes(0, 1)
        return total

    return times


def couplings_of(system: RingSystem) -> tuple[Coupling, ...]:
    """The magnets' slabs; none if their permeability is air's."""
    return tuple(Coupling(radial.elements, (massy, stiff)) for radial, (stiff, massy) in system.magnets)


def on_free(system: RingSystem, values: Floats) -> Floats:
    """Values (n, r, z) at the unknowns, zero elsewhere; in their unit."""
    out = np.zeros_like(values)
    for n, (r, z) in enumerate(system.free):
        out[n, r, z] = values[n, r, z]
    return out


def linear_band(system: RingSystem, n: int) -> Floats:
    """The n-th harmonic's own matrix of air and magnets in lower banded storage, (bandwidth + 1, unknowns) [m].

    Unknowns are the harmonic's free nodes, height running faster.
    """
    counts = (system.mesh.radial.count, system.mesh.axial.count)
    stiff, massy = system.air_axial
    products = [(system.air.slopes + system.air.turns[n], massy), (system.air.values, stiff)]
    own = (n, n)
    r, z = system.magnet_nodes
    for magnets, axial in system.magnets:
        stiff, massy = (_placed(one, z, counts[1]) for one in axial)
        along = _placed(magnets.slopes[own] + magnets.turns[own], r, counts[0])
        products += [(along, massy), (_placed(magnets.values[own], r, counts[0]), stiff)]
    r, z = system.free[n]
    return _band([(radial[r, r], axial[z, z]) for radial, axial in products])


def _placed(matrix: Floats, nodes: slice, count: int) -> Floats:
    """A stretch's matrix among the zeros of the whole axis."""
    out = np.zeros((count, count))
    out[nodes, nodes] = matrix
    return out


def _band(products: list[tuple[Floats, Floats]]) -> Floats:
    """Sum of Kronecker products radial (r, r) x axial (z, z) in lower banded storage."""
    radial, axial = (np.stack(sides) for sides in zip(*products, strict=True))
    rows, columns = radial.shape[1], axial.shape[1]
    out = np.zeros((bandwidth(columns) + 1, rows, columns))
    for along in range(-REACH, REACH + 1):
        beside = np.diagonal(axial, -along, 1, 2)
        start = max(0, -along)
        for down in range(1 if along < 0 else 0, REACH + 1):
            place = out[down * columns + along, : rows - down, start : start + beside.shape[1]]
            np.matmul(np.diagonal(radial, -down, 1, 2).T, beside, out=place)
    return out.reshape(-1, rows * columns)


def bandwidth(columns: int) -> int:
    """Largest distance between coupled unknowns, with so many of them over the height."""
    return REACH * (columns + 1)
