"""One point of the sweep by someone who knows finite elements well, with gmsh and scikit-fem, frozen as a yardstick.

Half a pole by symmetry, second-order triangles of 3 mm, harmonics from the potential along mid-gap instead of probed
gradients; still meshed and assembled anew for each point.
"""

import numpy as np
import skfem
from naive_script import gmsh_mesh
from section_case import AIR, IRON, IRON_PERMEABILITY, ORDERS, PITCH, RECOIL, REMANENCE, SHARE, Lengths
from skfem.helpers import dot, grad

from fieldrun.design.arrays import Floats
from fieldrun.design.units import MU0

SIZE = 0.003
"""Length of an element's side [m]."""


def careful_point(lengths: Lengths, size: float = SIZE) -> tuple[Floats, int]:
    """B_z at mid-gap (n,) of `ORDERS` [T], and the unknowns."""
    h, half_gap, width, magnet = lengths.thickness, lengths.half_gap, PITCH / 2, SHARE * PITCH / 2
    bottom = -h - IRON - AIR
    mesh = gmsh_mesh(
        [
            (0.0, bottom, width, AIR + IRON + h + half_gap),
            (0.0, -h - IRON, width, IRON),
            (0.0, -h, magnet, h),
            (0.0, 0.0, width, half_gap),
        ],
        size,
        None,
    )
    basis = skfem.Basis(mesh, skfem.ElementTriP2())
    flat = basis.with_element(skfem.ElementTriP0())
    x, z = mesh.p[:, mesh.t].mean(axis=1)
    in_iron, in_magnet = (z < -h) & (z > -h - IRON), (x < magnet) & (z > -h) & (z < 0)
    nu = 1 / (MU0 * np.where(in_iron, IRON_PERMEABILITY, np.where(in_magnet, RECOIL, 1.0)))
    fields = {"nu": flat.interpolate(nu), "remanence": flat.interpolate(np.where(in_magnet, REMANENCE, 0.0))}
    matrix = skfem.BilinearForm(lambda u, v, w: w["nu"] * dot(grad(u), grad(v))).assemble(basis, **fields)
    load = skfem.LinearForm(lambda v, w: w["nu"] * w["remanence"] * grad(v)[0]).assemble(basis, **fields)
    held = basis.get_dofs(lambda p: (p[0] < 1e-9) | (p[1] < bottom + 1e-9))
    potential = skfem.solve(*skfem.condense(matrix, load, D=held))
    top = skfem.FacetBasis(
        mesh, basis.elem, facets=mesh.facets_satisfying(lambda p: p[1] > half_gap - 1e-9), intorder=20
    )
    traced, places, weights = top.interpolate(potential).value, top.global_coordinates().value[0], top.dx
    k = ORDERS * np.pi / PITCH
    waves = np.sin(np.multiply.outer(k, places)) * traced * weights
    return k * 4 / PITCH * waves.sum(axis=(1, 2)), int(len(potential) - len(held.flatten()))
