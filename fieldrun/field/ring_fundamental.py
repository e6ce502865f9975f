"""The fundamental alone by rings, on a coarse mesh: for changes of a machine, where the rest of its field cancels."""

import numpy as np

from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.coupled_rings import solve_coupled
from fieldrun.field.field_map import FieldMap
from fieldrun.field.ring_map import air_gap, map_of
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_system import ring_system
from fieldrun.field.rings import solve_linear

COARSE = RingDensity().coarser(2.0)
"""Half the default mesh: 0.1 % of the field, and far less of how it changes."""


def fundamental_map(magnets: Magnets, rotor: Rotor) -> FieldMap:
    """Solve order 1 of a machine; its steel sees no other harmonic.

    Parameters
    ----------
    magnets, rotor : the machine; an outline of the magnets' own is not seen here

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    mesh = ring_mesh(magnets, rotor, COARSE)
    system = ring_system(magnets, mesh, np.array([1]))
    potential = solve_coupled(system).potential if mesh.steels else solve_linear(system)
    return map_of(system, air_gap(system, potential), magnets, rotor)
