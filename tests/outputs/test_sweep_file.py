"""The table and the JSON of a sweep: every cell as it was, nothing half-written."""

import csv
import io
import json
from dataclasses import replace
from types import SimpleNamespace

import pytest

from fieldrun.design.errors import FieldrunError
from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design
from fieldrun.outputs.sweep_file import csv_text, replace_text, sweep_text, write_sweep
from fieldrun.outputs.sweep_told import counted, left_out, reaches
from fieldrun.studies.sweep.axes import read_axes
from fieldrun.studies.sweep.plan import grid
from fieldrun.studies.sweep.record import Row, Sweep

KEYS = ("rotor.gap_mm=8:9:2", "rotor.backing=none,mild steel")
PICKS = ("emf.rms_v_per_krpm", "mesh.model", "winding.rounds_per_phase")
REASON = 'rotor.gap_mm: too small; try "stack", or 9'


@pytest.fixture
def sweep():
    rows = (
        Row(0, (8.0, "none"), (18.25, "rings", 44), "ok"),
        Row(1, (8.0, "mild steel"), (1 / 3, "coupled rings", 44), "ok"),
        Row(2, (9.0, "none"), (None, None, None), "infeasible", REASON),
        Row(3, (9.0, "mild steel"), (None, "rings", None), "failed", "the steel's flux did not settle"),
    )
    design = read_design(example_path("plank-ring"))
    facts = {"mesh": "rings, 7 unknowns", "error_estimate": "0.2 percent"}
    return Sweep(design, "8f3a", grid(read_axes(KEYS)), PICKS, rows, {"winding.rounds": 44}, facts)


def test_the_table_comes_back_as_it_went(sweep):
    text = csv_text(sweep)
    comments = [line for line in text.splitlines() if line.startswith("#")]
    assert comments[1:5] == [
        "# design: plank-ring", "# design_hash: 8f3a", "# mesh: rings, 7 unknowns", "# error_estimate: 0.2 percent"
    ]  # fmt: skip
    assert comments[-1] == '# kept: {"winding.rounds": 44}'
    body = io.StringIO("".join(text.splitlines(keepends=True)[len(comments) :]))
    rows = list(csv.DictReader(body))
    assert list(rows[0]) == ["index", "rotor.gap_mm", "rotor.backing", *PICKS, "status", "reason"]
    assert [row["rotor.gap_mm"] for row in rows] == ["8", "8", "9", "9"]
    assert rows[1]["emf.rms_v_per_krpm"] == "0.333333333333"
    assert (rows[2]["emf.rms_v_per_krpm"], rows[2]["reason"]) == ("", REASON)


def test_json_holds_the_same_rows(sweep):
    content = json.loads(sweep_text(sweep))
    assert content["rows"][0] == [0, 8.0, "none", 18.25, "rings", 44, "ok", ""]
    assert content["rows"][2][3:] == [None, None, None, "infeasible", REASON]
    assert content["counts"] == {"points": 4, "ok": 2, "infeasible": 1, "failed": 1}
    assert content["kept"] == {"winding.rounds": 44}
    assert len(content["columns"]) == len(content["rows"][0])


def test_what_is_told(sweep):
    found = "4 points over rotor.gap_mm, rotor.backing: 2 answered, 1 cannot be built, 1 failed."
    assert counted(sweep) == found
    assert list(reaches(sweep)) == [
        "emf.rms_v_per_krpm        0.333 (gap_mm 8, backing mild steel) to 18.2 (gap_mm 8, backing none)",
        "winding.rounds_per_phase  44 everywhere",
    ]
    assert list(left_out(sweep)) == [
        "",
        f"infeasible, 1 point, first at index 2: {REASON}",
        "failed, 1 point, first at index 3: the steel's flux did not settle",
    ]


def test_a_number_of_some_points_only_is_not_everywhere(sweep):
    rows = (replace(sweep.rows[0], picked=(18.25, "rings", None)), *sweep.rows[1:])
    told = list(reaches(replace(sweep, rows=rows)))
    assert told[1] == "winding.rounds_per_phase  44 wherever it is found: 1 of 2 points"


def test_a_pick_that_no_point_has_is_said_to_be_nowhere(sweep):
    rows = tuple(replace(row, picked=(*row.picked[:2], None)) for row in sweep.rows)
    told = list(reaches(replace(sweep, rows=rows)))
    assert told[1] == "winding.rounds_per_phase  at no point: none of these machines has it"
    none_built = tuple(replace(row, status="infeasible", picked=(None,) * 3) for row in sweep.rows)
    assert list(reaches(replace(sweep, rows=none_built))) == []


def test_columns_are_masked_where_nothing_is(sweep):
    volts = sweep.column("emf.rms_v_per_krpm")
    assert volts.mask.tolist() == [False, False, True, True]
    assert volts.reshape(sweep.shape).shape == (2, 2)
    assert sweep.column("rotor.backing").mask.all()
    assert sweep.cells("mesh.model") == ("rings", "coupled rings", None, "rings")
    assert [sweep.is_numeric(key) for key in ("rotor.gap_mm", "rotor.backing", PICKS[0], "mesh.model")] == [
        True, False, True, False
    ]  # fmt: skip
    with pytest.raises(ValueError, match="read-only"):
        volts.data[0] = 1


def test_files_are_replaced_whole(sweep, tmp_path):
    write_sweep(sweep, tmp_path)
    (tmp_path / "results.csv").write_text("old")
    write_sweep(sweep, tmp_path)
    assert (tmp_path / "results.csv").read_text() == csv_text(sweep)
    assert {path.name for path in tmp_path.iterdir()} == {"results.csv", "sweep.json"}


def test_a_place_that_cannot_be_written_to(tmp_path):
    with pytest.raises(FieldrunError, match=r"cannot write .*none.*: No such file"):
        replace_text(tmp_path / "none" / "a.csv", "x")


def test_only_so_many_reasons_are_shown():
    rows = tuple(Row(n, (), (), "failed", f"cause {n}: x") for n in range(7))
    told = list(left_out(SimpleNamespace(rows=rows)))
    assert len(told) == 1 + 5 + 1
    assert told[-1] == "and 2 more reasons; the column reason has them all"
