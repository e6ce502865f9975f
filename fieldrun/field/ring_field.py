"""From a machine to its field in three dimensions: which harmonics, whether steel matters, what it carries."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.coupled_rings import solve_coupled, solve_frozen, solve_later
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_family import lower_of, unknowns
from fieldrun.field.ring_gaps import gap_by_gap
from fieldrun.field.ring_map import AirGap, air_gap, map_of
from fieldrun.field.ring_mesh import RingDensity, gap_lines, ring_mesh
from fieldrun.field.ring_steel import SteelState, steel_state, steel_tables
from fieldrun.field.ring_system import RingSystem, first_orders, ring_system
from fieldrun.field.ring_trail import Solved, Trail, foretold, longer
from fieldrun.field.ring_variants import above_steel, at_gap
from fieldrun.field.slabs import Stack, longest

COUPLED = 6
"""Harmonics that meet in saturating steel: orders 1 to 11 are within 0.3 % of 1 to 47 (60 random machines)."""

SATURATES_T = 1.3
"""Peak in the steel, of the fundamental alone, above which its harmonics are coupled. It reads low: 1.5 T means 1.7."""

FEWEST_ORDERS, MOST_ORDERS = 8, 24
"""Harmonics carried: 1 to 15 always, up to 47 where the gap is thin."""

FAINT = 1e-3
"""Share of the remanence below which a harmonic is left out, an eighth of the gap above the magnets."""

KNEE_T = 1.6
"""Flux density where mild steel's knee ends (common practice, from memory)."""


@dataclass(frozen=True)
class SteelReport:
    """What a steel disc carries.

    Parameters
    ----------
    name : "backing" or "return plate"
    steel : the curve's name
    peak_t : largest |B| at a Gauss point [T]
    peak_at : its r [m], theta from a pole's centre [rad], z [m]
    peak_phase : that theta from 0 at a pole's centre to 1 between two poles
    above_knee : share of the disc's volume above `KNEE_T`
    """

    name: str
    steel: str
    peak_t: float
    peak_at: tuple[float, float, float]
    peak_phase: float
    above_knee: float


@dataclass(frozen=True, eq=False)
class RingField:
    """A machine solved by rings.

    Parameters
    ----------
    field_map : the field in the gap
    model : "rings", or "coupled rings" where steel saturates
    steel : every disc with a curve of its own
    newton_steps : 0 without steel
    unknowns : of all harmonics together
    """

    field_map: FieldMap
    model: str
    steel: tuple[SteelReport, ...]
    newton_steps: int
    unknowns: int


