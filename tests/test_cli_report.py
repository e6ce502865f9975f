"""`fieldrun report` as a user meets it: what is left behind, what is printed, and what is refused."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.outputs.file_names import OUR_FILES, REPORT_FILES, WIND_FILES
from fieldrun.studies import candidates

WITHOUT_WIND = REPORT_FILES - {"power-curve.csv"}


@pytest.fixture
def fieldrun_(tmp_path, monkeypatch):
    """Call a command in an empty folder, with two shapes only to be quick."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(candidates, "LAYS", (("serpentine", 1), ("diamond", 2)))
    return lambda *arguments: CliRunner().invoke(cli.main, list(arguments))


def names(path):
    return {entry.name for entry in Path(path).iterdir()}


@pytest.mark.slow
def test_a_report_and_its_files(fieldrun_):
    told = fieldrun_("report", "hut-charger")
    assert told.exit_code == 0
    assert told.stdout.splitlines()[0] == "Open hut-charger/report.html in a browser."
    assert names("hut-charger") == REPORT_FILES
    assert told.stderr.count("warning: ") == 3
    page = Path("hut-charger/report.html").read_text(encoding="utf-8")
    assert "Other windings in the same space" in page
    assert "What to change" in page


@pytest.mark.slow
def test_it_stands_beside_a_run_whose_page_takes_the_place_of_its_own(fieldrun_):
    assert fieldrun_("run", "plank-ring", "--no-pictures").exit_code == 0
    ran = names("plank-ring")
    assert ran < OUR_FILES | WIND_FILES
    short = Path("plank-ring/report.html").read_text(encoding="utf-8")
    assert fieldrun_("report", "plank-ring", "--no-pictures", "-q").stdout == ""
    assert names("plank-ring") == ran | WITHOUT_WIND - {"turning.gif"}
    assert len(Path("plank-ring/report.html").read_text(encoding="utf-8")) > len(short)
    assert fieldrun_("run", "plank-ring", "--no-pictures").exit_code == 0
    assert names("plank-ring") == ran | WITHOUT_WIND - {"turning.gif"}
    assert Path("plank-ring/report.html").read_text(encoding="utf-8") == short


@pytest.mark.slow
def test_one_json_object_on_standard_output(fieldrun_):
    told = fieldrun_("report", "plank-ring", "--json", "--no-pictures", "-o", "here")
    assert json.loads(told.stdout) == json.loads(Path("here/report.json").read_text(encoding="utf-8"))


@pytest.mark.slow
def test_tolerances_are_told_if_asked(fieldrun_):
    content = json.loads(fieldrun_("report", "plank-ring", "--json", "--no-pictures", "--tolerance").stdout)
    chapter = next(chapter for chapter in content["chapters"] if chapter["name"] == "tolerances")
    assert chapter["paragraphs"][0].startswith("Of 20 machines built to these tolerances 18 give between ")


def test_somebody_elses_folder_is_left_alone(fieldrun_):
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine", encoding="utf-8")
    told = fieldrun_("report", "plank-ring")
    assert told.exit_code == 2
    assert "holds files that are not ours (diary.txt)" in told.stderr
    assert names("plank-ring") == {"diary.txt"}


def test_a_faulty_design_is_told_and_nothing_written(fieldrun_):
    Path("bad.toml").write_text('[magnets]\nshape = "star"\n', encoding="utf-8")
    told = fieldrun_("report", "bad.toml")
    assert told.exit_code == 2
    assert "bad.toml:2: magnets.shape:" in told.stderr
    assert not Path("bad").exists()
