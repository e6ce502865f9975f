"""From a machine to its field in three dimensions: which harmonics, whether steel matters, what it carries."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.coupled_rings import solve_coupled, solve_frozen
from fieldrun.field.field_map import FieldMap
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.ring_family import gap_potential, lower_of, solve_gaps, unknowns
from fieldrun.field.ring_map import AirGap, air_gap, map_of
from fieldrun.field.ring_mesh import RingDensity, gap_lines, ring_mesh
from fieldrun.field.ring_steel import SteelState, steel_state, steel_tables
from fieldrun.field.ring_system import RingSystem, first_orders, ring_system
from fieldrun.field.slabs import Stack, longest

COUPLED = 6
"""Harmonics that meet in saturating steel: orders 1 to 11 are within 0.3 % of 1 to 47 (60 random machines)."""

SATURATES_T = 1.3
"""Peak in the steel, of the fundamental alone, above which its harmonics are coupled. It reads low: 1.5 T means 1.7."""

FEWEST_ORDERS, MOST_ORDERS = 8, 24
"""Harmonics carried: 1 to 15 always, up to 47 where the gap is thin."""

AT_ONCE = 8
"""Gaps without steel solved side by side: their arrays still fit the processor's cache."""

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
    fine = density or RingDensity()
    for orders, same in groupby(rotors, lambda rotor: len(orders_of(magnets, rotor))):
        group = list(same)
        system = ring_system(magnets, ring_mesh(longest(magnets, stack), group[0], fine), _odd(orders), stack)
        if system.mesh.steels:
            yield from (_with_steel(magnets, rotor, fine, coupled, stack) for rotor in group)
        else:
            yield from _without_steel(magnets, group, fine, system)


def _without_steel(
    magnets: Magnets, rotors: list[Rotor], density: RingDensity, system: RingSystem
) -> Iterator[RingField | SolveError]:
    lower = lower_of(system)
    for first in range(0, len(rotors), AT_ONCE):
        some = rotors[first : first + AT_ONCE]
        gaps = [gap_lines(magnets, rotor, density) for rotor in some]
        try:
            solution = solve_gaps(lower, gaps)
        except SolveError as error:
            yield from (error for _ in some)
            continue
        for index, rotor in enumerate(some):
            gap = AirGap(gaps[index], gap_potential(solution, index))
            yield RingField(map_of(system, gap, magnets, rotor), "rings", (), 0, unknowns(lower, gaps[index]))


def _with_steel(
    magnets: Magnets, rotor: Rotor, density: RingDensity, coupled: int, stack: Stack
) -> RingField | SolveError:
    try:
        return _steel_field(magnets, rotor, density, coupled, stack)
    except SolveError as error:
        return error


def _steel_field(magnets: Magnets, rotor: Rotor, density: RingDensity, coupled: int, stack: Stack) -> RingField:
    mesh = ring_mesh(longest(magnets, stack), rotor, density)
    system = ring_system(magnets, mesh, orders_of(magnets, rotor), stack)
    count = sum(math.prod(nodes.stop - nodes.start for nodes in free) for free in system.free)
    first = solve_coupled(first_orders(system, 1))
    potential = solve_frozen(system, first.states)
    model, steps = "rings", first.newton_steps
    if max(peak_t(state) for state in first.states) < SATURATES_T:
        states = tuple(steel_state(steel, potential) for steel in steel_tables(mesh, system.waves))
    else:
        solution = solve_coupled(first_orders(system, coupled), potential[:coupled])
        potential[:coupled] = solution.potential
        model, states, steps = "coupled rings", solution.states, steps + solution.newton_steps
    return RingField(map_of(system, air_gap(system, potential), magnets, rotor), model, _reports(states), steps, count)


def ring_map(magnets: Magnets, rotor: Rotor, density: RingDensity | None = None) -> FieldMap:
    """The field map alone of `ring_field`."""
    return ring_field(magnets, rotor, density).field_map


def orders_of(magnets: Magnets, rotor: Rotor) -> Ints:
    """Harmonics that are worth carrying: those still felt an eighth of the gap above the magnets."""
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
