"""One point of the sweep as anyone would write it from the manuals of gmsh and scikit-fem: the frozen yardstick.

A whole pole with antiperiodic sides, linear triangles of 0.7 mm, meshed anew for each point; forms assembled each time,
scipy's spsolve, the gradient projected onto nodes and probed along mid-gap. With the EMF: a zigzag of 20 turns with 16
legs each, four points along each leg in this slice of radii, the field probed at all of them for 64 rotor positions.
"""

import gmsh
import numpy as np
import scipy.sparse
import skfem
from section_case import (
    AIR,
    IRON,
    IRON_PERMEABILITY,
    ORDERS,
    PITCH,
    RECOIL,
    REMANENCE,
    SHARE,
    Lengths,
)
from skfem.helpers import dot, grad

from fieldrun.design.arrays import Floats
from fieldrun.design.units import MU0

SIZE = 0.0007
"""Length of an element's side [m]."""

ANGLES = 64
LINE_POINTS = 256
TURNS, LEGS, POINTS, BELT, SLICE, LEAN = 20, 16, 4, 0.01, 0.004, 0.004
"""Turns side by side over a belt [m], legs of each, points on a leg in a slice of radii [m] in which it leans [m]."""


def start_gmsh() -> None:
    """Once per process, outside all timing."""
    if not gmsh.isInitialized():
        gmsh.initialize([], readConfigFiles=False, interruptible=False)
        gmsh.option.setNumber("General.Terminal", 0)


def gmsh_mesh(rectangles: list[tuple[float, float, float, float]], size: float, period: float | None) -> skfem.MeshTri:
    """Triangles that follow the sides of rectangles (x, z, width, height); the two sides alike if periodic."""
    gmsh.clear()
    gmsh.model.add("section")
    tags = [(2, gmsh.model.occ.addRectangle(x, z, 0, width, height)) for x, z, width, height in rectangles]
    gmsh.model.occ.fragment(tags[:1], tags[1:])
    gmsh.model.occ.synchronize()
    gmsh.option.setNumber("Mesh.MeshSizeMin", size)
    gmsh.option.setNumber("Mesh.MeshSizeMax", size)
    if period:
        move = [1, 0, 0, period, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]
        left, right = (_curves_at(x) for x in (-period / 2, period / 2))
        gmsh.model.mesh.setPeriodic(1, right, left, move)
    gmsh.model.mesh.generate(2)
    tags_of_nodes, places, _ = gmsh.model.mesh.getNodes()
    _, corners = gmsh.model.mesh.getElementsByType(2)
    number = np.empty(int(tags_of_nodes.max()) + 1, int)
    number[tags_of_nodes.astype(int)] = np.arange(len(tags_of_nodes))
    points, triangles = places.reshape(-1, 3)[:, :2], number[corners.astype(int).reshape(-1, 3)]
    used = np.unique(triangles)
    compact = np.empty(len(points), int)
    compact[used] = np.arange(len(used))
    return skfem.MeshTri(points[used].T.copy(), compact[triangles].T.copy())


def _curves_at(x: float) -> list[int]:
    slack, far = 1e-5, 1.0
    found = gmsh.model.getEntitiesInBoundingBox(x - slack, -far, -slack, x + slack, far, slack, 1)
    return sorted((tag for _, tag in found), key=lambda tag: gmsh.model.occ.getCenterOfMass(1, tag)[1])


