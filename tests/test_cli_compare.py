"""`fieldrun compare` as a user meets it: what is printed where, what is left behind, and with which exit code."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.design.errors import SolveError
from fieldrun.design.examples import example_path
from fieldrun.outputs.file_names import COMPARE_FILES, OUR_FILES
from fieldrun.studies import best_winding, candidates, compare

FIELDRUN = [sys.executable, "-c", "from fieldrun.cli import main; main(prog_name='fieldrun')"]
TABLES = {"compare.json", "compare.csv"}


@pytest.fixture
def fieldrun_(tmp_path, monkeypatch):
    """Call a command in an empty folder, with two shapes only to be quick."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(candidates, "LAYS", (("serpentine", 1), ("diamond", 2)))
    return lambda *arguments, **options: CliRunner().invoke(cli.main, list(arguments), **options)


@pytest.fixture
def quick(fieldrun_):
    """Compare without pictures."""
    return lambda *arguments, **options: fieldrun_("compare", *arguments, "--no-pictures", **options)


def names(path):
    return {entry.name for entry in Path(path).iterdir()}


@pytest.mark.slow
def test_every_shape_of_one_design(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(cli.main, ["compare", "plank-ring"])
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert lines[1].startswith("In equal space, with three phases, the serpentine gives the most (EMF²/R ")
    assert lines[-1] == "Written to plank-ring: compare.json, compare.csv, compare.png, compare.svg"
    assert names("plank-ring") == COMPARE_FILES
    assert told.stderr == ""


def test_it_stands_beside_the_runs_of_the_same_design(fieldrun_, quick):
    assert fieldrun_("run", "plank-ring", "--no-pictures").exit_code == 0
    before = names("plank-ring")
    assert quick("plank-ring").exit_code == 0
    assert names("plank-ring") == before | TABLES
    assert quick("plank-ring").exit_code == 0
    assert fieldrun_("run", "plank-ring", "--no-pictures").exit_code == 0
    assert before <= OUR_FILES
    assert names("plank-ring") == before | TABLES


def test_json_is_one_object_and_nothing_else(quick):
    told = quick("plank-ring", "--json")
    assert told.exit_code == 0
    assert json.loads(told.stdout) == json.loads(Path("plank-ring/compare.json").read_text())


def test_quiet_and_verbose(quick):
    quiet = quick("plank-ring", "-q")
    assert len(quiet.stdout.split(". ")) == 1
    assert "Written to" not in quiet.stdout
    assert " rounds  " in quick("plank-ring", "-v").stdout
    assert " rounds  " not in quick("plank-ring").stdout


def test_several_designs_have_a_folder_of_their_own(quick):
    told = quick("plank-ring", "quiet-halbach")
    assert told.exit_code == 0
    assert told.stdout.splitlines()[0] == "Plank ring, Quiet Halbach"
    assert names("compare") == TABLES
    content = json.loads(Path("compare/compare.json").read_text())
    assert content["name"] == "plank-ring, quiet-halbach"
    refused = quick("plank-ring", "hut-charger")
    assert refused.exit_code == 2
    assert "the result of another design, 'plank-ring, quiet-halbach'" in refused.stderr
    assert quick("plank-ring", "hut-charger", "--force").exit_code == 0


def test_a_path_file_of_ones_own(fieldrun_, quick):
    fieldrun_("run", "plank-ring", "--no-pictures")
    told = quick("plank-ring", "--path", "plank-ring/paths.csv", "-o", "out", "--json")
    assert told.exit_code == 0
    rows = {(row["winding"], row["phases"]): row for row in json.loads(told.stdout)["windings"]}
    mine, shape = rows["paths.csv", 3], rows["serpentine", 3]
    assert mine["emf2_over_r_w"] == pytest.approx(shape["emf2_over_r_w"], rel=1e-9)
    assert mine["yours"] is True


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("nowhere.toml",), "nowhere.toml: there is no such file"),
        (("plank-rin",), "plank-rin: there is no such file, and no bundled example of that name; did you mean"),
        (("plank-ring", "--path", "no.csv"), "no.csv: there is no such file"),
        (("plank-ring", "hut-charger", "--best"), "--best: goes with one design, whose space all share; received 2"),
        (("plank-ring", "hut-charger", "--path", "x.csv"), "--path: goes with one design, whose space all share"),
    ],
)
def test_bad_input_is_two_and_leaves_nothing(quick, arguments, told):
    found = quick(*arguments)
    assert found.exit_code == 2
    assert told in found.stderr
    assert found.stderr.splitlines()[-1] == "1 fault, nothing was run"
    assert (found.stdout, names(".")) == ("", set())


