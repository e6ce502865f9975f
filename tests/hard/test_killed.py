"""Whatever ends a command, and whenever: what lies in its folder is whole, the earlier result or the new one.

By default each of the quick commands is killed once and interrupted once; FIELDRUN_KILLS=10 does all ten times.
Sweeps, which go on where they were ended, have tests of their own (`tests/test_cli_sweep.py`).
"""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fieldrun.design.examples import example_path
from fieldrun.field.gmsh_mesh import gmsh_state

TIMES = int(os.environ.get("FIELDRUN_KILLS", "1"))
"""How often each command is killed, and interrupted."""

READINGS = str(example_path("hut-charger").with_name("hut-charger-readings.csv"))

QUICK = [
    ["run", "plank-ring", "-o", "out", "--no-pictures"],
    ["verify", "plank-ring", "-o", "out", "--no-pictures"],
    ["compare", "plank-ring", "-o", "out", "--no-pictures"],
    ["field", "plank-ring", "-o", "out", "--no-pictures"],
    ["measured", "hut-charger", READINGS, "-o", "out", "--no-pictures"],
]

LONG = [
    ["former", "plank-ring", "-o", "out"],
    ["report", "plank-ring", "-o", "out", "--no-pictures"],
    ["estimates", "plank-ring", "-o", "out", "--no-pictures"],
]
"""Seconds each, and they write their folder by the same function."""

COMMANDS = QUICK if TIMES == 1 else [*QUICK, *LONG]

DONE = {0, 0 if gmsh_state()[0] else 4}
"""How commands end by themselves: `former` by 4 where gmsh cannot be loaded, all being written but the solids."""

pytestmark = pytest.mark.slow


def ended(command, folder):
    """What became of a command that was ended so many times by each signal, each in its own moment."""
    script = str(Path(__file__).with_name("kills.py"))
    words = [sys.executable, script, f"KILL:{TIMES},INT:{TIMES}", *command]
    path = {"PYTHONPATH": str(Path(__file__).parents[2]), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, env=os.environ | path, check=False)
    assert done.returncode == 0, done.stderr
    found = [json.loads(line) for line in done.stdout.splitlines()]
    return [[one for one in found if one["sign"] == sign] for sign in ("SIGKILL", "SIGINT")]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: words[0])
def test_ended_at_any_moment_nothing_half_written_is_a_result(command, tmp_path):
    killed, interrupted = ended(command, tmp_path)
    for one in killed + interrupted:
        assert one["out"] is not False
        assert one["out"] or not one["earlier"] or one["kept"]
        assert "Traceback" not in one["said"]
    check_killed(killed)
    check_interrupted(interrupted)


def check_killed(found):
    """What it left in the way is gone before the next command looks, and an earlier result stands again."""
    assert sum(one["code"] == -9 for one in found) == TIMES
    assert {one["code"] for one in found} <= {-9, *DONE}
    for one in found:
        assert one["code"] == -9 or (one["out"] and not one["hidden"])
        assert one["tidied"]["hidden"] == 0
        assert one["tidied"]["out"] is not False
        assert one["tidied"]["out"] or not one["earlier"]


def check_interrupted(found):
    """It says so and cleans up, in its first moment too."""
    assert sum(one["code"] == 130 for one in found) == TIMES
    assert {one["code"] for one in found} <= {130, *DONE}
    for one in found:
        assert one["hidden"] == 0
        assert one["code"] in DONE or one["said"].endswith("fieldrun: interrupted; nothing half-written was left\n")
