"""What sweeps of gap and magnet thickness cost by rings, beside the bare solver and beside machines one at a time.

    python benchmarks/ring_sweep.py [small | medium | large]

A point is the field, its map and the EMF of the winding; `bare` is LAPACK alone, one Cholesky factor and one solve of
each harmonic's band of the same machine (scipy's cholesky_banded and cho_solve_banded); `alone` is the point solved by
itself, `further gap` what one more gap adds to its family. One thread, one process, ways in turn; medians of processor
time, which a busy machine stretches: trust the ratios.
"""

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg
from side_by_side import costs_of, exponent

from fieldrun.design.arrays import Floats
from fieldrun.design.examples import example_path
from fieldrun.design.model import Design, Magnets, Rotor
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_field import orders_of
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_system import linear_band, ring_system
from fieldrun.field.solve import RotorField, rotor_fields
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.generator.machine import read_design
from fieldrun.winding.lay import Lay, lay

Machine = tuple[Magnets, Rotor]


@dataclass(frozen=True)
class Size:
    """How long it takes: repeats, and gaps and thicknesses of the three sweeps."""

    repeats: int
    sweeps: tuple[tuple[int, int], ...]


SIZES = {
    "small": Size(1, ((1, 1), (2, 1), (2, 2))),
    "medium": Size(3, ((5, 4), (10, 5), (20, 10))),
    "large": Size(3, ((10, 10), (20, 20), (20, 50))),
}

CASES: Mapping[str, dict[str, object]] = {
    "ideal backing": {"rotor.backing": "ideal"},
    "12 mm steel": {"rotor.backing_mm": 12},
    "3 mm steel": {"rotor.backing_mm": 3},
}
"""The hut charger: linear, with steel that does not saturate, and with steel that does."""

GAPS_M, THICKNESSES_M = (0.008, 0.016), (0.004, 0.012)


def machines_of(design: Design, gaps: int, thicknesses: int) -> list[Machine]:
    """Gaps innermost."""
    return [
        (replace(design.magnets, thickness_m=float(h)), replace(design.rotor, gap_m=float(gap)))
        for h in np.linspace(*THICKNESSES_M, thicknesses)
        for gap in np.linspace(*GAPS_M, gaps)
    ]


def answered(design: Design, laid: Lay, machines: Sequence[Machine]) -> list[Emf]:
    """The same copper in every machine, midway across its gap."""
    found = []
    for field, (_, rotor) in zip(rotor_fields(machines), machines, strict=True):
        assert isinstance(field, RotorField)
        lift = np.array([0, 0, (rotor.gap_m or 0.0) / 2 - design.winding.height_m])
        pieces = replace(laid.pieces, start=laid.pieces.start + lift, end=laid.pieces.end + lift)
        found.append(emf_per_speed(field.field_map, pieces, design.winding, design.wire))
    return found


def bare_of(machine: Machine) -> Callable[[], list[Floats]]:
    """LAPACK alone on a machine's bands, air and magnets of every harmonic."""
    magnets, rotor = machine
    system = ring_system(magnets, ring_mesh(magnets, rotor, RingDensity()), orders_of(magnets, rotor))
    loads = [system.sources[n][free].ravel() for n, free in enumerate(system.free)]
    bands = [linear_band(system, n) for n in range(len(system.waves))]

    def solve() -> list[Floats]:
        return [
            scipy.linalg.cho_solve_banded(
                (scipy.linalg.cholesky_banded(band, lower=True, check_finite=False), True), load, check_finite=False
            )
            for band, load in zip(bands, loads, strict=True)
        ]

    return solve


def report(name: str, design: Design, size: Size) -> float:
    """Print one case; processor time of a point of its largest sweep [s]."""
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    sweeps = [machines_of(design, *shape) for shape in size.sweeps]
    middle = sweeps[-1][len(sweeps[-1]) // 2]
    family = [machine for machine in sweeps[-1] if machine[0] == middle[0]]
    for emf, machine in zip(answered(design, laid, family), family, strict=True):
        alone = answered(design, laid, [machine])[0].amplitudes
        assert np.abs(emf.amplitudes - alone).max() < 1e-6 * np.abs(alone).max()
    jobs = {
        "bare": bare_of(middle),
        "alone": lambda: answered(design, laid, [middle]),
        "family": lambda: answered(design, laid, family),
        "field": lambda: list(rotor_fields(family)),
        **{f"{len(one)} points": lambda one=one: answered(design, laid, one) for one in sweeps},
    }
    costs = costs_of(jobs, size.repeats)
    points = [costs[f"{len(one)} points"] for one in sweeps]
    point = points[-1] / len(sweeps[-1])
    further = (costs["family"] - costs["alone"]) / max(len(family) - 1, 1)
    print(
        f"{name:14s} {1e3 * point:7.1f} {1e3 * costs['alone']:7.1f} {1e3 * costs['bare']:7.1f}"
        f" {point / costs['bare']:11.2f} {costs['alone'] / point:12.2f} {costs['alone'] / further:18.1f}"
        f" {(costs['family'] - costs['field']) / costs['field']:11.2f}"
        f" {exponent([len(one) for one in sweeps], points):8.2f}"
    )
    return point


def main(size: Size) -> None:
    """Print the table."""
    print("a point in ms    swept   alone    bare swept/bare  alone/swept  alone/further gap  EMF/field   growth")
    with one_thread():
        points = {
            name: report(name, read_design(example_path("hut-charger"), changes=changes), size)
            for name, changes in CASES.items()
        }
    linear = points["ideal backing"]
    for name, point in points.items():
        print(f"{name} / ideal backing: {point / linear:.1f}")


if __name__ == "__main__":
    main(SIZES[(sys.argv[1:2] or ["small"])[0]])
