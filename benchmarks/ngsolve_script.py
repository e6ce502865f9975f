"""One point of the sweep with NGSolve, a general-purpose finite-element library, where it is installed.

Half a pole, meshed anew for each point, fourth-order triangles, harmonics from the potential along mid-gap.
`pip install ngsolve` in an environment of its own; this project does not depend on it.
"""

import os

import numpy as np

os.environ.setdefault("NGS_NUM_THREADS", "1")  # read when the library is loaded; more make it fifty times slower here

import ngsolve as ng
from netgen.geom2d import SplineGeometry
from section_case import AIR, IRON, IRON_PERMEABILITY, ORDERS, PITCH, RECOIL, REMANENCE, SHARE, Lengths

from fieldrun.design.arrays import Floats
from fieldrun.design.units import MU0

ORDER, SIZE = 4, 0.008
"""Degree of the elements, and length of an element's side [m]."""


def _geometry(lengths: Lengths) -> SplineGeometry:
    h, half_gap, width, magnet = lengths.thickness, lengths.half_gap, PITCH / 2, SHARE * PITCH / 2
    geometry = SplineGeometry()
    heights = (-h - IRON - AIR, -h - IRON, -h, 0.0, half_gap)
    left, right = ([geometry.AppendPoint(x, z) for z in heights] for x in (0.0, width))
    low, high = geometry.AppendPoint(magnet, -h), geometry.AppendPoint(magnet, 0.0)
    # (from, to, region on the left, region on the right, name); regions: 1 air behind, 2 iron, 3 magnet, 4 air, 5 gap
    sides = [
        (left[0], right[0], 1, 0, "zero"),
        (left[1], right[1], 2, 1, "inside"),
        (left[2], low, 3, 2, "inside"),
        (low, right[2], 4, 2, "inside"),
        (left[3], high, 5, 3, "inside"),
        (high, right[3], 5, 4, "inside"),
        (right[4], left[4], 5, 0, "top"),
        (low, high, 3, 4, "inside"),
    ]
    sides += [(left[i + 1], left[i], region, 0, "zero") for i, region in enumerate((1, 2, 3, 5))]
    sides += [(right[i], right[i + 1], region, 0, "edge") for i, region in enumerate((1, 2, 4, 5))]
    for start, end, leftward, rightward, name in sides:
        geometry.Append(["line", start, end], leftdomain=leftward, rightdomain=rightward, bc=name)
    for number, name in enumerate(("behind", "iron", "magnet", "beside", "gap"), 1):
        geometry.SetMaterial(number, name)
    return geometry


def ngsolve_point(lengths: Lengths, size: float = SIZE, order: int = ORDER) -> tuple[Floats, int]:
    """B_z at mid-gap (n,) of `ORDERS` [T], and the unknowns."""
    mesh = ng.Mesh(_geometry(lengths).GenerateMesh(maxh=size))
    space = ng.H1(mesh, order=order, dirichlet="zero")
    nu = mesh.MaterialCF({"iron": 1 / (MU0 * IRON_PERMEABILITY), "magnet": 1 / (MU0 * RECOIL)}, default=1 / MU0)
    u, v = space.TnT()
    matrix = ng.BilinearForm(nu * ng.grad(u) * ng.grad(v) * ng.dx, symmetric=True).Assemble()
    load = ng.LinearForm(REMANENCE / (MU0 * RECOIL) * ng.grad(v)[0] * ng.dx("magnet")).Assemble()
    potential = ng.GridFunction(space)
    potential.vec.data = matrix.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * load.vec
    k = ORDERS * np.pi / PITCH
    waves = ng.CF(tuple(ng.sin(float(one) * ng.x) for one in k))
    found = ng.Integrate(potential * waves, mesh, ng.BND, definedon=mesh.Boundaries("top"), order=12)
    return k * 4 / PITCH * np.array(list(found)), int(sum(space.FreeDofs()))
