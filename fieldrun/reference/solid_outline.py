"""The magnets' outline in the plane, for the solid judge: what lies inside, by asking point after point.

The outline cuts the cells of the mesh. Points on a fine lattice inside every triangle are asked whether they lie in the
magnet, and what is found is scaled to the magnet's exact area: so the outline is neither rounded to the mesh nor
approximated by a polygon, and any shape is as good as another.
"""

import math
from dataclasses import dataclass
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Arc, Block, Disc, Outline
from fieldrun.reference.solid_shapes import TRIANGLE_NODES, triangle_shapes

ASKED = 24
"""Points over each side of a triangle."""


@dataclass(frozen=True, eq=False)
class Coverage:
    """What half a magnet covers of the half pole's plane.

    Parameters
    ----------
    node_areas_m2 : (nodes over r, nodes over theta) integral of each node's shape function over the magnet [m^2]
    shares : (cells over r, cells over theta, 2) part of each triangle's area inside the magnet
    """

    node_areas_m2: Floats
    shares: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "node_areas_m2", frozen_array(self.node_areas_m2))
        object.__setattr__(self, "shares", frozen_array(self.shares))


def outline_radii(outline: Outline) -> tuple[float, float]:
    """Smallest and largest radius of a magnet [m]: of a block, its inner side's middle and its outer corners."""
    match outline:
        case Disc(diameter, centre):
            return centre - diameter / 2, centre + diameter / 2
        case Block(radial, tangential, centre):
            return centre - radial / 2, math.hypot(centre + radial / 2, tangential / 2)
        case Arc(inner, outer, _):
            return inner, outer
        case _:
            assert_never(outline)


def outline_area(outline: Outline, count: int) -> float:
    """Area of one magnet's pole face [m^2]: circle, rectangle, or sector of a ring, one of `count` in it."""
    match outline:
        case Disc(diameter, _):
            return math.pi / 4 * diameter**2
        case Block(radial, tangential, _):
            return radial * tangential
        case Arc(inner, outer, share):
            return math.pi / count * share * (outer**2 - inner**2)
        case _:
            assert_never(outline)


def is_inside(outline: Outline, count: int, radius: Floats, angle: Floats) -> NDArray[np.bool_]:
    """Whether points, radius [m] and angle [rad], both (...), lie in the magnet whose axis is theta = 0; (...)."""
    match outline:
        case Disc(diameter, centre):
            return np.hypot(radius * np.cos(angle) - centre, radius * np.sin(angle)) <= diameter / 2
        case Block(radial, tangential, centre):
            along, across = radius * np.cos(angle) - centre, radius * np.sin(angle)
            return (np.abs(along) <= radial / 2) & (np.abs(across) <= tangential / 2)
        case Arc(inner, outer, share):
            return (radius >= inner) & (radius <= outer) & (np.abs(angle) <= share * np.pi / count)
        case _:
            assert_never(outline)


def coverage(outline: Outline, count: int, radii_m: Floats, angles_rad: Floats) -> Coverage:
    """What the half magnet at theta >= 0 covers of a plane of cells.

    Parameters
    ----------
    outline, count : the magnet, and magnets on the ring
    radii_m, angles_rad : (i,) [m], (j,) [rad] lines of the cells
    """
    points, shapes = _lattice()
    dr, dt = np.diff(radii_m), np.diff(angles_rad)
    shape = (len(dr), len(dt), *points.shape[:2])
    r = np.broadcast_to(radii_m[:-1, None, None, None] + dr[:, None, None, None] * points[..., 0], shape)
    theta = np.broadcast_to(angles_rad[None, :-1, None, None] + dt[None, :, None, None] * points[..., 1], shape)
    area = r * np.multiply.outer(dr, dt)[:, :, None, None] / (2 * points.shape[1])
    inside = area * is_inside(outline, count, r, theta)
    inside *= outline_area(outline, count) / 2 / inside.sum()
    nodes = np.zeros((2 * len(dr) + 1, 2 * len(dt) + 1))
    at_nodes = np.einsum("ijtq,tqs->ijts", inside, shapes)
    for t, offsets in enumerate(TRIANGLE_NODES):
        for s, (a, b) in enumerate(offsets):
            nodes[a : a + 2 * len(dr) : 2, b : b + 2 * len(dt) : 2] += at_nodes[:, :, t, s]
    return Coverage(nodes, np.minimum(inside.sum(axis=3) / area.sum(axis=3), 1))


def _lattice() -> tuple[Floats, Floats]:
    """Centroids of equal small triangles that fill both triangles of a unit cell, and the shape functions there."""
    i, j = (grid.ravel() for grid in np.mgrid[:ASKED, :ASKED])
    upright = np.stack([i, j], axis=1)[i + j < ASKED] + 1 / 3
    turned = np.stack([i, j], axis=1)[i + j < ASKED - 1] + 2 / 3
    away, along = (np.concatenate([upright, turned]) / ASKED).T
    # barycentric coordinates (1 - a - b, a, b) of the triangles (0,0) (1,0) (1,1) and (0,0) (0,1) (1,1)
    first = np.stack([away + along, along], axis=1)
    points = np.stack([first, first[:, ::-1]])
    return points, np.stack([triangle_shapes(points[t], t) for t in (0, 1)])
