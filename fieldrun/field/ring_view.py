"""A machine's rings as a field in space: potential, flux density, what lies where. For files and pictures only.

Only the potential is kept of a solution: H = -grad phi is taken inside the elements, B = mu0 mu_r H + J with the
magnets as they stand (not as a sum of harmonics), and in steel B follows H along the curve, point by point.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.magnetisation import permeabilities
from fieldrun.design.model import Magnets, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field.coupled_rings import solve_coupled, solve_frozen
from fieldrun.field.outline import body_pitch_rad, covered_half_angles
from fieldrun.field.ring_field import COUPLED, SATURATES_T, orders_of, peak_t
from fieldrun.field.ring_mesh import RingDensity, RingMesh, ring_mesh
from fieldrun.field.ring_system import RingSystem, first_orders, ring_system
from fieldrun.field.rings import solve_linear
from fieldrun.field.slabs import Slab, Stack, longest, of_slab, slabs_of

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Ring:
    """A steel disc: name, curve, and the box of radius and height it fills [m]."""

    name: str
    curve: SteelCurve
    radii_m: tuple[float, float]
    heights_m: tuple[float, float]


@dataclass(frozen=True)
class Body:
    """Some height of the magnets that point one way: `turn_rad` from up, in the sense of the motion."""

    name: str
    turn_rad: float
    slab: Slab
    number: int
    heights_m: tuple[float, float]


@dataclass(frozen=True, eq=False)
class RingView:
    """Solved rings of a whole machine, both faces.

    Parameters
    ----------
    magnets : the lower face
    waves : (n,) n p
    radii_m, heights_m : (r,), (z,) nodes of second-order elements, every other one the middle of one
    potential_a : (n, r, z) phi_n [A]; phi = sum of phi_n cos(n p theta)
    bodies, steels : what is not air
    """

    magnets: Magnets
    waves: Ints
    radii_m: Floats
    heights_m: Floats
    potential_a: Floats
    bodies: tuple[Body, ...]
    steels: tuple[Ring, ...]

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("radii_m", "heights_m", "potential_a"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "waves", frozen_array(self.waves, np.int64))

    @property
    def regions(self) -> tuple[str, ...]:
        """Names by region index; air is -1."""
        return tuple(dict.fromkeys([*(body.name for body in self.bodies), *(ring.name for ring in self.steels)]))


@dataclass(frozen=True, eq=False)
class RingCells:
    """The field at the centres of cells, all over (t, r, z).

    Parameters
    ----------
    flux_t : (3, t, r, z) B_r, B_theta, B_z [T]
    region : index into the view's regions, -1 in air
    permeability : relative, without the magnets' remanence [1]
    """

    flux_t: Floats
    region: Ints
    permeability: Floats


def ring_view(
    magnets: Magnets, rotor: Rotor, stack: Stack = (), density: RingDensity | None = None, coupled: int = COUPLED
) -> RingView:
    """Solve a machine by rings and keep its potential.

    Parameters
    ----------
    magnets, rotor, stack, density, coupled : as for `ring_field.ring_field`, whose steps these are

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    mesh = ring_mesh(longest(magnets, stack), rotor, density or RingDensity())
    system = ring_system(magnets, mesh, orders_of(magnets, rotor), stack)
    potential = _potential(system, coupled)
    heights, mirror = mesh.axial.nodes_m, _mirror_m(rotor)
    if mirror is not None:
        heights = np.concatenate([heights, mirror - heights[-2::-1]])
        potential = np.concatenate([potential, -potential[:, :, -2::-1]], axis=2)
    bodies, steels = _bodies(magnets, stack, mirror), _steels(mesh, mirror)
    return RingView(magnets, system.waves, mesh.radial.nodes_m, heights, potential, bodies, steels)


def _potential(system: RingSystem, coupled: int) -> Floats:
    """The steps of `ring_field`: linear, or with the steel held, or with the first harmonics coupled in it."""
    if not system.mesh.steels:
        return solve_linear(system)
    first = solve_coupled(first_orders(system, 1))
    potential = np.array(solve_frozen(system, first.states))
    if max(peak_t(state) for state in first.states) >= SATURATES_T:
        potential[:coupled] = solve_coupled(first_orders(system, coupled), potential[:coupled]).potential
    return potential


def _mirror_m(rotor: Rotor) -> float | None:
    """Height z + z' of a place and its mirror image where only the lower half of two faces is meshed."""
    return rotor.gap_m if rotor.faces == 2 else None


def _turned_over(heights: tuple[float, float], mirror_m: float) -> tuple[float, float]:
    return mirror_m - heights[1], mirror_m - heights[0]


def _bodies(magnets: Magnets, stack: Stack, mirror_m: float | None) -> tuple[Body, ...]:
    """Every direction of the lower face, slab by slab; then those of the upper, lying magnets turned about."""
    out = []
    for number in range(2 * magnets.segments_per_pole):
        for slab in slabs_of(magnets, stack):
            turn = -math.pi * number / magnets.segments_per_pole
            out.append(Body(_named(turn), turn, slab, number, (slab.low_m, slab.high_m)))
    if mirror_m is None:
        return tuple(out)
    upper = [
        Body(f"upper {_named(-b.turn_rad)}", -b.turn_rad, b.slab, b.number, _turned_over(b.heights_m, mirror_m))
        for b in out
    ]
    return (*out, *upper)


