"""`fieldrun sweep --best` as a user meets it."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun import cli
from fieldrun.studies.sweep import task

EMF, COPPER = "emf.rms_v_per_krpm", "winding.copper_mass_kg"
WIRES = ("plank-ring", "--vary", "wire.copper_mm=0.4,0.5,0.6", "--pick", f"{EMF},{COPPER}")


@pytest.fixture
def sweep(tmp_path, monkeypatch):
    """Call the command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(cli.main, ["sweep", *arguments])


def names(folder="plank-ring-sweep"):
    return {entry.name for entry in Path(folder).iterdir()}


def test_the_best_is_told_written_and_drawn(sweep):
    told = sweep(*WIRES, "--best", EMF)
    assert (told.exit_code, told.stderr) == (0, "")
    sentence = told.stdout.splitlines()[2]
    rows = json.loads(Path("plank-ring-sweep/sweep.json").read_text())["rows"]
    best = max(rows, key=lambda row: row[2])
    assert sentence == f"Best of 3: bare wire {best[1]:g} mm: {best[2]:.3g} V per 1000 rpm (most rms EMF per phase)."
    assert "The best 3:" in told.stdout
    assert names() == {"best.csv", "results.csv", "sweep.json", "sweep.jsonl", "sweep.png", "sweep.svg"}


def test_two_goals_in_json_with_the_same_table(sweep, monkeypatch):
    sweep(*WIRES, "--no-pictures")
    assert names() == {"results.csv", "sweep.json", "sweep.jsonl"}
    table = Path("plank-ring-sweep/results.csv").read_bytes()
    monkeypatch.setattr(task, "rotor_fields", lambda _: pytest.fail("solved again"))
    told = sweep(*WIRES, "--best", EMF, "--best", COPPER, "--json")
    content = json.loads(told.stdout)
    assert [one["direction"] for one in content["best"]] == ["max", "min"]
    assert set(content["pareto"]) >= {one["index"] for one in content["best"] if one["as_good"] == 1}
    assert told.stdout == Path("plank-ring-sweep/sweep.json").read_text()
    assert Path("plank-ring-sweep/results.csv").read_bytes() == table
    assert {"pareto.svg", "pareto.png", "best.csv"} <= names()


@pytest.mark.parametrize(
    ("best", "told"),
    [
        (["--best", "winding.rounds"], "--best: winding.rounds is not picked; "),
        (["--best", f"{EMF}:largest"], f"--best: write KEY, KEY:max or KEY:min; received {EMF}:largest"),
        (["--best", "winding.shape_told"], "--best: winding.shape_told is not picked; picked are "),
    ],
)
def test_bad_goals_run_and_write_nothing(sweep, best, told):
    outcome = sweep(*WIRES, *best)
    assert outcome.exit_code == 2
    assert outcome.stderr.splitlines()[0].startswith(told)
    assert outcome.stderr.endswith("1 fault, nothing was run\n")
    assert not Path("plank-ring-sweep").exists()


def test_words_are_refused_before_anything_is_solved(sweep):
    outcome = sweep(
        "plank-ring", "--vary", "wire.copper_mm=0.4,0.5", "--pick", "mesh.model", "--best", "mesh.model:max"
    )
    assert outcome.exit_code == 2
    assert outcome.stderr.startswith('--best: mesh.model holds words, such as "rings"; the best is found among numbers')
    assert not Path("plank-ring-sweep").exists()


def test_words_that_only_some_points_have_are_told_after_all_is_kept(sweep, monkeypatch):
    monkeypatch.setattr(task, "picked", lambda *_: ("word", 1.0))
    outcome = sweep(*WIRES, "--best", EMF)
    assert outcome.exit_code == 2
    assert outcome.stderr.startswith(f'--best: {EMF} holds words, such as "word"')
    assert names() == {"results.csv", "sweep.json", "sweep.jsonl"}


def test_all_points_failed(sweep, monkeypatch):
    monkeypatch.setattr(task, "picked", lambda *_: 1 / 0)
    told = sweep(*WIRES, "--best", EMF, "--best", COPPER)
    assert told.exit_code == 3
    assert f"No best {EMF}: no point has one." in told.stdout
    assert names() == {"results.csv", "sweep.json", "sweep.jsonl"}
