"""How long `fieldrun run` computes, step by step, after its imports: python benchmarks/run_example.py [EXAMPLE] [TIMES]

Prints the best of a few repetitions, in milliseconds and as a share of the whole. The goals of the project: 2 s without
pictures, 4 s with them, 15 ms for the mesh and solution of one section.
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import fieldrun.outputs.section_drawing
import fieldrun.outputs.section_picture
import fieldrun.outputs.waveform_picture
import fieldrun.outputs.winding_picture  # noqa: F401 - imports are not what is measured
from fieldrun.design.examples import example_path
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.solve import mean_section_field, rotor_field, section_field
from fieldrun.generator.accuracy import accuracy_of
from fieldrun.generator.emf import emf_per_speed
from fieldrun.generator.machine import read_design, run
from fieldrun.outputs.run_folder import write_run
from fieldrun.winding.lay import lay


def best_ms(job: Callable[[], object], times: int) -> tuple[float, float]:
    """Best and median time of a job [ms]."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        job()
        taken.append(1e3 * (time.perf_counter() - start))
    return min(taken), statistics.median(taken)


def steps(example: str, folder: Path) -> dict[str, Callable[[], object]]:
    """Every step of a run as a job of its own, on what the steps before it gave."""
    path = example_path(example)
    design = read_design(path)
    magnets, rotor, winding, wire = design.magnets, design.rotor, design.winding, design.wire
    field, laid = rotor_field(magnets, rotor), lay(winding, magnets.pole_pairs, wire)
    field_map = field.field_map
    result = run(design)
    return {
        "read and check": lambda: read_design(path),
        "one section": lambda: section_field(magnets, rotor, mean_radius_m(magnets)),
        "field by rings": lambda: rotor_field(magnets, rotor),
        "lay the winding": lambda: lay(winding, magnets.pole_pairs, wire),
        "EMF": lambda: emf_per_speed(field_map, laid, winding, wire),
        "section of the picture": lambda: mean_section_field(magnets, rotor, MeshDensity().refined()),
        "how sure": lambda: accuracy_of(magnets, rotor, field, laid, winding.phases),
        "the whole answer": lambda: run(design),
        "files": lambda: write_run(result, folder / "plain", pictures=False),
        "files and pictures": lambda: write_run(result, folder / "full"),
    }


def report(example: str, times: int) -> None:
    """Print the table of one example."""
    with tempfile.TemporaryDirectory() as folder:
        taken = {name: best_ms(job, times) for name, job in steps(example, Path(folder)).items()}
    asked = taken["read and check"][0] + taken["the whole answer"][0]
    without, whole = asked + taken["files"][0], asked + taken["files and pictures"][0]
    print(f"{example}, best and median of {times}")
    for name, (best, median) in taken.items():
        print(f"  {name:22} {best:8.1f} ms {median:8.1f} ms   {100 * best / whole:5.1f} % of a run with pictures")
    print(f"  run without pictures   {without:8.1f} ms   {without / whole:.2f} of one with pictures")
    print(f"  run with pictures      {whole:8.1f} ms   {whole / without:.2f} times one without")


if __name__ == "__main__":
    asked_example, asked_times = (*sys.argv[1:3], *["hut-charger", "5"][len(sys.argv[1:3]) :])
    report(asked_example, int(asked_times))
