"""Which independent ways must agree with which, on what and to what: one table, run over random machines.

Each row of `MAP` names two ways that share no more than the machine's description, the quantity they must agree on, and
the bound. Other files of this folder hold one source each to its own, mostly tighter, bounds over chosen machines; here
every way meets every random machine it claims to hold for. Machines: 8 to 24 poles, every outline, every arrangement of
faces and plates, recoil permeability 1 (where a way knows no other) or as drawn, 1 to 1.1.
"""

import functools
import math
import os
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.spatial import KDTree

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Load, Magnets, Outline, Plate, Rotor, Winding, Wire
from fieldrun.design.units import RPM
from fieldrun.field.field_map import FieldMap, field_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.solve import field_of, section_field, slices_of
from fieldrun.generator.emf import Emf, emf_harmonics, emf_per_speed
from fieldrun.generator.impedance import impedance
from fieldrun.generator.inductance import inductance
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.losses import Circuit, losses_of
from fieldrun.reference.circuit import circuit_b1, closes_a_circuit
from fieldrun.reference.end_effects import spread_map
from fieldrun.reference.estimates import machine_stack
from fieldrun.reference.layers import amplitudes, solve_layers
from fieldrun.reference.ring_kernel import ring_kernel_map
from fieldrun.reference.shares import bend_radii
from fieldrun.reference.solid import solve_solid
from fieldrun.winding.lay import Lay, lay
from fieldrun.winding.pieces import points_along
from tests.linkage import linkage_harmonics

SEED, MACHINES = 5, int(os.environ.get("FIELDRUN_RANDOM_MACHINES", "6"))
"""Six machines go through every arrangement once; twelve took three minutes and agreed likewise."""

ORDERS = range(1, 16, 2)
IDEAL = Plate(None)


@dataclass(frozen=True)
class Machine:
    """A random machine."""

    magnets: Magnets
    rotor: Rotor
    winding: Winding
    wire: Wire

    @property
    def height_m(self) -> float:
        return self.winding.height_m

    @property
    def radius_m(self) -> float:
        return mean_radius_m(self.magnets)


def random_machine(number: int) -> Machine:
    rng = np.random.default_rng([SEED, number])
    poles, pitch = 2 * int(rng.integers(4, 13)), rng.uniform(0.014, 0.04)
    outline = random_outline(rng, poles, pitch)
    magnets = Magnets(
        outline, poles, rng.uniform(0.15, 0.5) * pitch, rng.uniform(0.4, 1.4), rng.uniform(1, 1.1), 7500.0
    )
    gap = rng.uniform(0.2, 0.5) * pitch
    arrangements = [
        Rotor(1, None, None, None, 0.0, 0.2),
        Rotor(1, None, IDEAL, None, 0.0, 0.2),
        Rotor(1, gap, IDEAL, IDEAL, 0.0, 0.2),
        Rotor(1, gap, None, IDEAL, 0.0, 0.2),
        Rotor(2, gap, None, None, 0.0, 0.2),
        Rotor(2, gap, IDEAL, None, 0.0, 0.2),
    ]
    rotor = arrangements[number % len(arrangements)]
    return Machine(magnets, rotor, *random_winding(rng, outline, pitch, rotor.gap_m))


def random_outline(rng: np.random.Generator, poles: int, pitch: float) -> Outline:
    radius, share, half = pitch * poles / (2 * math.pi), rng.uniform(0.55, 0.95), math.pi / poles
    shape, depth = rng.choice(["disc", "block", "arc"]), min(rng.uniform(0.6, 1.4) * pitch, radius)
    if shape == "disc":
        return Disc(share * 2 * radius * math.sin(half), radius)
    if shape == "arc":
        return Arc(radius - depth / 2, radius + depth / 2, share)
    return Block(depth, share * 2 * (radius - depth / 2) * math.tan(half), radius)


def random_winding(rng: np.random.Generator, outline: Outline, pitch: float, gap: float | None) -> tuple[Winding, Wire]:
    first, *_, last = bend_radii(outline)
    inner, outer = first + rng.uniform(-0.2, 0.15) * (last - first), last + rng.uniform(-0.15, 0.2) * (last - first)
    height = rng.uniform(0.4, 0.6) * (0.3 * pitch if gap is None else gap)
    shape = str(rng.choice(["serpentine", "zigzag", "diamond", "rhomboid", "hexagon"]))
    angles = {} if shape == "hexagon" else {"span": rng.uniform(0.7, 1.0)}
    winding = Winding(shape, inner, outer, 3, 2, 1, height, leg="spiral", **angles)  # type: ignore[arg-type]
    return winding, Wire("solid", 0.02 * pitch, 1, 0.022 * pitch)


