"""`fieldrun sweep` as a user meets it: what is printed and left behind, and what survives whatever ends it."""

import errno
import itertools
import json
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.outputs import sweep_file
from fieldrun.outputs.file_names import EVERY_FILE
from fieldrun.studies.sweep import journal, task
from tests.hard.kills import spoken

FIELDRUN = [sys.executable, "-c", "from fieldrun.cli import main; main(prog_name='fieldrun')"]
LIGHT = ("--pick", "emf.rms_v_per_krpm,circuit.resistance_20c_ohm")
GAPS = ("hut-charger", "--vary", "rotor.gap_mm=8:11:4", "--vary", "rotor.backing=ideal", *LIGHT)
FILES = {"results.csv", "sweep.json", "sweep.jsonl", "sweep.png", "sweep.svg"}


@pytest.fixture
def sweep(tmp_path, monkeypatch):
    """Call the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(cli.main, ["sweep", *arguments])


def names(folder):
    return {entry.name for entry in Path(folder).iterdir()}


def table(folder="hut-charger-sweep"):
    return Path(folder, "results.csv").read_text()


def test_a_grid(sweep):
    told = sweep("plank-ring", "--vary", "wire.copper_mm=0.4,0.5", "--vary", "winding.layers=2,4", *LIGHT)
    assert (told.exit_code, told.stderr) == (0, "")
    lines = told.stdout.splitlines()
    assert lines[:3] == ["Plank ring", "4 points over wire.copper_mm, winding.layers: 4 answered.", ""]
    assert lines[3].startswith("emf.rms_v_per_krpm          ")
    assert lines[-1] == "Written to plank-ring-sweep: results.csv, sweep.json, sweep.jsonl, sweep.png, sweep.svg"
    assert names("plank-ring-sweep") == FILES <= EVERY_FILE
    rows = table("plank-ring-sweep").splitlines()
    comments = [line for line in rows if line.startswith("# ")]
    assert [line.split(":")[0] for line in comments] == [
        "# fieldrun", "# design", "# design_hash", "# mesh", "# error_estimate", "# plan"
    ]  # fmt: skip
    assert rows[len(comments)] == (
        "index,wire.copper_mm,winding.layers,emf.rms_v_per_krpm,circuit.resistance_20c_ohm,status,reason"
    )
    assert [row.split(",")[:3] for row in rows[len(comments) + 1 :]] == [
        ["0", "0.4", "2"], ["1", "0.4", "4"], ["2", "0.5", "2"], ["3", "0.5", "4"]
    ]  # fmt: skip


def test_json_is_one_object_and_the_file(sweep):
    told = sweep(*GAPS, "--json")
    content = json.loads(told.stdout)
    assert told.stdout == Path("hut-charger-sweep/sweep.json").read_text()
    assert content["counts"] == {"points": 4, "ok": 4, "infeasible": 0, "failed": 0}
    assert content["columns"][:3] == ["index", "rotor.gap_mm", "rotor.backing"]
    assert [row[:3] for row in content["rows"]] == [[i, 8 + i, "ideal"] for i in range(4)]
    assert (content["schema"], content["name"]) == (1, "hut-charger")


def test_quiet(sweep):
    told = sweep(*GAPS, "-q")
    assert told.stdout == "Hut charger\n4 points over rotor.gap_mm, rotor.backing: 4 answered.\n"


def test_a_second_time_nothing_is_solved_and_nothing_changes(sweep, monkeypatch):
    sweep(*GAPS)
    before = {name: Path("hut-charger-sweep", name).read_bytes() for name in FILES}
    monkeypatch.setattr(task, "rotor_fields", lambda _: pytest.fail("solved again"))
    assert sweep(*GAPS).exit_code == 0
    assert {name: Path("hut-charger-sweep", name).read_bytes() for name in FILES} == before


def test_a_sample_and_a_table(sweep):
    told = sweep("plank-ring", "--vary", "wire.copper_mm=0.4:0.6", "--sample", "5", "--method", "sobol", *LIGHT)
    assert told.exit_code == 0, told.output
    Path("designs.csv").write_text("wire.copper_mm,winding.shape\n0.4,serpentine\n0.5,diamond\n,zigzag\n")
    told = sweep("plank-ring", "--table", "designs.csv", "-o", "t", *LIGHT)
    assert told.exit_code == 0, told.output
    assert [row.split(",")[:3] for row in table("t").splitlines()[-3:]] == [
        ["0", "0.4", "serpentine"], ["1", "0.5", "diamond"], ["2", "", "zigzag"]
    ]  # fmt: skip


@pytest.mark.slow
def test_tolerances_vary_and_are_picked_like_anything_else(sweep):
    keys = ("tolerance.rms_v_per_krpm.percent_5", "tolerance.rms_v_per_krpm.percent_95", "field.error_estimate_percent")
    told = sweep("plank-ring", "--vary", "tolerance.magnet_mm=0,0.5", "--pick", ",".join(keys), "--json")
    assert told.exit_code == 0, told.output
    (low, high, error), (wide_low, wide_high, same) = (row[2:5] for row in json.loads(told.stdout)["rows"])
    assert wide_low < low < high < wide_high
    assert 0 < error == same < 5


def test_points_that_cannot_be_built_are_an_answer(sweep):
    told = sweep("hut-charger", "--vary", "rotor.gap_mm=4,5,8", "--vary", "rotor.backing=ideal", *LIGHT)
    assert told.exit_code == 0
    assert "3 points over rotor.gap_mm, rotor.backing: 1 answered, 2 cannot be built." in told.stdout
    assert "infeasible, 2 points, first at index 0: rotor.gap_mm: the winding is 5.43 mm thick" in told.stdout


def test_none_that_can_be_built_is_three(sweep):
    told = sweep("hut-charger", "--vary", "rotor.gap_mm=4,5", *LIGHT)
    assert (told.exit_code, told.stderr) == (3, "warning: none of the points can be built\n")


def test_points_that_failed_are_three_and_may_be_tried_again(sweep, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(task, "picked", lambda *_: 1 / 0)
        told = sweep(*GAPS)
    assert told.exit_code == 3
    assert told.stderr == "warning: 4 of 4 points failed; try --retry-failed after the cause is gone\n"
    assert "failed, 4 points, first at index 0: ZeroDivisionError: division by zero" in told.stdout
    assert sweep(*GAPS).exit_code == 3
    assert sweep(*GAPS, "--retry-failed").exit_code == 0
    assert sweep(*GAPS).exit_code == 0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "--vary: what shall vary? try --vary rotor.gap_mm=7:12:11, or --table DESIGNS.csv"),
        (("--vary", "rotor.gap_m=1,2"), "--vary rotor.gap_m: unknown key; did you mean gap_mm?"),
        (("--vary", "rotor.gap_mm=7:8:9999", "--vary", "magnets.thickness_mm=3:5:99999"),
         "--vary: 999,890,001 points are more than a sweep takes, 1,000,000; try fewer values, or --sample 1000"),
        (("--vary", "rotor.gap_mm=7,8", "--pick", "emf.volts"), "--pick: no result has emf.volts; "),
        (("--vary", "rotor.gap_mm=7,8", "--sample", "0"), "--sample: at least one point; received 0"),
        (("--table", "no.csv"), "no.csv: there is no such file"),
        (("--table", "no.csv", "--sample", "3"), "--table: has its own points; leave out --vary and --sample, "),
    ],
)  # fmt: skip
def test_bad_usage_runs_and_writes_nothing(sweep, arguments, told):
    outcome = sweep("plank-ring", *arguments)
    assert outcome.exit_code == 2
    assert outcome.stderr.splitlines()[0].startswith(told)
    assert outcome.stderr.endswith("1 fault, nothing was run\n")
    assert names(".") == set()


def test_another_sweeps_folder_is_refused_and_forced(sweep):
    sweep(*GAPS)
    before = Path("hut-charger-sweep/sweep.jsonl").read_bytes()
    other = (*GAPS[:2], "rotor.gap_mm=8,9", *GAPS[3:])
    told = sweep(*other)
    assert told.exit_code == 2
    assert "holds a sweep with other points; name another folder with --out" in told.stderr
    assert Path("hut-charger-sweep/sweep.jsonl").read_bytes() == before
    assert sweep(*other, "--force").exit_code == 0
    assert len(table().splitlines()) == 6 + 1 + 2
    assert "the result of another design, 'hut-charger'" in sweep("plank-ring", "--vary", "wire.copper_mm=0.4,0.5",
                                                                  "-o", "hut-charger-sweep").stderr  # fmt: skip


def test_a_run_beside_it_leaves_the_journal(sweep):
    wires = ("plank-ring", "--vary", "wire.copper_mm=0.4,0.5", *LIGHT, "-o", "out")
    sweep(*wires)
    assert CliRunner().invoke(cli.main, ["run", "plank-ring", "-o", "out", "--no-pictures"]).exit_code == 0
    assert "sweep.jsonl" in names("out")
    assert "results.csv" not in names("out")
    assert sweep(*wires).exit_code == 0
    assert names("out") > FILES


def test_ctrl_c_keeps_what_was_found_and_tells_how_to_go_on(sweep, monkeypatch):
    whole = sweep(*GAPS, "-o", "whole")
    assert whole.exit_code == 0
    real, count = task.picked, itertools.count()

    def interrupted(*given):
        if next(count) == 2:
            raise KeyboardInterrupt
        return real(*given)

    monkeypatch.setattr(sys, "argv", ["fieldrun", "sweep", *GAPS, "--force"])
    with monkeypatch.context() as patch:
        patch.setattr(task, "picked", interrupted)
        told = sweep(*GAPS, "--force")
    assert told.exit_code == 130
    assert told.stderr == (
        "fieldrun: interrupted; every finished point is kept, go on with\n  fieldrun sweep hut-charger --vary "
        "rotor.gap_mm=8:11:4 --vary rotor.backing=ideal --pick emf.rms_v_per_krpm,circuit.resistance_20c_ohm\n"
    )
    assert len(Path("hut-charger-sweep/sweep.jsonl").read_text().splitlines()) == 3
    assert sweep(*GAPS).exit_code == 0
    assert table() == table("whole")


def test_a_full_disk_is_one_line_and_what_was_written_can_be_gone_on_with(sweep, monkeypatch):
    assert sweep(*GAPS, "-o", "whole").exit_code == 0
    real, count = journal.Journal._write, itertools.count()

    def full(self, line):
        if next(count) == 3:
            self._file.write(line[:20])
            with self._told():
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(self, line)

    with monkeypatch.context() as patch:
        patch.setattr(journal.Journal, "_write", full)
        told = sweep(*GAPS)
    assert told.exit_code == 1
    assert told.stderr == (
        "fieldrun: cannot write hut-charger-sweep/sweep.jsonl: No space left on device; what was found so far is kept "
        "in it: make room and give the same command again, it goes on from there\n"
    )
    assert sweep(*GAPS).exit_code == 0
    assert table() == table("whole")


def test_a_disk_that_is_full_at_the_end_leaves_no_half_table(sweep, monkeypatch):
    assert sweep(*GAPS).exit_code == 0
    before = table()

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(sweep_file.os, "fsync", full)
        told = sweep(*GAPS)
    assert told.exit_code == 1
    assert "No space left on device" in told.stderr
    assert names("hut-charger-sweep") == FILES
    assert table() == before


def test_cluster_without_a_scheduler_is_four(sweep, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    told = sweep(*GAPS, "--cluster", "tcp://127.0.0.1:1")
    assert told.exit_code == 4
    assert told.stderr.endswith("pip install 'fieldrun[cluster]'\n")


def be_sweep(folder, words):
    """What a process of its own does in the test below: be the command."""
    os.chdir(folder)
    spoken(words, os.open(os.devnull, os.O_WRONLY))


@pytest.mark.slow
def test_killed_at_any_moment_it_loses_nothing_finished(tmp_path):
    """Ten times shot, ten times gone on with: nothing written is lost, the table is that of a calm sweep."""
    dice = random.Random(1)  # noqa: S311 - moments, not secrets
    line = ["sweep", "hut-charger", "--vary", "rotor.gap_mm=8:12:8", "--vary", "magnets.thickness_mm=3:9:20",
            "--vary", "rotor.backing=ideal", *LIGHT, "--jobs", "1"]  # fmt: skip
    ready = multiprocessing.get_context("forkserver")  # loads what commands take once, not ten times
    ready.set_forkserver_preload(["fieldrun.cli.sweep", "fieldrun.outputs.sweep_folder", "fieldrun.studies.sweep.run"])
    log = tmp_path / "shot" / "sweep.jsonl"
    kept, lengths = b"", set()
    for _ in range(10):
        process = ready.Process(target=be_sweep, args=(tmp_path, [*line, "-o", "shot"]))
        process.start()
        wanted = len(kept) + dice.randrange(1, 1500)
        while process.is_alive() and (not log.exists() or log.stat().st_size < wanted):
            time.sleep(0.001)
        process.kill()
        process.join()
        assert process.exitcode in {0, -signal.SIGKILL}
        found = log.read_bytes()
        whole = found[: found.rfind(b"\n") + 1]
        assert whole.startswith(kept)
        kept = whole
        lengths.add(len(whole))
    assert len(lengths) == 10  # every one of them died at work
    for folder in ("shot", "calm"):
        subprocess.run([*FIELDRUN, *line, "-o", folder], cwd=tmp_path, check=True, stdout=subprocess.DEVNULL)
    assert (tmp_path / "shot/results.csv").read_bytes() == (tmp_path / "calm/results.csv").read_bytes()
    assert (tmp_path / "shot/sweep.json").read_bytes() == (tmp_path / "calm/sweep.json").read_bytes()


@pytest.mark.slow
def test_ctrl_c_in_a_terminal(tmp_path):
    line = [*FIELDRUN, "sweep", "hut-charger", "--vary", "rotor.gap_mm=8:12:40", *LIGHT, "-o", "out"]
    process = subprocess.Popen(line, cwd=tmp_path, stderr=subprocess.PIPE, text=True)
    log = tmp_path / "out" / "sweep.jsonl"
    while not log.exists() or log.read_bytes().count(b"\n") < 2:
        assert process.poll() is None
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert told.startswith("fieldrun: interrupted; every finished point is kept, go on with\n")
    assert "Traceback" not in told


def test_help_says_which_question_a_frozen_winding_answers(sweep):
    told = " ".join(sweep("--help").stdout.split())
    assert "what would the winding I have give in another rotor?" in told
    assert "which machine shall I build?" in told
