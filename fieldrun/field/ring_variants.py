"""The same rings at another gap, or with some of their harmonics known or shut out of the steel."""

import math
from dataclasses import replace

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.field.axis import mass, stiffness
from fieldrun.field.ring_mesh import RingMesh, reach
from fieldrun.field.ring_system import RingSystem, linear_operator, some_orders

SHORTED = 1e-5
"""Share of a harmonic's field that comes back from under the magnets if it is left out of the steel there."""


def at_gap(system: RingSystem, mesh: RingMesh) -> RingSystem:
    """The same rings on a mesh that differs over the magnets' face only."""
    sources = np.zeros((len(system.waves), mesh.radial.count, mesh.axial.count))
    r, z = mesh.magnet_radial.nodes, mesh.magnet_axial.nodes
    sources[:, r, z] = system.sources[:, r, z]
    return replace(
        system,
        mesh=mesh,
        air_axial=(stiffness(mesh.axial), mass(mesh.axial)),
        sources=sources,
        free=tuple(reach(mesh, int(wave)) for wave in system.waves),
    )


def later_orders(system: RingSystem, first: Floats) -> RingSystem:
    """The rings of the harmonics after some whose potential (m, r, z) [A] is known, with these in their sources."""
    count = len(first)
    known = np.zeros_like(system.sources)
    known[:count] = first
    later = some_orders(system, slice(count, None))
    return replace(later, sources=later.sources - linear_operator(system)(known)[count:])


def above_steel(system: RingSystem, first: int) -> RingSystem:
    """The same rings with the later harmonics, from the `first`-th on, held at zero on the backing's face.

    Those that die out in the magnets, there and back, to `SHORTED`: exp(-2 n p h / r) at the magnets' outer radius r,
    h their thickness. To them any steel is an ideal plate, which spares most of their unknowns. Only for harmonics that
    do not meet others in the steel.
    """
    mesh = system.mesh
    if not any(steel.axial.end == mesh.magnet_axial.first for steel in mesh.steels):
        return system
    thickness = -mesh.axial.vertices_m[mesh.magnet_axial.first]
    farthest = mesh.radial.vertices_m[mesh.magnet_radial.end]
    face = 2 * mesh.magnet_axial.first + 1

    def cut(n: int, free: tuple[slice, slice]) -> tuple[slice, slice]:
        dies = math.exp(-2 * int(system.waves[n]) * thickness / farthest) < SHORTED
        return (free[0], slice(face, free[1].stop)) if n >= first and dies else free

    return replace(system, free=tuple(cut(n, free) for n, free in enumerate(system.free)))
