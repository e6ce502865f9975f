"""Pieces of the ring model that tests hold in their hands one by one."""

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.field_map import FieldMap
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.ring_system import RingSystem, linear_band, linear_operator


def ring_map(magnets: Magnets, rotor: Rotor, density: RingDensity | None = None) -> FieldMap:
    """The field map alone of `ring_field`."""
    return ring_field(magnets, rotor, density).field_map


def linear_part(system: RingSystem, potential: Floats) -> Floats:
    """Air and magnets times a potential, (n, r, z) [A]."""
    return linear_operator(system)(potential)


def linear_bands(system: RingSystem) -> list[Floats]:
    """Each harmonic's own matrix of air and magnets, in lower banded storage."""
    return [linear_band(system, n) for n in range(len(system.waves))]
