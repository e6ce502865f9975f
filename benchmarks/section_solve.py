"""What one plain section costs, beside a plain scikit-fem script and the bare factorisation of the same matrix.

    OPENBLAS_NUM_THREADS=1 python benchmarks/section_solve.py

All in one process, each the best of several runs, in processor time: trust the ratios, not the milliseconds.
Goals of the project: mesh and solution of one section under 15 ms at an error of 1e-4 in the fundamental.
"""

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse.linalg
import skfem
from skfem.helpers import dot, grad

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.assembly import band_matrix, element_blocks, second_order_basis
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import SectionField, _tangent, section_problem, solve_section
from fieldrun.field.mesh import MeshDensity, structured_mesh
from fieldrun.field.section import Section, section_at
from fieldrun.reference.closed_forms import block_face, two_faces_on_iron

PITCH, THICKNESS, GAP, REMANENCE, SHARE = 0.030, 0.010, 0.012, 1.30, 2 / 3
RADIUS = PITCH * 8 / math.pi
MAGNETS = Magnets(Arc(RADIUS - 0.01, RADIUS + 0.01, SHARE), 16, THICKNESS, REMANENCE, 1.0, 7500.0)
IDEAL = Rotor(2, GAP, Plate(None), None, 0.0, 1.0)
STEEL = Rotor(2, GAP, Plate(steel_curve("mild steel"), 0.0045), None, 0.0, 1.0)
SIZES = (MeshDensity(3, 3, 3, 2, 2), MeshDensity(), MeshDensity().refined(), MeshDensity().refined().refined())
REPEATS = 15


@dataclass(frozen=True)
class Row:
    """Seconds of each way for one density, its unknowns and its error in the fundamental."""

    unknowns: int
    error: float
    whole: float
    plain: float
    bare: float
    sparse: float
    newton: float
    steps: int


def seconds(work: Callable[[], object]) -> float:
    """Processor time of the quickest of several runs."""
    best = math.inf
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def ours(section: Section, density: MeshDensity) -> SectionField:
    """Mesh and solve as `field.solve` does."""
    return solve_section(section, structured_mesh(section, density))


def plain_script(section: Section, density: MeshDensity) -> np.ndarray:
    """What anyone writes from scikit-fem's manual, on the same mesh."""
    mesh = structured_mesh(section, density)
    basis = skfem.CellBasis(mesh.mesh, skfem.ElementQuad2(), intorder=4)
    axial = np.array([*(region.remanence_t[1] for region in section.regions), 0.0])[mesh.region]
    flat = basis.with_element(skfem.ElementQuad0())
    stiffness = skfem.BilinearForm(lambda u, v, _: dot(grad(u), grad(v)) / MU0).assemble(basis)
    load = skfem.LinearForm(lambda v, w: w["axial"] * grad(v)[0] / MU0).assemble(basis, axial=flat.interpolate(axial))
    held = basis.get_dofs(lambda x: x[0] < 1e-12)
    return np.asarray(skfem.solve(*skfem.condense(stiffness, load, D=held)))


def measured(density: MeshDensity) -> Row:
    """Time every way at one density; the three solutions must agree."""
    section, real = (section_at(MAGNETS, rotor, RADIUS) for rotor in (IDEAL, STEEL))
    field, other = ours(section, density), plain_script(section, density)
    assert np.abs(field.potential - other).max() < 1e-9 * np.abs(other).max()
    problem = section_problem(section, field.mesh, second_order_basis(field.mesh.mesh))
    band = band_matrix(problem.rows, [element_blocks(problem.ops, _tangent(problem, field.potential))])
    load = np.ones(problem.rows.count)
    offsets = np.arange(problem.rows.bandwidth, -1, -1)
    upper = scipy.sparse.dia_matrix((band, offsets), shape=(len(load), len(load)))
    matrix = (upper + scipy.sparse.triu(upper, 1).T).tocsc()
    exact = float(two_faces_on_iron(block_face([1], PITCH, REMANENCE, SHARE, (THICKNESS, 1.0)), GAP, GAP / 2)[0])
    first = gap_amplitudes(field, [GAP / 2], np.array([1]))[1][0, 0].real
    return Row(
        unknowns=problem.rows.count,
        error=abs(first / exact - 1),
        whole=seconds(lambda: ours(section, density)),
        plain=seconds(lambda: plain_script(section, density)),
        bare=seconds(lambda: scipy.linalg.solveh_banded(band, load, check_finite=False)),
        sparse=seconds(lambda: scipy.sparse.linalg.spsolve(matrix, load)),
        newton=seconds(lambda: ours(real, density)),
        steps=ours(real, density).newton_steps,
    )


def exponent(rows: list[Row], cost: Callable[[Row], float]) -> float:
    """Growth between the two largest sizes: cost ~ unknowns ** exponent."""
    small, large = rows[-2], rows[-1]
    return math.log(cost(large) / cost(small)) / math.log(large.unknowns / small.unknowns)


def main() -> None:
    """Print one line for each density."""
    rows = [measured(density) for density in SIZES]
    print("unknowns  error B1  mesh+solve ms   / plain script   / bare band   spsolve/band   steel: x linear, steps")
    for row in rows:
        print(
            f"{row.unknowns:8d}  {row.error:8.1e}  {1e3 * row.whole:13.2f}   {row.whole / row.plain:14.2f}   "
            f"{row.whole / row.bare:11.1f}   {row.sparse / row.bare:12.1f}   "
            f"{row.newton / row.whole:15.1f}, {row.steps}"
        )
    growth = {name: exponent(rows, lambda row, name=name: getattr(row, name)) for name in ("whole", "plain", "bare")}
    print("growth with unknowns:", ", ".join(f"{name} {value:.2f}" for name, value in growth.items()))


if __name__ == "__main__":
    main()
