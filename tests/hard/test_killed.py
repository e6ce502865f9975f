"""Whatever ends a command, and whenever: what lies in its folder is whole, the earlier result or the new one."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fieldrun.field.gmsh_mesh import gmsh_state

COMMANDS = [
    ["run", "plank-ring", "-o", "out", "--no-pictures"],
    ["report", "plank-ring", "-o", "out", "--no-pictures"],
    ["former", "plank-ring", "-o", "out"],
]

pytestmark = pytest.mark.slow

LEFT_OUT = 0 if gmsh_state()[0] else 4
"""How `former` ends where gmsh cannot be loaded: all is written but the solids."""


def ended(command, sign, times, folder):
    """What became of a command that was ended so many times, each in its own moment."""
    script = str(Path(__file__).with_name("kills.py"))
    words = [sys.executable, script, sign, str(times), *command]
    one_thread = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, env=one_thread, check=False)
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def check_folder(found):
    """A result is there or not, never a part of one; an earlier one is not lost."""
    assert found["out"] is not False
    assert found["out"] or not found["earlier"] or found["kept"]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: words[0])
def test_killed_at_any_moment_nothing_half_written_is_a_result(command, tmp_path):
    found = ended(command, "KILL", 10, tmp_path)
    assert sum(one["code"] == -9 for one in found) == 10
    assert {one["code"] for one in found} <= {-9, 0, LEFT_OUT}
    for one in found:
        check_folder(one)
        assert one["code"] != 0 or (one["out"] and not one["hidden"])


@pytest.mark.parametrize("command", COMMANDS, ids=lambda words: words[0])
def test_interrupted_at_any_moment_it_says_so_and_cleans_up(command, tmp_path):
    found = ended(command, "INT", 6, tmp_path)
    begun = [one for one in found if one["said"] != "\nAborted!\n"]  # click's own word, before a command has begun
    assert [one for one in begun if one["code"] not in {0, 130, LEFT_OUT}] == []
    assert sum(one["code"] == 130 for one in begun) > 3
    for one in found:
        check_folder(one)
        assert one["hidden"] == 0
        assert "Traceback" not in one["said"]
    for one in begun:
        assert one["code"] in {0, LEFT_OUT} or one["said"].endswith(
            "fieldrun: interrupted; nothing half-written was left\n"
        )