@pytest.mark.parametrize("arguments", [("compare",), ("compare", "x", "--fast")])
def test_wrong_usage_is_two(fieldrun_, arguments):
    told = fieldrun_(*arguments)
    assert told.exit_code == 2
    assert told.stderr.startswith("Usage: ")


def test_the_faults_of_all_designs_at_once(quick):
    for name in ("a", "b"):
        text = example_path("plank-ring").read_text(encoding="utf-8").replace("count = 12", "count = 13")
        Path(f"{name}.toml").write_text(text, encoding="utf-8")
    told = quick("a.toml", "plank-ring", "b.toml")
    assert told.exit_code == 2
    lines = told.stderr.splitlines()
    assert [line.split(": ")[:2] for line in lines[:2]] == [
        ["a.toml:6", "magnets.count"],
        ["b.toml:6", "magnets.count"],
    ]
    assert lines[2] == "2 faults, nothing was run"


def test_foreign_files_are_refused_and_stay_with_force(quick):
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine")
    told = quick("plank-ring")
    assert told.exit_code == 2
    assert "holds files that are not ours (diary.txt)" in told.stderr
    assert quick("plank-ring", "--force").exit_code == 0
    assert names("plank-ring") == TABLES | {"diary.txt"}


def test_notes_go_to_stderr(quick):
    text = example_path("plank-ring").read_text(encoding="utf-8")
    Path("my.toml").write_text(text.replace('backing = "none"', 'backing = "none"\nbacking_mm = 5'), encoding="utf-8")
    told = quick("my.toml")
    assert told.stderr.startswith("note: rotor.backing_mm is ignored")
    both = quick("my.toml", "plank-ring")
    assert both.stderr.startswith("note: my: rotor.backing_mm is ignored")
    assert "note:" not in told.stdout + both.stdout


def test_a_shape_that_cannot_be_laid_ends_well(fieldrun_, quick):
    text = example_path("hut-charger").read_text(encoding="utf-8")
    Path("tight.toml").write_text(text.replace("inner_radius_mm = 53", "inner_radius_mm = 58"), encoding="utf-8")
    told = quick("tight.toml")
    assert told.exit_code == 0
    assert "Not laid: serpentine (1, 3-phase): the end arcs on 58 mm lie at the magnets" in told.stdout


def test_a_solution_that_is_not_reached_is_one(quick, monkeypatch):
    def fail(magnets, rotor):
        raise SolveError("the steel's flux did not settle")

    monkeypatch.setattr(compare, "field_of", fail)
    told = quick("plank-ring")
    assert (told.exit_code, told.stderr) == (1, "fieldrun: the steel's flux did not settle\n")
    assert names(".") == set()


def test_each_at_its_best(quick, monkeypatch):
    for name, number in (("TRIALS", 20), ("POLISH", 10), ("NUDGES", 3)):
        monkeypatch.setattr(best_winding, name, number)
    told = quick("plank-ring", "--best", "--json")
    assert told.exit_code == 0
    content = json.loads(told.stdout)
    assert content["terms"] == "each at its best"
    for row in content["windings"]:
        assert row["emf2_over_r_w"] >= row["emf2_over_r_before_w"]


@pytest.mark.slow
def test_a_plain_terminal_gets_plain_letters(tmp_path):
    """In a process of its own: nothing on the error stream, letters that the terminal lacks written another way."""
    plain = {**os.environ, "PYTHONIOENCODING": "ascii", "NO_COLOR": "1"}
    command = [*FIELDRUN, "compare", "plank-ring", "--no-pictures", "-q"]
    done = subprocess.run(command, cwd=tmp_path, env=plain, capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"EMF\\xb2/R" in done.stdout


def test_help_says_what_it_is_for(fieldrun_):
    text = fieldrun_("compare", "--help").stdout
    for said in ("--path", "--best", "--no-pictures", "Set every shape side by side"):
        assert said in text
    assert "compare" in fieldrun_("--help").stdout