# What the ways share: a machine, a winding laid, a field map. Kept, because several rows ask for the same.
machine_of = functools.lru_cache(random_machine)


@functools.lru_cache
def plain(number: int) -> Machine:
    """The machine with recoil permeability 1: for ways that know no other."""
    machine = machine_of(number)
    return replace(machine, magnets=replace(machine.magnets, recoil_permeability=1.0))


@functools.lru_cache
def steel(number: int) -> Machine:
    """The machine with plates of mild steel, so thin that some of it saturates."""
    machine = machine_of(number)
    plate = Plate(steel_curve("mild steel"), 0.12 * math.pi * machine.radius_m / machine.magnets.pole_pairs)
    first, *_, last = bend_radii(machine.magnets.outline)
    beyond = machine.magnets.thickness_m
    rotor = replace(
        machine.rotor,
        backing=machine.rotor.backing and plate,
        return_plate=machine.rotor.return_plate and plate,
        steel_inner_radius_m=max(first - beyond, 0.2 * first),
        steel_outer_radius_m=last + beyond,
    )
    return replace(machine, rotor=rotor)


@functools.lru_cache
def laid(machine: Machine) -> Lay:
    return lay(machine.winding, machine.magnets.pole_pairs, machine.wire)


@functools.lru_cache
def rings(machine: Machine) -> FieldMap:
    return field_of(machine.magnets, machine.rotor)


def emf(machine: Machine, field_map: FieldMap) -> Emf:
    return emf_per_speed(field_map, laid(machine), machine.winding, machine.wire)


def first_emf(machine: Machine, field_map: FieldMap) -> np.ndarray:
    return emf(machine, field_map).amplitudes[0, :1]


def places(machine: Machine) -> tuple[np.ndarray, np.ndarray]:
    """Radii and heights over the copper and the magnets, for ways that yield a map at places they are given."""
    first, *_, last = bend_radii(machine.magnets.outline)
    winding = laid(machine)
    low, high = winding.sheet_heights_m[0], winding.sheet_heights_m[-1]
    inner, outer = min(winding.inner_radius_m, first) - 1e-4, max(winding.outer_radius_m, last) + 1e-4
    radii = np.linspace(inner, outer, int((outer - inner) / (0.4 * low)) + 24)
    return radii, np.linspace(low - 0.05 * low, high + 0.05 * low, 5)


# The quantities: each yields what two ways say, as arrays, and the scale by which they are judged.
Told = tuple[np.ndarray, np.ndarray, float]


def layers_and_section(machine: Machine) -> Told:
    """Fundamental of B_z where the copper is, unrolled at the mean radius."""
    stack = machine_stack(machine.magnets, machine.rotor, machine.radius_m, (1,))
    layered = amplitudes(solve_layers(stack), machine.height_m)[1][0].real
    return layered, section_b1(machine), float(abs(layered[0]))


def section_b1(machine: Machine, density: MeshDensity | None = None) -> np.ndarray:
    field = section_field(machine.magnets, machine.rotor, machine.radius_m, density)
    return gap_amplitudes(field, [machine.height_m], np.array([1]))[1][0].real


def two_meshes(machine: Machine) -> Told:
    """The same, on the default mesh and on one twice as fine."""
    fine = section_b1(machine, MeshDensity().refined())
    return section_b1(machine), fine, float(abs(fine[0]))


def two_ring_meshes(machine: Machine) -> Told:
    """EMF by rings on the default mesh and on one with edges longer by the half."""
    coarse = ring_field(machine.magnets, machine.rotor, RingDensity().coarser(1.5)).field_map
    return _two_emfs(machine, coarse, rings(machine))


def rings_and_kernel(machine: Machine) -> Told:
    """Every harmonic of the EMF up to the 15th."""
    exact = emf(machine, ring_kernel_map(machine.magnets, machine.rotor, *places(machine), ORDERS)).amplitudes[0]
    return emf(machine, rings(machine)).amplitudes[0, : len(exact)], exact, float(abs(exact[0]))


