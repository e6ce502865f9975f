"""A comparison made up by hand, for everything that shows one: no solving."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.examples import example_path, table_path
from fieldrun.design.readings import read_readings, read_scan
from fieldrun.generator.machine import read_design
from fieldrun.generator.result import RunResult
from fieldrun.outputs.run_folder import write_run
from fieldrun.studies.compare import WindingComparison, compare_designs, compare_windings
from fieldrun.studies.measured.study import Measured, measured
from fieldrun.studies.sweep.axes import read_axes
from fieldrun.studies.sweep.plan import Plan, grid, sample
from fieldrun.studies.sweep.record import Row, Sweep
from fieldrun.studies.verify import Absence, Answer, Comparison

NAMES = {
    "hand": "hand calculation",
    "layered": "layered Fourier",
    "sections": "flat sections",
    "k1": "sections + K1",
    "rings": "rings",
    "solid": "solid",
}

OFFS = {"hand": 41.4, "layered": 9.5, "sections": 9.7, "k1": -0.04, "rings": 0.3, "solid": 0.0}
"""EMF above the solid one [%]."""


@pytest.fixture
def compared() -> Callable[..., Comparison]:
    """Make a comparison; `offs` [%] above 0.005 V s/rad by way, a text in place of a number is a way's absence."""

    def made(offs: dict[str, float | str] = OFFS, design: str = "hut-charger", emf: float = 0.005) -> Comparison:
        radii = np.linspace(0.05, 0.08, 61)
        bell = 0.72 * np.exp(-(((radii - 0.066) / 0.008) ** 2))

        def row(key: str, off: float | str) -> Answer | Absence:
            if isinstance(off, str):
                return Absence(key, NAMES[key], off)
            share = 1 + off / 100
            return Answer(key, NAMES[key], f"Leaves {key} out.", 0.72 * share, emf * share, 0.25, radii, bell * share)

        return Comparison(
            design=read_design(example_path(design)),
            design_hash="8f3a",
            rows=tuple(row(key, off) for key, off in offs.items()),
            mean_radius_m=0.066,
            height_m=0.004,
            winding_radii_m=(0.053, 0.079),
            magnet_radii_m=(0.056, 0.076),
            rounds_per_phase=44,
        )

    return made


@pytest.fixture(scope="session")
def shapes() -> WindingComparison:
    """Every shape in the plank ring's space."""
    return compare_windings(read_design(example_path("plank-ring")))


@pytest.fixture(scope="session")
def beside() -> WindingComparison:
    """Two designs as they stand."""
    return compare_designs(tuple(read_design(example_path(name)) for name in ("plank-ring", "quiet-halbach")))


@pytest.fixture(scope="session")
def plank_folder(bundled: Callable[[str], RunResult], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All that a run of the plank ring leaves behind, written once: its pictures take their time."""
    folder = tmp_path_factory.mktemp("run") / "plank-ring"
    write_run(bundled("plank-ring"), folder)
    return folder


@pytest.fixture(scope="session")
def benched(bundled: Callable[[str], RunResult]) -> Measured:
    """The bundled bench readings and scan, studied."""
    readings, scan = (table_path(Path(f"hut-charger-{name}.csv")) for name in ("readings", "scan"))
    return measured(bundled("hut-charger"), read_readings(readings), read_scan(scan))


SWEEP_PICKS = ("field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm")
FACTORS = {"none": 0.8, "mild steel": 1.0, "ideal": 1.04, "serpentine": 0.9, "zigzag": 1.0, "diamond": 1.05}


def invented(values: dict[str, float | str], index: int, failed: frozenset[int]) -> tuple[str, tuple[float, ...], str]:
    """Answer of a machine that follows no law but a simple one: field, EMF, resistance; too narrow a gap is refused."""
    if index in failed:
        return "failed", (), "the steel's flux did not settle"
    asked, height = values.get("rotor.gap_mm", 8), float(values.get("magnets.thickness_mm", 6))
    gap = 8.0 if asked == "stack" else float(asked)
    wire, layers = float(values.get("wire.copper_mm", 0.63)), float(values.get("winding.layers", 4))
    if gap < 2 * layers * (wire + 0.05) + 2:
        return "infeasible", (), "rotor.gap_mm: too small"
    field = 0.9 * height / (height + gap / 2)
    for value in values.values():
        field *= FACTORS.get(str(value), 1.0)
    return "ok", (field, 9 * field * layers / wire, 0.5 * layers / wire**3), ""


@pytest.fixture
def invented_sweep() -> Callable[..., Sweep]:
    """Make a sweep of the hut charger over KEY=VALUES from a formula: no solving."""

    def made(*ranges, count=None, failed=(), rows=None):
        axes = read_axes(ranges, sampled=count is not None)
        plan = grid(axes) if count is None else sample(axes, count)
        if rows is not None:
            plan = Plan("table", rows[0], len(rows) - 1, rows=tuple(rows[1:]))
        points = []
        for index in range(plan.count):
            given = {k: v for k, v in zip(plan.keys, plan.values(index), strict=True) if v is not None}
            status, picked, reason = invented(given, index, frozenset(failed))
            points.append(Row(index, plan.values(index), picked or (None,) * 3, status, reason))
        facts = {"mesh": "rings, 7 unknowns", "error_estimate": "0.2 percent"}
        design = read_design(example_path("hut-charger"))
        return Sweep(design, "8f3a", plan, SWEEP_PICKS, tuple(points), {}, facts)

    return made
