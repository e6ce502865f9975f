"""Benchmarks run to their ends at the smallest size; how fast they are is no matter for tests."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fieldrun.field.gmsh_mesh import gmsh_state

BENCHMARKS = Path(__file__).parents[1] / "benchmarks"

COMMANDS = {
    "sweep": (["sweep.py", "small"], ["linear point", "naive / usual point", "another load", "two processes"]),
    "rings": (["rings.py", "small", "1"], ["growth: whole"]),
    "ring_sweep": (["ring_sweep.py", "small"], ["ideal backing", "3 mm steel / ideal backing"]),
    "run_example": (["run_example.py", "plank-ring", "1"], ["run with pictures"]),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", COMMANDS)
def test_benchmark_runs(name: str) -> None:
    command, promised = COMMANDS[name]
    if name == "sweep" and not gmsh_state()[0]:
        if os.environ.get("FIELDRUN_REQUIRE_GMSH") == "1":
            pytest.fail(f"FIELDRUN_REQUIRE_GMSH=1, but {gmsh_state()[1]}")
        pytest.skip(gmsh_state()[1])
    script, *arguments = command
    done = subprocess.run(
        [sys.executable, str(BENCHMARKS / script), *arguments], capture_output=True, text=True, timeout=900, check=False
    )
    assert done.returncode == 0, done.stderr
    for line in promised:
        assert line in done.stdout
    assert "nan" not in done.stdout
