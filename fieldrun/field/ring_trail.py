"""Where to start at the next gap: the potentials at the last few gaps, carried on to the next.

Meshes of a family differ over the magnets' face only, where their lines keep step with the gap; on lines in step,
potentials change evenly with the gap and a parabola through the last three foretells most of the next.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_interp_spline

from fieldrun.design.arrays import Floats
from fieldrun.field.ring_mesh import RingMesh

REMEMBERED = 3
"""Gaps looked back at."""


@dataclass(frozen=True, eq=False)
class Solved:
    """A machine of a family that is solved.

    Parameters
    ----------
    gap_m : its gap [m]
    mesh : its mesh
    alone : (1, r, z) the fundamental with no other harmonic in the steel [A]
    potential : (n, r, z) all harmonics [A]
    """

    gap_m: float
    mesh: RingMesh
    alone: Floats
    potential: Floats


Trail = tuple[Solved, ...]
"""The last machines of a family, all of different gaps."""


def longer(trail: Trail, solved: Solved) -> Trail:
    """The trail with one more, and no more than it remembers."""
    others = tuple(one for one in trail if one.gap_m != solved.gap_m)
    return (*others, solved)[-REMEMBERED:]


def foretold(trail: Trail, gap_m: float, mesh: RingMesh, orders: int) -> tuple[Floats, Floats] | None:
    """Potentials to start from, of the fundamental alone, (1, r, z), and of all harmonics, (n, r, z) [A]; None without
    a trail.

    Parameters
    ----------
    trail : the last machines
    gap_m, mesh : the next
    orders : how many harmonics it has; those that the last had not start from zero
    """
    if not trail:
        return None
    alone, whole = np.zeros((2, orders, mesh.radial.count, mesh.axial.count))
    for one, share in zip(trail, _shares([one.gap_m for one in trail], gap_m), strict=True):
        count = min(orders, len(one.potential))
        whole[:count] += share * _carried(one.mesh, mesh, one.potential[:count])
        alone[:1] += share * _carried(one.mesh, mesh, one.alone)
    return alone[:1], whole


def _shares(places: list[float], place: float) -> list[float]:
    """Lagrange's shares of the values at some places in the value at another."""
    return [float(np.prod([(place - other) / (own - other) for other in places if other != own])) for own in places]


def _carried(old: RingMesh, new: RingMesh, potential: Floats) -> Floats:
    """A potential on another gap's mesh, over the face at the same share of the gap."""
    before, after = old.gap.nodes, new.gap.nodes
    places, asked = (_shares_of_gap(mesh) for mesh in (old, new))
    weights = make_interp_spline(places, np.eye(len(places)), k=min(3, len(places) - 1))(asked)
    parts = [potential[:, :, : before.start], potential[:, :, before] @ weights.T, potential[:, :, before.stop :]]
    out = np.concatenate(parts, axis=2)
    out[:, :, after.start] = potential[:, :, before.start]
    return out


def _shares_of_gap(mesh: RingMesh) -> Floats:
    heights = mesh.axial.nodes_m[mesh.gap.nodes]
    return np.asarray((heights - heights[0]) / (heights[-1] - heights[0]))
