"""What sweeps of sections cost, beside bare solvers, plain scripts and other libraries: one table, one run, one thread.

    python benchmarks/sweep.py [small | medium | large]

Ratios of processor time, medians of jobs taken in turn; trust these, not the milliseconds. The case stands in
section_case.py, the yardsticks in naive_script.py, careful_script.py and ngsolve_script.py (left out where NGSolve is
not installed). "usual" and "coarse" points are meshed right across the gap, at the package's density and at one that is
still as accurate as the naive script; "swept" ones share a condensed magnets' side along the gap axis.
"""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.linalg.lapack
import scipy.sparse
import scipy.sparse.linalg
from naive_script import ANGLES, winding_places
from section_case import HALF_GAP, ORDERS, PITCH, Lengths, errors, on_iron, on_steel, sweep, truth
from side_by_side import costs_of, exponent

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.field.banded import one_thread
from fieldrun.field.gap import ideal_upper, potential_amplitudes
from fieldrun.field.magnetostatics import section_problem
from fieldrun.field.mesh import MeshDensity, structured_grid
from fieldrun.field.section import Section
from fieldrun.field.section_newton import linear_system
from fieldrun.field.section_sweep import section_fields, swept_gap_amplitudes

DENSITIES = (MeshDensity(4, 4, 4, 3, 2), MeshDensity(), MeshDensity().refined())


@dataclass(frozen=True)
class Size:
    """How long a benchmark takes: repeats, gaps and thicknesses of the sweep, points for slow jobs."""

    repeats: int
    gaps: int
    thicknesses: int
    slow: int


SIZES = {"small": Size(1, 3, 2, 1), "medium": Size(9, 10, 4, 3), "large": Size(15, 10, 20, 5)}


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    what: str
    value: str
    goal: str = ""


def middle(pairs: list[tuple[Complexes, Complexes]]) -> Floats:
    """B_z at mid-gap of each point, (points, n) [T]."""
    return np.array([axial[:, 0].real for _, axial in pairs])


def direct(points: list[Lengths], sections: list[Section], density: MeshDensity) -> Floats:
    """Every point meshed right across the gap, read from the potential on the magnets' face and continued upwards."""
    face = np.array([potential_amplitudes(one, 0.0, ORDERS) for one in section_fields(sections, density)])
    middles = ideal_upper(sections[0], face, ORDERS, np.array([at.half_gap for at in points]))
    return -np.pi / PITCH * ORDERS * middles.imag


def swept(points: list[Lengths], sections: list[Section], density: MeshDensity) -> Floats:
    """Every magnets' side condensed once for all its gaps."""
    return middle(list(swept_gap_amplitudes(sections, [[at.half_gap] for at in points], ORDERS, density)))


def transfer_of_winding() -> Complexes:
    """What the naive script's winding makes of each harmonic, (n,) [m]: made once for each winding."""
    place, share = winding_places()
    return np.exp(1j * np.outer(ORDERS, np.pi * place / PITCH)) @ share