def naive_point(lengths: Lengths, *, with_emf: bool, size: float = SIZE) -> tuple[Floats, Floats | None, int]:
    """B_z at mid-gap (n,) of `ORDERS` [T], the EMF at 64 positions or None, and the unknowns."""
    h, half_gap, magnet = lengths.thickness, lengths.half_gap, SHARE * PITCH
    left, bottom = -PITCH / 2, -h - IRON - AIR
    mesh = gmsh_mesh(
        [
            (left, bottom, PITCH, AIR + IRON + h + half_gap),
            (left, -h - IRON, PITCH, IRON),
            (-magnet / 2, -h, magnet, h),
            (left, 0.0, PITCH, half_gap),
        ],
        size,
        PITCH,
    )
    basis = skfem.Basis(mesh, skfem.ElementTriP1())
    flat = basis.with_element(skfem.ElementTriP0())
    x, z = mesh.p[:, mesh.t].mean(axis=1)
    in_iron, in_magnet = (z < -h) & (z > -h - IRON), (np.abs(x) < magnet / 2) & (z > -h) & (z < 0)
    nu = 1 / (MU0 * np.where(in_iron, IRON_PERMEABILITY, np.where(in_magnet, RECOIL, 1.0)))
    remanence = np.where(in_magnet, REMANENCE, 0.0)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        return w["nu"] * dot(grad(u), grad(v))

    @skfem.LinearForm
    def magnets(v, w):
        return w["nu"] * w["remanence"] * grad(v)[0]

    fields = {"nu": flat.interpolate(nu), "remanence": flat.interpolate(remanence)}
    matrix, load = stiffness.assemble(basis, **fields), magnets.assemble(basis, **fields)
    join = _antiperiodic(mesh, bottom)
    potential = join @ scipy.sparse.linalg.spsolve((join.T @ matrix @ join).tocsc(), join.T @ load)
    slope = basis.project(basis.interpolate(potential).grad[0])
    probe_x = (np.arange(LINE_POINTS) + 0.5) / LINE_POINTS * PITCH - PITCH / 2
    line = basis.probes(np.stack([probe_x, np.full(LINE_POINTS, half_gap - 1e-9)])) @ slope
    b_n = 2 / LINE_POINTS * np.cos(np.outer(ORDERS, np.pi * probe_x / PITCH)) @ line
    return b_n, _emf(basis, slope, half_gap) if with_emf else None, join.shape[1]


def _antiperiodic(mesh: skfem.MeshTri, bottom: float) -> scipy.sparse.csr_matrix:
    """Nodes by unknowns: the right side is minus the left one, the bottom is zero."""
    x, z = mesh.p
    left, right = (np.flatnonzero(np.abs(x - side * PITCH / 2) < 1e-9) for side in (-1, 1))
    left, right = left[np.argsort(z[left])], right[np.argsort(z[right])]
    master, sign = np.arange(len(x)), np.ones(len(x))
    master[right], sign[right] = left, -1.0
    free = np.ones(len(x), bool)
    free[right] = False
    free[np.abs(z - bottom) < 1e-9] = False
    number = np.cumsum(free) - 1
    kept = np.flatnonzero(free[master])
    entries = (sign[kept], (kept, number[master[kept]]))
    return scipy.sparse.csr_matrix(entries, shape=(len(x), int(free.sum())))


def winding_places() -> tuple[Floats, Floats]:
    """Where the winding's points lie along the motion [m], and how much radius each stands for, signed [m]."""
    turn = ((np.arange(TURNS) + 0.5) / TURNS - 0.5) * BELT
    leg, along = np.arange(LEGS), (np.arange(POINTS) + 0.5) / POINTS - 0.5
    out = (-1.0) ** leg  # one leg outwards, the next one inwards, leaning the other way
    place = turn[:, None, None] + (leg * PITCH)[:, None] + (out * LEAN)[:, None] * along
    return place.ravel(), np.broadcast_to((out * SLICE / POINTS)[:, None], place.shape).ravel()


def _emf(basis: skfem.CellBasis, slope: Floats, half_gap: float) -> Floats:
    """EMF per speed of this slice [V s / m] by probing every point at every position."""
    place, share = winding_places()
    out = np.empty(ANGLES)
    for step in range(ANGLES):
        moved = place - 2 * PITCH * step / ANGLES
        pole = np.round(moved / PITCH)
        inside = np.clip(moved - pole * PITCH, -PITCH / 2 + 1e-9, PITCH / 2 - 1e-9)
        values = basis.probes(np.stack([inside, np.full_like(inside, half_gap - 1e-9)])) @ slope
        out[step] = -np.sum(values * np.cos(np.pi * pole) * share)
    return out