def _named(turn_rad: float) -> str:
    """As in sections: degrees from up, in the sense of the motion."""
    degrees = round(math.degrees(turn_rad)) % 360
    return {0: "magnet_up", 180: "magnet_down"}.get(degrees, f"magnet_{degrees}")


def _steels(mesh: RingMesh, mirror_m: float | None) -> tuple[Ring, ...]:
    r, z = mesh.radial.vertices_m, mesh.axial.vertices_m
    lower = [
        Ring(
            steel.name,
            steel.curve,
            (float(r[steel.radial.first]), float(r[steel.radial.end])),
            (float(z[steel.axial.first]), float(z[steel.axial.end])),
        )
        for steel in mesh.steels
    ]
    if mirror_m is None:
        return tuple(lower)
    upper = [Ring(f"upper {s.name}", s.curve, s.radii_m, _turned_over(s.heights_m, mirror_m)) for s in lower]
    return (*lower, *upper)


def potential_at(view: RingView, angles_rad: ArrayLike) -> Floats:
    """The potential at angles (t,) [rad] and all nodes, (t, r, z) [A]."""
    wave = np.cos(np.outer(np.asarray(angles_rad, float), view.waves))
    return np.asarray(np.tensordot(wave, view.potential_a, axes=1))


def cells_at(view: RingView, angles_rad: ArrayLike, parts: int = 2) -> RingCells:
    """Flux density, region and permeability at the centres of cells: B = mu0 mu H + J, H = -grad phi.

    Parameters
    ----------
    view : solved rings
    angles_rad : (t,) [rad]
    parts : cells in each element along either axis
    """
    angles = np.asarray(angles_rad, float)
    (value_r, slope_r), (value_z, slope_z) = (_samples(nodes, parts) for nodes in (view.radii_m, view.heights_m))
    r, z = value_r @ view.radii_m, value_z @ view.heights_m
    phase = np.outer(angles, view.waves)

    def summed(wave: Floats, radial: Floats, axial: Floats) -> Floats:
        return np.asarray(np.tensordot(wave, radial @ view.potential_a @ axial.T, axes=1))

    around = np.asarray(np.sin(phase) * view.waves, float)
    strength = np.stack(
        [
            -summed(np.cos(phase), slope_r, value_z),
            summed(around, value_r, value_z) / r[:, None],
            -summed(np.cos(phase), value_r, slope_z),
        ]
    )
    return _filled(view, strength, angles, r, z)


def _filled(view: RingView, strength: Floats, angles: Floats, r: Floats, z: Floats) -> RingCells:
    """B = mu0 mu_r H + J, with what lies at each centre."""
    region = np.full(strength.shape[1:], -1)
    permeability, remanence = np.ones(region.shape), np.zeros(strength.shape)
    for name, here, (radial, around, axial) in _magnet_cells(view, angles, r, z):
        region[here] = view.regions.index(name)
        permeability[here] = view.magnets.recoil_permeability
        for axis, part in enumerate((radial, around, axial)):
            remanence[axis][here] = view.magnets.remanence_t * np.broadcast_to(part, region.shape)[here]
    for ring in view.steels:
        here = np.broadcast_to(np.outer(_within(r, ring.radii_m), _within(z, ring.heights_m)), region.shape)
        region[here] = view.regions.index(ring.name)
        permeability[here] = permeabilities(ring.curve, np.linalg.norm(strength[:, here], axis=0))[0]
    return RingCells(MU0 * permeability * strength + remanence, region, permeability)


def _magnet_cells(
    view: RingView, angles: Floats, r: Floats, z: Floats
) -> Iterable[tuple[str, Bools, tuple[Floats, Floats, Floats]]]:
    """Name, cells and direction (along r, theta, z) of every body; a body is magnetised evenly, in a plane."""
    pitch = body_pitch_rad(view.magnets)
    round_pair = 2 * view.magnets.segments_per_pole * pitch
    for body in view.bodies:
        inner, outer = covered_half_angles(of_slab(view.magnets, body.slab), r)
        offset = (angles - body.number * pitch + round_pair / 2) % round_pair - round_pair / 2
        away = np.abs(offset)[:, None]
        covered = (away >= inner) & (away <= outer) & (outer > inner)
        across, up = math.sin(body.turn_rad), np.full((1, 1, 1), math.cos(body.turn_rad))
        spread = offset[:, None, None]
        direction = (across * np.sin(spread), across * np.cos(spread), up)
        yield body.name, covered[:, :, None] & _within(z, body.heights_m), direction


def _within(places: Floats, ends: tuple[float, float]) -> Bools:
    return np.asarray((places > ends[0]) & (places < ends[1]))


def _samples(nodes: Floats, parts: int) -> tuple[Floats, Floats]:
    """Matrices (cells, nodes) that give value and slope at the cells' centres from values at nodes."""
    elements = (len(nodes) - 1) // 2
    t = (np.arange(parts) + 0.5) / parts
    values = np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)], axis=1)
    slopes = np.stack([4 * t - 3, 4 - 8 * t, 4 * t - 1], axis=1)
    value, slope = np.zeros((2, elements * parts, len(nodes)))
    for element in range(elements):
        rows, columns = slice(element * parts, (element + 1) * parts), slice(2 * element, 2 * element + 3)
        value[rows, columns] = values
        slope[rows, columns] = slopes / (nodes[2 * element + 2] - nodes[2 * element])
    return value, slope