def rings_and_k1(machine: Machine) -> Told:
    """EMF that B_z brings (the K1 map knows no B_r), flat sections spread past the magnets' ends."""
    spread = spread_map(slices_of(machine.magnets, machine.rotor), machine.magnets, machine.rotor, *places(machine))
    return _two_emfs(machine, axial_only(rings(machine)), spread)


def axial_only(field_map: FieldMap) -> FieldMap:
    return replace(field_map, b_r_t=0 * field_map.b_r_t, b_theta_t=0 * field_map.b_theta_t)


def rings_and_solid(machine: Machine) -> Told:
    """EMF by harmonics in the half plane and by tetrahedra in space."""
    heights = places(machine)[1]
    return _two_emfs(machine, rings(machine), solve_solid(machine.magnets, machine.rotor, heights).field_map)


def _two_emfs(machine: Machine, one: FieldMap, other: FieldMap) -> Told:
    judge = first_emf(machine, other)
    return first_emf(machine, one), judge, float(abs(judge[0]))


def line_and_linkage(machine: Machine) -> Told:
    """EMF along the wire, and the change of flux through its loops, in the plane where the loops are flat."""
    pieces, phases, field_map = laid(machine).pieces, machine.winding.phases, axial_only(rings(machine))
    flat = replace(pieces, start=_levelled(pieces.start, machine), end=_levelled(pieces.end, machine))
    along = emf_harmonics(field_map, flat, phases)[0]
    through = linkage_harmonics(field_map, flat, phases)[0]
    slopes = 1j * field_map.pole_pairs * field_map.orders * through
    return along, slopes, float(np.abs(along).max())


def _levelled(points: np.ndarray, machine: Machine) -> np.ndarray:
    level = np.array(points)
    level[:, 2] = machine.height_m
    return level


def rings_and_whole_magnets(machine: Machine, whole_magnets: Callable[..., np.ndarray]) -> Told:
    """B_z at random points of the gap's middle half over the magnets, from all magnets in closed form."""
    rng = np.random.default_rng(SEED)
    first, *_, last = bend_radii(machine.magnets.outline)
    top = machine.rotor.gap_m or 0.5 * math.pi * machine.radius_m / machine.magnets.pole_pairs
    r, theta, z = rng.uniform(first, last, 40), rng.uniform(0, math.tau, 40), rng.uniform(0.25, 0.75, 40) * top
    truth = whole_magnets(machine.magnets, machine.rotor, np.stack([r * np.cos(theta), r * np.sin(theta), z], axis=1))
    return field_at(rings(machine), r, theta, z)[2], truth[:, 2], float(np.abs(truth[:, 2]).max())


def spacing_and_rule(machine: Machine) -> Told:
    """Least distance between the legs of two rounds in one sheet, point by point, and the wire that must lie there."""
    return np.array([least_distance_m(laid(machine))]), np.array([machine.wire.overall_diameter_m]), 1.0


def least_distance_m(winding: Lay) -> float:
    """Over points along every leg; the ends on the rims are shared by the legs of one loop, which do not count."""
    pieces, found = winding.pieces, math.inf
    legs = np.flatnonzero((np.abs(pieces.end - pieces.start) > 1e-9)[:, 0])
    points = points_along(pieces, np.tile(np.linspace(0, 1, 401), (pieces.count, 1)))[legs]
    level, loop = points[:, 0, 2].round(9), pieces.loop[legs]
    flat = points[..., :1] * np.stack([np.cos(points[..., 1]), np.sin(points[..., 1])], axis=-1)
    for height in np.unique(level):
        for one in np.unique(loop[level == height]):
            own, others = flat[(level == height) & (loop == one)], flat[(level == height) & (loop != one)]
            distances, _ = KDTree(others.reshape(-1, 2)).query(own.reshape(-1, 2))
            found = min(found, float(distances.min()))
    return found


def power_and_losses(machine: Machine) -> Told:
    """Shaft power by EMF times current, and the power that load, copper, diodes, cable and idle losses hold."""
    found = _delivered(machine)
    told = found.dc_power_w + found.copper_w + found.diode_w + found.cable_w + found.idle_w
    shaft = found.torque_nm * found.speed_rad_s
    return told, shaft, float(shaft.max())


