"""`fieldrun measured` as a builder meets it: what is printed where, what is left behind, and with which exit code."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.design.readings import KINDS
from fieldrun.outputs.file_names import MEASURED_FILES

GOOD = """speed_rpm,kind,value
200,open_phase_rms_v,4.95
300,open_phase_rms_v,7.43
200,open_line_rms_v,8.45
,phase_ohm,3.37
"""


@pytest.fixture
def fieldrun_(tmp_path, monkeypatch):
    """Call a command in a folder that holds a file of good readings of the plank ring."""
    monkeypatch.chdir(tmp_path)
    Path("bench.csv").write_text(GOOD)
    return lambda *arguments: CliRunner().invoke(cli.main, list(arguments))


@pytest.mark.slow
def test_the_bundled_bench_by_name(fieldrun_):
    told = fieldrun_("measured", "hut-charger", "hut-charger-readings.csv", "--scan", "hut-charger-scan.csv")
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert lines[0] == "Hut charger"
    assert lines[-1] == "Written to hut-charger: measured.json, measured.png, measured.svg, scan.png, scan.svg"
    assert {path.name for path in Path("hut-charger").iterdir()} == MEASURED_FILES


@pytest.mark.slow
def test_it_stands_beside_a_run_of_the_same_design(fieldrun_):
    assert fieldrun_("run", "plank-ring", "--no-pictures").exit_code == 0
    before = {path.name for path in Path("plank-ring").iterdir()}
    assert fieldrun_("measured", "plank-ring", "bench.csv", "--no-pictures").exit_code == 0
    assert {path.name for path in Path("plank-ring").iterdir()} == before | {"measured.json"}
    assert "your meter should read" in Path("plank-ring/summary.txt").read_text()


@pytest.mark.slow
def test_json_quiet_and_verbose(fieldrun_):
    told = fieldrun_("measured", "plank-ring", "bench.csv", "--no-pictures", "--json")
    assert json.loads(told.stdout) == json.loads(Path("plank-ring/measured.json").read_text())
    assert json.loads(told.stdout)["agrees"] is True
    quiet = fieldrun_("measured", "plank-ring", "bench.csv", "--no-pictures", "-q").stdout
    assert "The readings agree with the drawing" in quiet
    assert "Written to" not in quiet
    assert len(quiet.splitlines()) < 12
    verbose = fieldrun_("measured", "plank-ring", "bench.csv", "--no-pictures", "-v").stdout
    assert len(verbose.splitlines()) > 40


@pytest.mark.slow
def test_readings_that_nothing_explains_end_with_3(fieldrun_):
    Path("bench.csv").write_text("speed_rpm,kind,value\n200,open_phase_rms_v,7\n200,open_peak_v,2\n")
    told = fieldrun_("measured", "plank-ring", "bench.csv", "--no-pictures")
    assert told.exit_code == 3
    assert "Nothing that was tried explains all readings" in " ".join(told.stdout.split())
    assert Path("plank-ring/measured.json").is_file()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "bench.csv: the file is empty"),
        ("Dear diary\n", 'bench.csv:1: unknown column "Dear diary"'),
        ("speed_rpm,kind,value\n200,open_phase_rms,4\n", "bench.csv:2: kind: did you mean open_phase_rms_v?"),
        ("speed_rpm,kind,value\n0,open_dc_v,nan\n", "bench.csv:2: value: must be a finite number"),
    ],
)
def test_bad_files_are_told_and_nothing_is_run(fieldrun_, text, told):
    Path("bench.csv").write_text(text)
    result = fieldrun_("measured", "plank-ring", "bench.csv")
    assert result.exit_code == 2
    assert told in result.stderr
    assert "nothing was run" in result.stderr
    assert result.stdout == ""
    assert [path.name for path in Path().iterdir()] == ["bench.csv"]


def test_faults_of_both_tables_at_once(fieldrun_):
    Path("bench.csv").write_text("speed_rpm,kind,value\n200,open_dc_v,x\n")
    result = fieldrun_("measured", "plank-ring", "bench.csv", "--scan", "absent.csv")
    assert result.exit_code == 2
    assert result.stderr.splitlines() == [
        'bench.csv:2: value: must be a number such as 54.5; received "x"',
        "absent.csv: there is no such file",
        "2 faults, nothing was run",
    ]


@pytest.mark.slow
def test_a_unit_that_cannot_be_meant(fieldrun_):
    Path("bench.csv").write_text("speed_rpm,kind,value\n200,open_phase_rms_v,4950\n")
    result = fieldrun_("measured", "plank-ring", "bench.csv")
    assert result.exit_code == 2
    assert "bench.csv:2: value: 4950 V at 200 rpm, predicted 4.95: is it in millivolts?" in result.stderr


def test_a_foreign_folder_is_refused(fieldrun_):
    Path("plank-ring").mkdir()
    Path("plank-ring/notes.txt").write_text("mine")
    result = fieldrun_("measured", "plank-ring", "bench.csv")
    assert result.exit_code == 2
    assert "notes.txt" in result.stderr


def test_help_names_every_kind(fieldrun_):
    text = " ".join(fieldrun_("measured", "--help").stdout.split())
    assert all(kind in text for kind in KINDS)
