"""What rings cost, beside the bare factorisation of the same matrices and beside the naive way.

    python benchmarks/rings.py [small | large] [REPEATS]

Every machine at three mesh sizes. `whole` is mesh, matrices, solution and field map. `bare` is LAPACK alone: one
Cholesky factor and one solve of each harmonic's band (scipy's cholesky_banded and cho_solve_banded); where harmonics
are coupled in steel the whole does that again for the coupled ones in every Newton step. `naive` is scipy's spsolve of
each harmonic's sparse matrix once. One thread, everything in one process, the ways taken in turn; medians, in processor
time: trust the ratios, not the milliseconds. Wall time stands beside it, because a busy machine stretches it.
"""

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse
import scipy.sparse.linalg
from side_by_side import Cost, Job, both_costs_of, exponent

from fieldrun.design.arrays import Floats
from fieldrun.design.examples import example_path
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_field import orders_of, ring_field
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_system import RingSystem, linear_band, ring_system
from fieldrun.generator.machine import read_design

STEP = 1.41
"""Between two sizes: twice the elements."""

LARGE = (RingDensity().coarser(STEP), RingDensity(), RingDensity().coarser(1 / STEP))

SIZES = {"small": tuple(one.coarser(2) for one in LARGE), "large": LARGE}
"""What commands solve on is the middle one of `large`; `small` only shows that everything works."""

IDEAL, STEEL = "hut-charger, ideal backing", "hut-charger, {} mm steel"

MACHINES: Mapping[str, tuple[str, dict[str, object]]] = {
    "plank-ring": ("plank-ring", {}),
    "quiet-halbach": ("quiet-halbach", {}),
    IDEAL: ("hut-charger", {"rotor.backing": "ideal"}),
    **{STEEL.format(mm): ("hut-charger", {"rotor.backing_mm": mm}) for mm in (4, 3, 2)},
}
"""Example and changes; the thinner the steel, the deeper it saturates."""


@dataclass(frozen=True)
class Row:
    """One machine at one size."""

    unknowns: int
    model: str
    newton_steps: int
    costs: Mapping[str, Cost]

    def processor(self, way: str) -> float:
        return self.costs[way].processor


def bare(bands: list[Floats], loads: list[Floats]) -> list[Floats]:
    """LAPACK alone."""
    return [
        scipy.linalg.cho_solve_banded(
            (scipy.linalg.cholesky_banded(band, lower=True, check_finite=False), True), load, check_finite=False
        )
        for band, load in zip(bands, loads, strict=True)
    ]


def naive(matrices: list[scipy.sparse.csc_array], loads: list[Floats]) -> list[Floats]:
    """One sparse solve for each harmonic, as the manual has it."""
    return [np.asarray(scipy.sparse.linalg.spsolve(matrix, load)) for matrix, load in zip(matrices, loads, strict=True)]


def sparse(band: Floats) -> scipy.sparse.csc_array:
    """The symmetric matrix of a lower band, its zeros left out."""
    count = band.shape[1]
    lower = scipy.sparse.dia_array((band, -np.arange(len(band))), shape=(count, count)).tocsc()
    lower.eliminate_zeros()
    return scipy.sparse.csc_array(lower + scipy.sparse.tril(lower, -1).T)


def loads_of(system: RingSystem) -> list[Floats]:
    return [system.sources[n][free].ravel() for n, free in enumerate(system.free)]


def measured(magnets: Magnets, rotor: Rotor, density: RingDensity, repeats: int) -> Row:
    """Time every way at one size; bare and naive must agree."""
    system = ring_system(magnets, ring_mesh(magnets, rotor, density), orders_of(magnets, rotor))
    bands, loads = [linear_band(system, n) for n in range(len(system.waves))], loads_of(system)
    matrices = [sparse(band) for band in bands]
    for one, other in zip(bare(bands, loads), naive(matrices, loads), strict=True):
        assert np.abs(one - other).max() < 1e-8 * np.abs(one).max()
    field = ring_field(magnets, rotor, density)
    jobs: dict[str, Job] = {
        "whole": lambda: ring_field(magnets, rotor, density),
        "bare": lambda: bare(bands, loads),
        "naive": lambda: naive(matrices, loads),
    }
    return Row(field.unknowns, field.model, field.newton_steps, both_costs_of(jobs, repeats))


def report(name: str, rows: list[Row]) -> None:
    """Print one machine's lines."""
    print(f"{name}: {rows[1].model}")
    for row in rows:
        whole, least, sparse_way = (row.processor(way) for way in ("whole", "bare", "naive"))
        print(
            f"  {row.unknowns:8d} {1e3 * whole:9.1f} {1e3 * row.costs['whole'].wall:9.1f} {whole / least:9.2f}"
            f" {sparse_way / least:9.2f} {sparse_way / whole:9.2f} {row.newton_steps:6d}"
        )
    sizes = [row.unknowns for row in rows]
    growth = {way: exponent(sizes, [row.processor(way) for row in rows]) for way in ("whole", "bare", "naive")}
    print("  growth: " + ", ".join(f"{way} {power:.2f}" for way, power in growth.items()))


def main(densities: Sequence[RingDensity], repeats: int) -> None:
    """Print the table."""
    print("  unknowns  whole ms   wall ms    / bare naive/bare naive/whole Newton")
    with one_thread():
        for name, (example, changes) in MACHINES.items():
            design = read_design(example_path(example), changes=changes)
            report(name, [measured(design.magnets, design.rotor, density, repeats) for density in densities])


if __name__ == "__main__":
    main(SIZES[(sys.argv[1:2] or ["large"])[0]], int((sys.argv[2:3] or ["7"])[0]))