def emf_of(fields: Floats, transfer: Complexes) -> Floats:
    """EMF per speed of a winding at 64 positions, for all points, (points, 64) [V s / m]."""
    spectrum = np.zeros((len(fields), ANGLES // 2 + 1), complex)
    spectrum[:, ORDERS] = -ANGLES / 2 * np.conj(fields * transfer)
    return np.fft.irfft(spectrum, ANGLES, axis=1)


Matrices = list[tuple[Floats, Floats]]


def matrices_of(sections: list[Section], density: MeshDensity) -> Matrices:
    return [linear_system(section_problem(one, structured_grid(one, density))) for one in sections]


def sparse(band: Floats) -> scipy.sparse.csc_array:
    """The symmetric matrix of an upper band, its zeros left out."""
    count = band.shape[1]
    upper = scipy.sparse.dia_array((band, np.arange(len(band) - 1, -1, -1)), shape=(count, count)).tocsc()
    upper.eliminate_zeros()
    return scipy.sparse.csc_array(upper + scipy.sparse.triu(upper, 1).T)


def bare_banded(systems: Matrices) -> list[Floats]:
    """LAPACK's pbsv alone: one banded Cholesky factor and one solution each."""
    return [scipy.linalg.lapack.dpbsv(band, load)[1] for band, load in systems]


def bare_splu(systems: list[tuple[scipy.sparse.csc_array, Floats]]) -> list[Floats]:
    """SuperLU alone, with what suits a symmetric positive matrix."""
    options = {"SymmetricMode": True}
    return [
        scipy.sparse.linalg.splu(one, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options).solve(load)
        for one, load in systems
    ]


def against_bare_solvers(size: Size) -> Iterator[Row]:
    """The engine, linear and saturating, against factorising the same matrices, at three sizes."""
    points = sweep(size.gaps, 2)
    linear, steel = [on_iron(one) for one in points], [on_steel(one) for one in points]
    unknowns, costs = [], []
    for density in DENSITIES:
        systems = matrices_of(linear, density)
        others = [(sparse(band), load) for band, load in systems]
        for one, other in zip(bare_banded(systems), bare_splu(others), strict=True):
            assert np.abs(one - other).max() < 1e-8 * np.abs(one).max()
        found, condensed = direct(points, linear, density), swept(points, linear, density)
        worst = [
            np.max([errors(*pair) for pair in zip(way, map(truth, points), strict=True)], axis=0)
            for way in (found, condensed)
        ]
        costs.append(
            costs_of(
                {
                    "engine": lambda d=density: direct(points, linear, d),
                    "banded": lambda s=systems: bare_banded(s),
                    "splu": lambda s=others: bare_splu(s),
                    "condensed": lambda d=density: swept(points, linear, d),
                    "warm": lambda d=density: direct(points, steel, d),
                    "cold": lambda d=density: [direct([at], [one], d) for at, one in zip(points, steel, strict=True)],
                },
                size.repeats,
            )
        )
        unknowns.append(systems[0][0].shape[1])
        now, n = costs[-1], f"{unknowns[-1]} unknowns"
        yield Row(f"linear point, {n}", f"{1e3 * now['engine'] / len(points):.3f} ms")
        yield Row(f"  / bare LAPACK banded, {n}", f"{now['engine'] / now['banded']:.2f}", "<= 2")
        yield Row(f"  / bare splu, {n}", f"{now['engine'] / now['splu']:.2f}", "<= 0.4")
        yield Row(f"  gap axis condensed / bare banded, {n}", f"{now['condensed'] / now['banded']:.2f}")
        yield Row(f"  saturating, warm / linear, {n}", f"{now['warm'] / now['engine']:.1f}", "<= 6")
        yield Row(f"  saturating, cold / linear, {n}", f"{now['cold'] / now['engine']:.1f}", "<= 14")
        for name, error in zip(("meshed gap", "condensed"), worst, strict=True):
            yield Row(f"  worst error of B1, waveform, {name}", f"{error[0]:.1e}, {error[1]:.1e}", "1e-4, 3e-4")
    for way in ("engine", "condensed", "banded", "splu", "warm"):
        grown = exponent(unknowns, [one[way] for one in costs])
        yield Row(f"exponent in unknowns, {way}", f"{grown:.2f}", "<= 1.7" if way == "engine" else "")


def growth_in_points(size: Size) -> Iterator[Row]:
    """Cost of 1, 4 and 16 times as many points, and of one more gap over a condensed side."""
    counts = [size.gaps, 4 * size.gaps, 16 * size.gaps]
    many = [sweep(count // 2, 2) for count in counts]
    sections = [[on_iron(one) for one in points] for points in many]
    density = MeshDensity()
    jobs = {str(n): lambda p=p, s=s: direct(p, s, density) for n, p, s in zip(counts, many, sections, strict=True)}
    costs = costs_of(jobs, size.repeats)
    yield Row("exponent in points", f"{exponent(counts, [costs[str(n)] for n in counts]):.3f}", "1.00 +- .05")
    gaps = [2, 102]
    lines = [[Lengths(float(gap)) for gap in np.linspace(0.003, 0.013, n)] for n in gaps]
    columns = [[on_iron(one) for one in line] for line in lines]
    jobs = {str(n): lambda p=p, s=s: swept(p, s, density) for n, p, s in zip(gaps, lines, columns, strict=True)}
    jobs["one"] = lambda: direct(lines[0], columns[0], density)
    costs = costs_of(jobs, size.repeats)
    more = (costs["102"] - costs["2"]) / 100
    yield Row("one more gap / a point", f"1/{costs['one'] / 2 / more:.0f}", "<= 1/20")


def against_scripts(size: Size) -> Iterator[Row]:
    """Sweeps against scripts that mesh each point anew."""
    from careful_script import careful_point
    from naive_script import naive_point, start_gmsh

    start_gmsh()
    points = sweep(size.gaps, size.thicknesses)
    sections = [on_iron(one) for one in points]
    few = [Lengths(), *points[:: max(1, len(points) // size.slow)]][: size.slow]
    coarse = DENSITIES[0]
    jobs = {
        "usual": lambda: direct(points, sections, MeshDensity()),
        "coarse": lambda: direct(points, sections, coarse),
        "swept": lambda: swept(points, sections, MeshDensity()),
    }
    costs = costs_of(jobs, size.repeats)
    each = {name: cost / len(points) for name, cost in costs.items()}
    fields = swept(points, sections, MeshDensity())
    transfer = transfer_of_winding()
    both = costs_of({"emf": lambda: emf_of(fields, transfer), "winding": transfer_of_winding}, 5 * size.repeats)
    emf = both["emf"] / len(points)
    scripts = {
        "naive": lambda: [naive_point(one, with_emf=False) for one in few],
        "naive emf": lambda: [naive_point(one, with_emf=True) for one in few],
        "careful": lambda: [careful_point(one) for one in few],
    }
    scripts |= {"NGSolve": lambda: [ngsolve(one) for one in few]} if (ngsolve := _ngsolve()) else {}
    slow = {name: cost / len(few) for name, cost in costs_of(scripts, max(1, size.repeats // 3)).items()}
    yield from _script_errors(points, few)
    goals = {
        "naive": (">= 300", 0.0),
        "naive emf": (">= 2000", emf),
        "careful": (">= 40", 0.0),
        "NGSolve": (">= 10", 0.0),
    }
    for name, (goal, more) in goals.items():
        if name not in slow:
            yield Row(f"{name} script / engine", "not installed: pip install ngsolve", goal)
            continue
        for way in ("usual", "coarse", "swept"):
            asked = "" if way == "usual" else goal  # ten times more accurate than any script here
            yield Row(f"{name} / {way} point", f"{slow[name] / (each[way] + more):.0f}", asked)
        yield Row(f"  {name} script, one point", f"{1e3 * slow[name]:.1f} ms")
    yield Row("EMF at 64 positions / field, meshed gap", f"{100 * emf / each['usual']:.2f} %", "<= 1 %")
    yield Row("EMF at 64 positions / field, gap axis condensed", f"{100 * emf / each['swept']:.2f} %", "<= 1 %")
    yield Row("  transfer of the winding, once", f"{1e3 * both['winding']:.2f} ms")


def _ngsolve():
    try:
        from ngsolve_script import ngsolve_point
    except ImportError:
        return None
    return ngsolve_point


def _script_errors(points: list[Lengths], few: list[Lengths]) -> Iterator[Row]:
    """Worst errors of every way, and that naive and engine mean the same EMF."""
    from careful_script import careful_point
    from naive_script import naive_point

    ways = {
        "coarse": (points, lambda: direct(points, [on_iron(one) for one in points], DENSITIES[0])),
        "usual": (points, lambda: direct(points, [on_iron(one) for one in points], MeshDensity())),
        "swept": (points, lambda: swept(points, [on_iron(one) for one in points], MeshDensity())),
        "naive": (few, lambda: [naive_point(one, with_emf=False)[0] for one in few]),
        "careful": (few, lambda: [careful_point(one)[0] for one in few]),
    }
    if ngsolve := _ngsolve():
        ways["NGSolve"] = (few, lambda: [ngsolve(one)[0] for one in few])
    for name, (where, way) in ways.items():
        worst = np.max([errors(found, truth(one)) for found, one in zip(way(), where, strict=True)], axis=0)
        yield Row(f"worst error of B1, waveform: {name}", f"{worst[0]:.1e}, {worst[1]:.1e}", "1e-4, 3e-4")
    probed = naive_point(Lengths(), with_emf=True)[1]
    ours = emf_of(swept([Lengths()], [on_iron(Lengths())], MeshDensity()), transfer_of_winding())[0]
    assert np.abs(probed - ours).max() < 3e-3 * np.abs(ours).max()


def without_the_field(size: Size) -> Iterator[Row]:
    """Another winding or load on the same magnets, as `run` works them out, against the field they share."""
    from fieldrun.design.examples import example_path
    from fieldrun.field.solve import rotor_field, slices_of
    from fieldrun.generator.chain import Chain
    from fieldrun.generator.machine import read_design

    path = example_path("hut-charger")
    design = read_design(path)
    shape = {"winding.shape": "serpentine", "winding.layers": 2}
    other = read_design(path, changes=shape)
    field = rotor_field(design.magnets, design.rotor)
    chain = Chain(design, field)
    _ = chain.delivery

    def another_winding() -> object:
        return Chain(other, field).emf

    def another_load() -> object:
        again = Chain(design, field)
        for link in ("emf", "impedance", "inductance", "losses"):
            again.__dict__[link] = getattr(chain, link)
        return again.delivery

    costs = costs_of(
        {
            "field": lambda: rotor_field(design.magnets, design.rotor),
            "slices": lambda: slices_of(design.magnets, design.rotor),
            "winding": another_winding,
            "load": another_load,
        },
        size.repeats,
    )
    yield Row("hut-charger: field by rings", f"{1e3 * costs['field']:.0f} ms")
    yield Row("hut-charger: map of flat slices", f"{1e3 * costs['slices']:.0f} ms")
    yield Row("another winding's EMF / field by rings", f"{costs['winding'] / costs['field']:.3f}")
    yield Row("another load / field by rings", f"{costs['load'] / costs['field']:.3f}")


def saturating_job(thickness: float) -> float:
    """A column of the saturating sweep, for another process."""
    points = [Lengths(float(gap), thickness) for gap in np.linspace(0.003, 0.013, 25)]
    with one_thread():
        return float(direct(points, [on_steel(one) for one in points], MeshDensity().refined()).sum())


def two_processes(size: Size) -> Iterator[Row]:
    """The same columns in one process and in two, spawned, their start and first imports left out; wall time."""
    import multiprocessing
    import time
    from concurrent.futures import ProcessPoolExecutor

    columns = np.linspace(0.005, 0.020, 2 * size.slow).tolist()
    pools = {n: ProcessPoolExecutor(n, multiprocessing.get_context("spawn")) for n in (1, 2)}
    taken: dict[int, list[float]] = {1: [], 2: []}
    for n, pool in pools.items():
        list(pool.map(saturating_job, [HALF_GAP] * 2 * n))
    for _ in range(max(1, size.repeats // 3)):
        for n, pool in pools.items():
            start = time.perf_counter()
            list(pool.map(saturating_job, columns))
            taken[n].append(time.perf_counter() - start)
    for pool in pools.values():
        pool.shutdown()
    one, two = (float(np.median(taken[n])) for n in (1, 2))
    busy = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    yield Row(
        "two processes: times faster than one", f"{one / two:.2f} (one {one:.1f} s wall, load average {busy:.1f})"
    )


def main(name: str) -> None:
    """Print the table."""
    size = SIZES[name]
    parts = (against_bare_solvers, growth_in_points, against_scripts, without_the_field, two_processes)
    print(f"{'sweep of sections, ' + name:58} {'measured':>24}   goal")
    with one_thread():
        for part in parts:
            for row in part(size):
                print(f"{row.what:58} {row.value:>24}   {row.goal}", flush=True)


if __name__ == "__main__":
    main((sys.argv[1:2] or ["medium"])[0])