def ring_field(
    magnets: Magnets,
    rotor: Rotor,
    density: RingDensity | None = None,
    coupled: int = COUPLED,
    stack: Stack = (),
) -> RingField:
    """Solve a machine by rings: linear if its steel stays below saturation, else with the harmonics coupled in it.

    Parameters
    ----------
    magnets, rotor : the machine; its section mesh is not seen here
    density : of the mesh
    coupled : harmonics that meet in saturating steel
    stack : the magnets' slabs if they are not plain

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    answer = next(ring_fields(magnets, [rotor], density, coupled, stack))
    if isinstance(answer, SolveError):
        raise answer
    return answer


def ring_fields(
    magnets: Magnets,
    rotors: Sequence[Rotor],
    density: RingDensity | None = None,
    coupled: int = COUPLED,
    stack: Stack = (),
) -> Iterator[RingField | SolveError]:
    """Solve machines that differ in the gap only, as `ring_field` does each; in the given order.

    Parameters
    ----------
    magnets, density, coupled, stack : as for `ring_field`
    rotors : gaps that follow each other help each other most

    Yields
    ------
    A machine's field, or why it could not be solved.
    """
    if not rotors:
        return
    fine, shape = density or RingDensity(), longest(magnets, stack)
    counts = [len(orders_of(magnets, rotor)) for rotor in rotors]
    system = ring_system(magnets, ring_mesh(shape, rotors[0], fine), _odd(max(counts)), stack)
    if not system.mesh.steels:
        yield from _without_steel(magnets, rotors, counts, fine, system)
        return
    trail: Trail = ()
    for rotor, count in zip(rotors, counts, strict=True):
        own = above_steel(first_orders(at_gap(system, ring_mesh(shape, rotor, fine)), count), coupled)
        try:
            field, solved = _with_steel(magnets, rotor, own, min(coupled, count), trail)
        except SolveError as error:
            trail = ()
            yield error
            continue
        trail = longer(trail, solved)
        yield field


def _without_steel(
    magnets: Magnets, rotors: Sequence[Rotor], counts: list[int], density: RingDensity, system: RingSystem
) -> Iterator[RingField | SolveError]:
    try:
        lower = lower_of(system)
    except SolveError as error:
        yield from (error for _ in rotors)
        return
    lines = [gap_lines(magnets, rotor, density) for rotor in rotors]
    for rotor, gap, count, solved in zip(rotors, lines, counts, gap_by_gap(lower, lines, counts), strict=True):
        if isinstance(solved, SolveError):
            yield solved
            continue
        field_map = map_of(system, AirGap(gap, solved[:count]), magnets, rotor)
        yield RingField(field_map, "rings", (), 0, unknowns(lower, gap, count))


def _with_steel(
    magnets: Magnets, rotor: Rotor, system: RingSystem, coupled: int, trail: Trail
) -> tuple[RingField, Solved]:
    """Solve a machine from where the trail leads; its field, and what its successor may look back at."""
    start = foretold(trail, rotor.gap_m or 0.0, system.mesh, len(system.waves))
    alone, whole = (None, None) if start is None else start
    first = solve_coupled(first_orders(system, 1), alone)
    model, steps = "rings", first.newton_steps
    if max(peak_t(state) for state in first.states) < SATURATES_T:
        potential = solve_frozen(above_steel(system, 1), first.states, whole)
        states = tuple(steel_state(steel, potential) for steel in steel_tables(system.mesh, system.waves))
    else:
        few = first_orders(system, coupled)
        met = solve_coupled(few, solve_frozen(few, first.states) if whole is None else whole[:coupled])
        potential = solve_later(system, first.states, met.potential, whole)
        model, states, steps = "coupled rings", met.states, steps + met.newton_steps
    count = sum(math.prod(nodes.stop - nodes.start for nodes in free) for free in system.free)
    field_map = map_of(system, air_gap(system, potential), magnets, rotor)
    solved = Solved(rotor.gap_m or 0.0, system.mesh, first.potential, potential)
    return RingField(field_map, model, _reports(states), steps, count), solved


def orders_of(magnets: Magnets, rotor: Rotor) -> Ints:
    """Harmonics (n,), odd from 1, that are worth carrying: those still felt an eighth of the gap above the magnets.

    Felt while exp(-k_n z) / n, about its share of the remanence, exceeds `FAINT`; of the gap, the pole pitch at the
    mean radius and the magnets' thickness the least counts.
    """
    pitch = math.pi * mean_radius_m(magnets) / magnets.pole_pairs
    height = min(magnets.thickness_m, pitch, rotor.gap_m or math.inf) / 8
    felt = [n for n in range(1, 2 * MOST_ORDERS, 2) if math.exp(-n * math.pi * height / pitch) / n > FAINT]
    return _odd(max(FEWEST_ORDERS, len(felt)))


def _odd(count: int) -> Ints:
    return 2 * np.arange(count) + 1


def peak_t(state: SteelState) -> float:
    """Largest |B| of a disc [T]."""
    return float(state.flux_density_t.max())


def _reports(states: tuple[SteelState, ...]) -> tuple[SteelReport, ...]:
    return tuple(_report(state) for state in states)


def _report(state: SteelState) -> SteelReport:
    tables, flux = state.tables, state.flux_density_t
    a, b, angle = np.unravel_index(int(np.argmax(flux)), flux.shape)
    phase = (float(angle) + 0.5) / flux.shape[2]
    at = (
        float(tables.radial.points_m.ravel()[a]),
        phase * math.pi / (2 * int(tables.waves[0])),
        float(tables.axial.points_m.ravel()[b]),
    )
    volume: Floats = np.broadcast_to(tables.weights[:, :, None], flux.shape)
    share = float(np.sum(volume[flux > KNEE_T]) / np.sum(volume))
    return SteelReport(tables.part.name, tables.part.curve.name, float(flux[a, b, angle]), at, phase, share)
