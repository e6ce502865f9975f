"""What the README promises: commands that exist, output that is printed, pictures and files that are there."""

import os
import re
import shlex
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import get_args

import click
import pytest
from click.testing import CliRunner

from fieldrun.cli import main
from fieldrun.design.model import LoadKind, MagnetShape, WindingShape

PROJECT = Path(__file__).parents[1]
README = (PROJECT / "README.md").read_text(encoding="utf-8")

FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
BLOCKS = [(match.group(1), match.group(2)) for match in FENCE.finditer(README)]
CONSOLES = [block for kind, block in BLOCKS if kind == "console"]


def words_of(line):
    """A command line without prompt and remarks, split at what joins commands."""
    return [part.split() for part in re.split(r"&&|\||;", " ".join(_shell_words(line)))]


def _shell_words(line):
    return shlex.split(line.removeprefix("$ "), comments=True)


def commands():
    """Every call of fieldrun in a fenced block: the words after the program's name."""
    lines = [line for kind, block in BLOCKS if kind in {"sh", "bash", "console"} for line in block.splitlines()]
    calls = [words for line in lines if "fieldrun" in line for words in words_of(_escaped(line))]
    return [words[1:] for words in calls if words and Path(words[0]).name == "fieldrun"]


def _escaped(line):
    """Lines of output may hold lone quotes; those are no commands."""
    return line if line.count("'") % 2 == 0 and line.count('"') % 2 == 0 else ""


def options_of(command):
    return {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}


def clean_machine():
    """The first fenced block after the mark, one command a line."""
    after = README.split("<!-- clean-machine -->")[1]
    return FENCE.search(after).group(2).strip().splitlines()


def test_the_clean_machine_commands_install_run_and_test():
    install, tests = clean_machine()
    assert install == (
        "python3 -m venv .venv && .venv/bin/pip install -e '.[test]' && .venv/bin/fieldrun run hut-charger"
    )
    assert tests == ".venv/bin/python -m pytest -q"


def test_commands_are_found_at_all():
    assert {words[0] for words in commands()} >= {"run", "new", "doctor", "schema"}


@pytest.mark.parametrize("words", commands(), ids=" ".join)
def test_every_command_exists_with_its_options(words):
    command = main.commands[words[0]]
    context = click.Context(command)
    known = options_of(command) | set(context.help_option_names) | {"-h"}
    for word in words[1:]:
        if word.startswith("-"):
            assert word.partition("=")[0] in known, f"fieldrun {words[0]} has no {word}"


QUICK = ("field", "former", "measured", "estimates")
"""Commands that are run as the README shows them, unless a console block does so already or they need your own file."""


@pytest.mark.slow
@pytest.mark.parametrize("words", [w for w in commands() if w[0] in QUICK and "my-charger.toml" not in w], ids=" ".join)
def test_what_is_shown_for_bundled_designs_runs(words, tmp_path, monkeypatch):
    """Options are not enough: two designs of other pole counts stood here. Without gmsh `former` ends with 4.

    The field's pictures are drawn by its own tests; here they would take most of the time.
    """
    monkeypatch.chdir(tmp_path)
    undrawn = ["--no-pictures"] if words[0] == "field" else []
    done = CliRunner().invoke(main, [*words, *undrawn, "-q", "-o", "out"])
    assert done.exit_code in {0, 4} if words[0] == "former" else done.exit_code == 0, done.output


def test_a_command_that_is_not_there_would_be_seen():
    assert words_of("$ .venv/bin/fieldrun fly x.toml --high  # a remark") == [
        [".venv/bin/fieldrun", "fly", "x.toml", "--high"]
    ]
    assert "fly" not in main.commands
    assert "--high" not in options_of(main.commands["run"])


def printed(block):
    """Commands of a console block with the lines below each."""
    lines = block.splitlines()
    starts = [i for i, line in enumerate(lines) if line.startswith("$ ")]
    assert starts
    assert starts[0] == 0
    return [(lines[a].removeprefix("$ "), lines[a + 1 : b]) for a, b in pairwise([*starts, len(lines)])]


def comparable(lines):
    """Without blank edges, and without the line that lists the files."""
    kept = [line.rstrip() for line in lines if not line.startswith("Written to ")]
    return "\n".join(kept).strip("\n").splitlines()


@pytest.mark.slow
@pytest.mark.parametrize("block", CONSOLES, ids=lambda block: block.splitlines()[0])
def test_the_output_shown_is_the_output_printed(block, tmp_path):
    """Warnings and notes go to the error stream; where the README shows them, they must be there."""
    for command, shown in printed(block):
        words = shlex.split(command)
        assert words[0] == "fieldrun", command
        environment = {name: value for name, value in os.environ.items() if name not in {"COLUMNS", "FORCE_COLOR"}}
        told = subprocess.run(
            [sys.executable, "-c", "from fieldrun.cli import main; main(prog_name='fieldrun')", *words[1:]],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=True,
        )
        beside = [line for line in shown if line.startswith(("warning: ", "note: "))]
        assert set(beside) <= set(told.stderr.splitlines())
        assert comparable(line for line in shown if line not in beside) == comparable(told.stdout.splitlines())


def test_the_main_job_is_among_the_outputs_shown():
    assert any(block.startswith("$ fieldrun run hut-charger\n") for block in CONSOLES)


def test_every_shape_is_named():
    named = [f"`{shape}`" for shape in get_args(WindingShape)] + [f"{shape}s" for shape in get_args(MagnetShape)]
    assert [name for name in named if name not in README] == []


def test_every_load_is_named():
    assert [kind for kind in get_args(LoadKind) if f"`{kind}`" not in README] == []


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "meshes/README.md"])
def test_what_is_linked_is_there(document):
    """Pictures and files named in links or in code with a path."""
    path = PROJECT / document
    text = path.read_text(encoding="utf-8")
    linked = [link for link in re.findall(r"\]\(([^)#\s]+)", text) if "://" not in link]
    linked += re.findall(r"`((?:fieldrun|tests|meshes|benchmarks)/[\w./-]+)`", text)
    for link in linked:
        near, top = path.parent / link, PROJECT / link
        assert near.exists() or top.exists(), f"{document} names {link}, which is not there"


def test_the_changelog_knows_this_version():
    from fieldrun import __version__

    assert f"- {__version__}: " in README