def _delivered(machine: Machine) -> Delivery:
    winding = laid(machine)
    volts, copper = emf(machine, rings(machine)), impedance(winding.pieces, machine.wire, machine.winding)
    henries = inductance(winding, machine.wire, machine.winding, machine.magnets, machine.rotor)
    losses = losses_of(rings(machine), winding, machine.winding, machine.wire, Circuit(volts, copper, henries))
    speeds = np.array([200.0, 500.0, 900.0]) * RPM
    battery = Load("battery", voltage_v=float(volts.rms.max() * speeds[1]), resistance_ohm=0.02, cable_ohm=0.05)
    return deliver(volts, copper, henries, losses, machine.winding, battery, speeds)


def circuit_and_section(machine: Machine) -> Told:
    """How much higher than the section the magnetic circuit reads: it lets no flux leak and takes steel as perfect."""
    by_hand = circuit_b1(machine.magnets, machine.rotor, machine.height_m, machine.radius_m)
    return np.array([by_hand]), section_b1(machine), by_hand


@dataclass(frozen=True)
class Row:
    """Two ways, the machines they meet on, and what share of the scale they may differ by."""

    ways: str
    told: Callable[..., Told]
    machines: Callable[[int], Machine]
    bound: float
    holds: Callable[[Machine], bool] = lambda _: True


def is_circuit(machine: Machine) -> bool:
    return closes_a_circuit(machine.rotor)


def has_steel(machine: Machine) -> bool:
    return machine.rotor.backing is not None or machine.rotor.return_plate is not None


MAP = {
    row.ways: row
    for row in (
        Row("layered Fourier = section, recoil 1", layers_and_section, plain, 1e-4),
        Row("section = section on a finer mesh", two_meshes, machine_of, 1e-4),
        Row("steel section = the same on a finer mesh", two_meshes, steel, 1e-3, has_steel),
        Row("rings = rings on a coarser mesh", two_ring_meshes, machine_of, 1e-3),
        Row("steel rings = the same on a coarser mesh", two_ring_meshes, steel, 2e-3, has_steel),
        Row("rings = exact ring kernel, recoil 1", rings_and_kernel, plain, 1e-3),
        Row("rings = sections + K1, recoil 1", rings_and_k1, plain, 5e-3),
        Row("rings = sections + K1, any recoil", rings_and_k1, machine_of, 1.5e-2),
        Row("rings = solid, any recoil", rings_and_solid, machine_of, 5e-3),
        Row("steel rings = solid", rings_and_solid, steel, 5e-3, has_steel),
        Row("rings = whole magnets (magpylib), recoil 1", rings_and_whole_magnets, plain, 1e-2),
        Row("line integral = flux linkage", line_and_linkage, machine_of, 1e-6),
        Row("shaft = load and losses", power_and_losses, machine_of, 1e-3),
    )
}
"""Every pair that must agree; `Row.bound` is a share of the quantity's own scale."""


SLOW = ("steel rings = solid", "rings = solid, any recoil", "steel rings = the same on a coarser mesh")


@pytest.mark.parametrize("number", range(MACHINES))
@pytest.mark.parametrize("ways", [pytest.param(ways, marks=[pytest.mark.slow] * (ways in SLOW)) for ways in MAP])
def test_two_ways_agree(ways: str, number: int, request: pytest.FixtureRequest) -> None:
    row = MAP[ways]
    machine = row.machines(number)
    if not row.holds(machine):
        pytest.skip("the way does not apply: no steel in this machine")
    more = (request.getfixturevalue("whole_magnets"),) if row.told is rings_and_whole_magnets else ()
    one, other, scale = row.told(machine, *more)
    assert scale > 0
    assert np.abs(one - other).max() <= row.bound * scale, machine


@pytest.mark.parametrize("number", range(MACHINES))
def test_rounds_lie_a_wire_apart_and_hardly_more(number: int) -> None:
    """The rule spaces legs by their tightest place; points along them say the same: 1.000 to 1.008 diameters."""
    found, diameter, _ = spacing_and_rule(machine_of(number))
    assert diameter[0] * (1 - 1e-9) <= found[0] <= 1.01 * diameter[0]


@pytest.mark.parametrize("number", [n for n in range(MACHINES) if is_circuit(machine_of(n))])
def test_the_magnetic_circuit_reads_high(number: int) -> None:
    by_hand, section, _ = circuit_and_section(machine_of(number))
    assert section[0] < by_hand[0] < 2 * section[0]
