"""What finite elements say of every machine of the grid: rings for three dimensions, one flat section for two."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.errors import FieldrunError
from fieldrun.design.model import Magnets, Rotor, Winding
from fieldrun.field.field_map import FieldMap, amplitudes_at, uniform_map
from fieldrun.field.outline import radial_breaks_m
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.section import section_at
from fieldrun.field.section_sweep import swept_gap_amplitudes
from fieldrun.field.solve import rotor_fields
from fieldrun.studies.estimates_map.coil import emf_of_round
from fieldrun.studies.estimates_map.grid import Machine

FIRST = np.array([1])

COARSER = 2.0
"""The second mesh has elements this many times as large; second-order elements lose far more than half by it."""

Tell = Callable[[int, int], None]
"""Told how many machines of how many are solved."""


@dataclass(frozen=True, eq=False)
class Truth:
    """Finite elements' numbers for m machines.

    Parameters
    ----------
    b1_t : (m,) fundamental of B_z by rings, at the magnets' mean radius and the machine's height [T]
    emf_v_s_per_rad : (m,) effective value of the fundamental EMF of one round by rings [V s/rad]
    flat_b1_t : (m,) as `b1_t`, by one flat section at the mean radius [T]
    flat_emf_v_s_per_rad : (m,) as `emf_v_s_per_rad`, the flat section's B1 all over the magnets' length [V s/rad]
    """

    b1_t: Floats
    emf_v_s_per_rad: Floats
    flat_b1_t: Floats
    flat_emf_v_s_per_rad: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("b1_t", "emf_v_s_per_rad", "flat_b1_t", "flat_emf_v_s_per_rad"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def truth_of(machines: Sequence[Machine], winding: Winding, tell: Tell = lambda _done, _count: None) -> Truth:
    """Solve machines by rings and by sections.

    Parameters
    ----------
    machines : in any order; those that differ in the gap alone side by side cost least
    winding : one round, its height left to each machine
    tell : told after each machine

    Raises
    ------
    SolveError
        If the steel of a machine does not converge.
    """
    rings = np.array(list(_by_rings(machines, winding, tell)))
    flat = _flat_b1(machines)
    ribbons = [emf_of_round(_ribbon(one, b1), winding, one.height_m) for one, b1 in zip(machines, flat, strict=True)]
    return Truth(rings[:, 0], rings[:, 1], flat, np.array(ribbons))


def coarser_percent(machines: Sequence[Machine], truth: Truth, picked: Sequence[int], winding: Winding) -> float:
    """Largest change of B1 or EMF by rings with elements twice as large, over some machines of a truth [%].

    Parameters
    ----------
    machines, truth, winding : as of `truth_of`
    picked : numbers of the machines that are solved again
    """
    second = [_coarser(machines[index], winding) for index in picked]
    first = np.array([truth.b1_t, truth.emf_v_s_per_rad])[:, list(picked)]
    return 100 * float(np.max(np.abs(np.array(second).T / first - 1)))


def _coarser(machine: Machine, winding: Winding) -> tuple[float, float]:
    rings = ring_field(machine.magnets, machine.rotor, RingDensity().coarser(COARSER))
    return _read(rings.field_map, machine, winding)


def _by_rings(machines: Sequence[Machine], winding: Winding, tell: Tell) -> list[tuple[float, float]]:
    """B1 and EMF of each machine; machines that differ in the winding's height alone are solved once."""
    different = list(dict.fromkeys((one.magnets, one.rotor) for one in machines))
    found: dict[tuple[Magnets, Rotor], list[Machine]] = {key: [] for key in different}
    for one in machines:
        found[one.magnets, one.rotor].append(one)
    read: dict[Machine, tuple[float, float]] = {}
    for key, answer in zip(different, rotor_fields(different), strict=True):
        if isinstance(answer, FieldrunError):
            raise answer
        for one in found[key]:
            read[one] = _read(answer.field_map, one, winding)
            tell(len(read), len(machines))
    return [read[one] for one in machines]


def _read(field_map: FieldMap, machine: Machine, winding: Winding) -> tuple[float, float]:
    first = fundamental_of(field_map)
    b1 = float(amplitudes_at(first, [machine.radius_m], [machine.height_m])[2, 0, 0].real)
    return b1, emf_of_round(first, winding, machine.height_m)


def fundamental_of(field_map: FieldMap) -> FieldMap:
    """A map's fundamental alone: nothing else is asked for."""
    first = field_map.orders == 1
    parts = {name: getattr(field_map, name)[first] for name in ("b_r_t", "b_theta_t", "b_z_t")}
    return replace(field_map, orders=FIRST, **parts)


def _flat_b1(machines: Sequence[Machine]) -> Floats:
    sections = [section_at(one.magnets, one.rotor, one.radius_m) for one in machines]
    heights = [[one.height_m] for one in machines]
    return np.array([b_z[0, 0].real for _, b_z in swept_gap_amplitudes(sections, heights, FIRST)])


def _ribbon(machine: Machine, b1_t: float) -> FieldMap:
    """The flat section's field all over the magnets' length."""
    inner, *_, outer = radial_breaks_m(machine.magnets)
    return uniform_map(machine.magnets.pole_pairs, [b1_t], (inner, outer), 2 * machine.height_m)
