"""`fieldrun former` from the command line: files, faults with their line, bars, exit codes."""

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.design.examples import example_path
from fieldrun.field.gmsh_mesh import gmsh_state
from fieldrun.outputs.drawings import plate_solid
from fieldrun.outputs.file_names import FORMER_FILES


@pytest.fixture
def former(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(plate_solid, "gmsh_state", lambda: (False, "no gmsh here"))
    return lambda *words: CliRunner().invoke(cli.main, ["former", *words])


def test_sentences_and_files_and_code_4_without_gmsh(former):
    told = former("plank-ring")
    assert told.exit_code == 4
    lines = told.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert "72 notches 1.29 mm wide" in " ".join(lines)
    assert lines[-1] == "Written to plank-ring: former.pdf and what belongs to it"
    assert told.stderr.splitlines()[-1] == (
        "fieldrun: former.step and former.stl are left out, everything else is written: no gmsh here"
    )
    assert {path.name for path in Path("plank-ring").iterdir()} == FORMER_FILES - {"former.step", "former.stl"}
    assert "Caution" not in told.stdout


def test_brackets_of_a_title_are_shown_as_they_are(former):
    text = example_path("plank-ring").read_text(encoding="utf-8")
    title = "Plank [/b] [2]"
    Path("own.toml").write_text(text.replace('title = "Plank ring"', f'title = "{title}"'), encoding="utf-8")
    assert former("own.toml", "-q").stdout.splitlines()[0] == title


@pytest.mark.slow
def test_with_gmsh_all_files_and_code_0(tmp_path, monkeypatch, capfd):
    loads, state = gmsh_state()
    if not loads:
        if os.environ.get("FIELDRUN_REQUIRE_GMSH") == "1":
            pytest.fail(f"FIELDRUN_REQUIRE_GMSH=1, but {state}")
        pytest.skip(state)
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(cli.main, ["former", "plank-ring", "--json"])
    assert told.exit_code == 0
    assert json.loads(told.stdout)["name"] == "plank-ring"
    assert {path.name for path in Path("plank-ring").iterdir()} == FORMER_FILES
    assert Path("plank-ring/former.step").read_text(encoding="utf-8").startswith("ISO-10303-21;")
    assert Path("plank-ring/former.stl").read_bytes().startswith(b"fieldrun ")
    assert capfd.readouterr().out == ""


def test_json_quiet_and_verbose(former):
    record = json.loads(former("plank-ring", "--json", "-o", "a").stdout)
    assert record == json.loads(Path("a/former.json").read_text(encoding="utf-8"))
    quiet = former("plank-ring", "-q", "-o", "b").stdout
    assert "notches" in quiet
    assert "Written" not in quiet
    assert "Resin: gloves" in " ".join(former("plank-ring", "-v", "-o", "c").stdout.split())


def test_a_board_that_cannot_be_made_names_the_line_and_writes_nothing(former):
    Path("mine.toml").write_text(
        (Path(cli.__file__).parents[1] / "design/examples/plank-ring.toml").read_text(encoding="utf-8")
        + "\n[former]\nkerf_mm = 3\n"
    )
    line = Path("mine.toml").read_text().splitlines().index("kerf_mm = 3") + 1
    told = former("mine.toml")
    assert told.exit_code == 2
    assert told.stderr.startswith(f"mine.toml:{line}: former.kerf_mm: a cut 3 mm wide makes no notch of 1.29 mm")
    assert not Path("mine").exists()


BARS = {
    "abc": 'must be two lengths in mm such as 99.5,100.2; received "abc"',
    "99": 'must be two lengths in mm such as 99.5,100.2; received "99"',
    "94.9,100": "both bars must measure 95 to 105 mm; received 94.9,100: print at 100 %, not fitted to the page",
    "100,105.1": "both bars must measure 95 to 105 mm; received 100,105.1: print at 100 %, not fitted to the page",
    "nan,100": "both bars must measure 95 to 105 mm; received nan,100: print at 100 %, not fitted to the page",
}


@pytest.mark.parametrize("bar", BARS)
def test_a_bar_that_is_none(bar, former):
    told = former("plank-ring", "--bar", bar)
    assert told.exit_code == 2
    assert told.stderr.splitlines()[0] == f"--bar: {BARS[bar]}"


def test_a_measured_bar_changes_the_print_and_nothing_else(former):
    former("plank-ring", "-o", "a")
    former("plank-ring", "-o", "b", "--bar", "99.2,100.4")
    differing = {f.name for f in Path("a").iterdir() if f.read_bytes() != (Path("b") / f.name).read_bytes()}
    assert differing == {"former.pdf"}


def test_foreign_files_are_in_the_way(former):
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine")
    told = former("plank-ring")
    assert told.exit_code == 2
    assert "diary.txt" in told.stderr
    assert {path.name for path in Path("plank-ring").iterdir()} == {"diary.txt"}
