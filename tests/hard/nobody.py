"""Run commands as a user who may read a folder and write nothing in it: one process loads the libraries and forks.

`.venv/bin/python tests/hard/nobody.py '[["run", "plank-ring"], ["schema"]]'` in that folder prints, for each command,
a JSON object a line. Root becomes nobody in the children; another user stays who he is.
"""

import importlib
import json
import os
import pkgutil
import sys
import tempfile
from pathlib import Path

from click.testing import CliRunner
from kills import spoken

import fieldrun
from fieldrun.cli import main as command_line
from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design

NOBODY = 65534


def main(text: str) -> None:
    everything()
    with tempfile.TemporaryDirectory() as folder:
        said = Path(folder) / "said"
        for command in json.loads(text):
            child = os.fork()
            if child == 0:
                out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
                give_up_rights()
                spoken(command, out)
            _, status = os.waitpid(child, 0)
            told = {"code": os.waitstatus_to_exitcode(status), "said": said.read_text(encoding="utf-8")}
            print(json.dumps(told), flush=True)


def everything() -> None:
    """Load whatever commands load later: Python's own files may lie where nobody may read."""
    import multiprocessing.connection  # noqa: F401

    for module in pkgutil.walk_packages(fieldrun.__path__, "fieldrun."):
        importlib.import_module(module.name)
    read_design(example_path("hut-charger"))
    CliRunner().invoke(command_line, ["new"])


def give_up_rights() -> None:
    if os.geteuid() == 0:
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


if __name__ == "__main__":
    main(sys.argv[1])
