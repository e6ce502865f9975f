"""`fieldrun estimates` as a user meets it."""

import functools
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.design.errors import SolveError
from fieldrun.design.examples import example_path
from fieldrun.outputs.file_names import ESTIMATES_FILES
from fieldrun.studies.estimates_map import study
from fieldrun.studies.estimates_map.grid import Axes

QUICK = {"estimates.json", "estimates.csv"}


@pytest.fixture
def fieldrun_(tmp_path, monkeypatch):
    """Call a command in an empty folder, on a small grid."""
    small = Axes((0.2, 0.5), (0.15, 0.4), (0.5, 0.8))
    monkeypatch.setattr(study, "estimates_map", functools.partial(study.estimates_map, axes=small))
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(cli.main, ["estimates", *arguments])


def names(path):
    return {entry.name for entry in Path(path).iterdir()}


@pytest.mark.slow
def test_it_tells_and_leaves_a_folder(fieldrun_):
    told = fieldrun_("plank-ring")
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert lines[-1] == "Written to plank-ring: " + ", ".join(sorted(ESTIMATES_FILES))
    assert names("plank-ring") == ESTIMATES_FILES
    assert told.stderr == ""


def test_json_is_one_object_and_nothing_else(fieldrun_):
    told = fieldrun_("hut-charger", "--json", "--no-pictures", "-o", "here")
    assert told.exit_code == 0
    assert json.loads(told.stdout) == json.loads(Path("here/estimates.json").read_text(encoding="utf-8"))
    assert names("here") == QUICK


def test_quiet_and_verbose(fieldrun_):
    quiet = fieldrun_("plank-ring", "--no-pictures", "-q")
    verbose = fieldrun_("plank-ring", "--no-pictures", "-v")
    assert (quiet.exit_code, verbose.exit_code) == (0, 0)
    assert "holds everywhere" not in quiet.stdout
    assert "Written to" not in quiet.stdout
    assert "layered Fourier: Magnets endless" in verbose.stdout


@pytest.mark.slow
def test_own_steel_is_an_option(fieldrun_):
    told = fieldrun_("hut-charger", "--no-pictures", "--steel", "own", "--json")
    assert json.loads(told.stdout)["steel"] == "own"
    assert fieldrun_("hut-charger", "--steel", "rusty").exit_code == 2


def test_it_refuses_what_others_refuse(fieldrun_):
    assert fieldrun_("hut-chargr").exit_code == 2
    Path("bad.toml").write_text(
        example_path("plank-ring").read_text(encoding="utf-8").replace("count = 12", "count = 11"), encoding="utf-8"
    )
    told = fieldrun_("bad.toml")
    assert told.exit_code == 2
    assert told.stderr.endswith("nothing was run\n")
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine", encoding="utf-8")
    assert fieldrun_("plank-ring", "--no-pictures").exit_code == 2
    assert fieldrun_("plank-ring", "--no-pictures", "--force").exit_code == 0
    assert names("plank-ring") == QUICK | {"diary.txt"}


def test_a_field_that_is_not_found_is_a_fault(fieldrun_, monkeypatch):
    def stuck(*_args, **_options):
        raise SolveError("stuck")

    monkeypatch.setattr(study, "estimates_map", stuck)
    told = fieldrun_("plank-ring")
    assert (told.exit_code, told.stderr) == (1, "fieldrun: stuck\n")
    assert not Path("plank-ring").exists()
