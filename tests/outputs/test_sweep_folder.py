"""What a sweep leaves: the same bytes every time, nothing of an earlier one, ranks and front beside the points."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from fieldrun.design.errors import FieldrunError
from fieldrun.outputs import style
from fieldrun.outputs.file_names import EVERY_FILE
from fieldrun.outputs.sweep_folder import best_dict, best_text, leave_sweep
from fieldrun.studies.sweep.choice import Choice, choose
from fieldrun.studies.sweep.goals import read_goals

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
KEYS = ("rotor.gap_mm=7:12:6", "magnets.thickness_mm=3:8:6", "wire.copper_mm=0.4:0.8:30")
TABLES = {"results.csv", "sweep.json"}
DRAWN = {"sweep.svg", "sweep.png"}
FRONT = {"pareto.svg", "pareto.png"}


def chosen(sweep, *best):
    return choose(sweep, read_goals(best, sweep.picks))


def names(folder):
    return {path.name for path in folder.iterdir()}


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def rows_of(text):
    return list(csv.DictReader(io.StringIO("".join(x for x in text.splitlines(keepends=True) if x[0] != "#"))))


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


@pytest.mark.parametrize(
    ("best", "files"),
    [
        ((), TABLES | DRAWN),
        ((EMF,), TABLES | DRAWN | {"best.csv"}),
        ((EMF, OHM), TABLES | DRAWN | FRONT | {"best.csv"}),
    ],
)
def test_files(invented_sweep, folder, best, files):
    sweep = invented_sweep(*KEYS[:2])
    assert leave_sweep(sweep, chosen(sweep, *best), folder) == []
    assert names(folder) == files <= EVERY_FILE
    assert names(folder.parent) == {"out"}


def test_what_an_earlier_sweep_left_goes(invented_sweep, folder):
    sweep = invented_sweep(*KEYS[:2])
    leave_sweep(sweep, chosen(sweep, EMF, OHM), folder)
    leave_sweep(sweep, chosen(sweep, EMF), folder)
    assert names(folder) == TABLES | DRAWN | {"best.csv"}
    leave_sweep(sweep, Choice(), folder, pictures=False)
    assert names(folder) == TABLES


def test_bytes_are_the_same_and_the_table_whatever_is_best(invented_sweep, tmp_path):
    sweep = invented_sweep("rotor.gap_mm=7:12:6", "wire.copper_mm=0.4:0.8:5", failed={9})
    for name, best in (("one", (EMF, OHM)), ("two", (EMF, OHM)), ("plain", ())):
        (tmp_path / name).mkdir()
        leave_sweep(sweep, chosen(sweep, *best), tmp_path / name, pictures=bool(best))
    assert contents(tmp_path / "one") == contents(tmp_path / "two")
    tables = {(tmp_path / name / "results.csv").read_bytes() for name in ("one", "plain")}
    assert len(tables) == 1


@pytest.mark.parametrize(
    "given",
    [
        {"ranges": KEYS[:1]}, {"ranges": KEYS[:2]}, {"ranges": KEYS}, {"ranges": ("winding.shape=zigzag,diamond",)},
        {"ranges": ("rotor.gap_mm=7:12", "wire.copper_mm=0.4:0.8"), "count": 50},
        {"ranges": (*KEYS[:2], "rotor.backing=none,ideal", "winding.layers=2,3,4,5")},
    ],
)  # fmt: skip
def test_pictures_are_sound_files_with_the_designs_facts(invented_sweep, folder, given):
    sweep = invented_sweep(*given["ranges"], count=given.get("count"), failed={3})
    leave_sweep(sweep, chosen(sweep, EMF), folder)
    text = (folder / "sweep.svg").read_text()
    assert not re.search(r"\bnan\b|\binf\b", text, re.IGNORECASE)
    words = " ".join("".join(ET.fromstring(text).itertext()).split())  # noqa: S314 our own file
    for said in ("Best of", "rms EMF per phase", "design_hash: 8f3a", "mesh: rings, 7 unknowns"):
        assert said in words
    assert (folder / "sweep.png").stat().st_size > 10_000


def test_nothing_to_draw_is_told_unless_nothing_was_answered(invented_sweep, folder):
    one = invented_sweep("rotor.gap_mm=9")
    assert leave_sweep(one, chosen(one, EMF), folder) == ["no picture: every point is the same"]
    none = invented_sweep("rotor.gap_mm=2,3")
    assert leave_sweep(none, chosen(none, EMF, OHM), folder) == []
    assert names(folder) == TABLES


def test_best_csv_has_ranks_and_the_front(invented_sweep):
    sweep = invented_sweep(*KEYS, failed={9})
    choice = chosen(sweep, EMF, OHM)
    rows = rows_of(best_text(sweep, choice))
    assert list(rows[0]) == ["index", *sweep.keys, *sweep.picks, f"rank_{EMF}", f"rank_{OHM}", "pareto"]
    front = {int(row["index"]) for row in rows if row["pareto"] == "true"}
    assert front == set(choice.pareto)
    volts = sweep.column(EMF)
    for row in rows:
        place = int(row["index"])
        assert float(row[EMF]) == pytest.approx(volts[place], rel=1e-11)
        assert int(row[f"rank_{EMF}"]) == 1 + (volts > volts[place]).sum() + (volts[:place] == volts[place]).sum()
    ranks = [int(row[f"rank_{EMF}"]) for row in rows]
    assert ranks == sorted(ranks)
    assert set(range(1, 13)) <= set(ranks)
    assert {int(row[f"rank_{OHM}"]) for row in rows} >= set(range(1, 13))


def test_one_goal_has_no_front(invented_sweep):
    sweep = invented_sweep(*KEYS[:2])
    text = best_text(sweep, chosen(sweep, EMF))
    assert "pareto" not in text
    assert [row[f"rank_{EMF}"] for row in rows_of(text)] == [str(n) for n in range(1, 13)]
    assert f"# best: {EMF}:max\n" in text
    assert "# design_hash: 8f3a\n" in text


def test_json(invented_sweep, folder):
    sweep = invented_sweep(*KEYS)
    choice = chosen(sweep, EMF, OHM)
    leave_sweep(sweep, choice, folder, pictures=False)
    content = json.loads((folder / "sweep.json").read_text())
    first = content["best"][0]
    volts = sweep.column(EMF)
    place = int(np.ma.argmax(volts))
    assert (first["key"], first["direction"], first["index"], first["value"]) == (EMF, "max", place, volts[place])
    assert first["at"] == dict(zip(sweep.keys, sweep.rows[place].values, strict=True))
    assert (first["points"], first["as_good"]) == (volts.count(), 1)
    assert content["pareto"] == list(choice.pareto)
    assert len(content["rows"]) == len(sweep.rows)
    assert best_dict(sweep, Choice()) == {}
    assert "pareto" not in best_dict(sweep, chosen(sweep, EMF))


def test_a_full_disk_leaves_the_pictures_that_were_there(invented_sweep, folder, monkeypatch):
    sweep = invented_sweep(*KEYS[:2])
    leave_sweep(sweep, Choice(), folder)
    before = contents(folder)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(style, "save_figure", full)
    with pytest.raises(FieldrunError, match=r"cannot write pictures to .*: No space left on device"):
        leave_sweep(sweep, Choice(), folder)
    assert contents(folder) == before
    assert names(folder.parent) == {"out"}
