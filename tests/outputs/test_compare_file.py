"""`compare.json` and `compare.csv` for programs: units in the keys, finite numbers, a reason where nothing is laid."""

import csv
import dataclasses
import json
import math

import pytest

import fieldrun
from fieldrun.outputs import compare_picture
from fieldrun.outputs.compare_file import COLUMNS, compare_dict, compare_text, csv_text, rows_of, write_compare
from fieldrun.outputs.compare_told import verdict
from fieldrun.outputs.file_names import COMPARE_FILES
from fieldrun.studies.candidates import LAYS
from fieldrun.studies.wound import NotWound

WATTS = (100 * math.pi / 30) ** 2
"""At 100 rpm, of one W s2/rad2."""


def test_the_facts(shapes):
    content = json.loads(compare_text(shapes))
    assert (content["schema"], content["fieldrun"], content["name"]) == (1, fieldrun.__version__, "plank-ring")
    assert content["design_hash"] == shapes.design_hash
    assert content["designs"][0]["design"]["winding"]["shape"] == "serpentine"
    assert (content["terms"], content["sheets"], content["speed_rpm"]) == ("equal space", 4, 100)
    assert content["verdict"] == verdict(shapes)
    assert content["equal_copper_g"] == 1000 * shapes.least_copper_kg


def test_a_row_for_each_winding_with_units_in_the_keys(shapes):
    rows = compare_dict(shapes)["windings"]
    assert len(rows) == 3 * len(LAYS)
    (own,) = [row for row in rows if row["yours"]]
    merits = next(row for row in shapes.wound if row.candidate.own).merits
    assert (own["shape"], own["phases"], own["belts"]) == ("serpentine", 3, 1)
    assert own["emf_rms_v"] == pytest.approx(merits.emf_v_s_per_rad * math.sqrt(WATTS))
    assert own["emf2_over_r_w"] == pytest.approx(3 * own["emf_rms_v"] ** 2 / own["resistance_hot_ohm"])
    assert own["emf2_over_r_w_per_kg"] == pytest.approx(1000 * own["emf2_over_r_w"] / own["copper_mass_g"])
    assert own["copper_mass_g"] == pytest.approx(1000 * merits.copper_mass_kg)
    assert (own["inner_radius_mm"], own["outer_radius_mm"]) == pytest.approx((44, 71))
    assert "span" not in own
    assert "emf2_over_r_before_w" not in own


def test_equal_copper_follows_by_thinner_wire(shapes):
    content = compare_dict(shapes)
    mass = content["equal_copper_g"]
    heavy = [row for row in content["windings"] if row["copper_mass_g"] >= mass * (1 - 1e-9)]
    assert {row["phases"] for row in heavy} >= {3}
    for row in content["windings"]:
        if row not in heavy:
            assert row.keys().isdisjoint({"equal_copper_w", "equal_copper_strand_mm"})
    for row in heavy:
        assert row["equal_copper_w"] == pytest.approx(row["emf2_over_r_w_per_kg"] * mass / 1000)
        assert row["equal_copper_strand_mm"] == pytest.approx(0.5 * math.sqrt(mass / row["copper_mass_g"]))
        assert row["equal_copper_strand_mm"] <= 0.5 * (1 + 1e-12)


def test_angles_where_the_shape_has_them(shapes):
    by_shape = {row["shape"]: row for row in compare_dict(shapes)["windings"]}
    assert by_shape["rhomboid"]["skew"] == 0.5
    assert "skew" not in by_shape["hexagon"]
    assert by_shape["hexagon"]["straight_share"] == pytest.approx(1 / 3)


def refused(shapes):
    rows = [NotWound(r.candidate, 'too "thick", here') if r.candidate.name == "zigzag" else r for r in shapes.rows]
    return dataclasses.replace(shapes, rows=tuple(rows))


def test_what_cannot_be_laid_has_a_reason_and_no_figures(shapes):
    last = rows_of(refused(shapes))[-1]
    assert last == {
        "winding": "zigzag, two belts", "shape": "zigzag", "phases": 3, "belts": 2, "yours": False,
        "reason": 'too "thick", here',
    }  # fmt: skip


def test_at_their_best_there_is_a_before(shapes):
    rows = tuple(dataclasses.replace(r, before=r.merits, at_edge=("span",)) for r in shapes.rows)
    row = rows_of(dataclasses.replace(shapes, rows=rows))[0]
    assert row["emf2_over_r_before_w"] == pytest.approx(row["emf2_over_r_w"])
    assert row["at_edge"] == ["span"]


def test_designs_as_they_stand_have_no_common_space(beside):
    content = compare_dict(beside)
    assert "sheets" not in content
    assert content["name"] == "plank-ring, quiet-halbach"
    assert [design["name"] for design in content["designs"]] == ["plank-ring", "quiet-halbach"]


def test_every_number_is_finite_and_none_is_null(shapes):
    def check(value):
        if isinstance(value, dict):
            assert all(check(inner) for inner in value.values())
        elif isinstance(value, list):
            assert all(check(inner) for inner in value)
        elif isinstance(value, float):
            assert math.isfinite(value)
        assert value is not None
        return True

    assert check(compare_dict(refused(shapes)))
    nothing = dataclasses.replace(shapes, rows=())
    assert "equal_copper_g" not in compare_dict(nothing)


def test_nan_never_leaves(shapes):
    row = shapes.rows[0]
    broken = dataclasses.replace(row, merits=dataclasses.replace(row.merits, resistance_ohm=math.nan))
    with pytest.raises(ValueError, match="not JSON compliant"):
        compare_text(dataclasses.replace(shapes, rows=(broken,)))


def test_the_csv_holds_the_same(shapes):
    text = csv_text(refused(shapes))
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    table = list(csv.DictReader(lines))
    assert tuple(table[0]) == COLUMNS
    rows = rows_of(refused(shapes))
    assert len(table) == len(rows) == 3 * len(LAYS)
    for told, row in zip(table, rows, strict=True):
        assert {key: str(value) for key, value in row.items()} == {key: told[key] for key in row}
        assert all(told[key] == "" for key in COLUMNS if key not in row)
    assert text.startswith(f"# fieldrun: {fieldrun.__version__}\n# design: plank-ring\n# design_hash: ")


def test_every_key_of_a_row_has_its_column(shapes):
    assert {key for row in rows_of(refused(shapes)) for key in row} <= set(COLUMNS)


def test_a_folder_of_files(shapes, tmp_path):
    write_compare(shapes, tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == COMPARE_FILES
    png = (tmp_path / "out" / "compare.png").read_bytes()
    assert verdict(shapes).split(",")[0].encode() in png


def test_what_other_commands_left_of_the_same_design_stays(shapes, tmp_path):
    for name, design in (("result.json", "plank-ring"), ("verify.json", "plank-ring")):
        (tmp_path / name).write_text(json.dumps({"name": design, "design_hash": "8f3a"}))
    write_compare(shapes, tmp_path, pictures=False)
    assert {path.name for path in tmp_path.iterdir()} == {"result.json", "verify.json", "compare.json", "compare.csv"}


def test_what_they_left_of_another_design_goes(shapes, tmp_path):
    (tmp_path / "result.json").write_text(json.dumps({"name": "hut", "design_hash": "8f3a"}))
    (tmp_path / "diary.txt").touch()
    write_compare(shapes, tmp_path, pictures=False)
    assert {path.name for path in tmp_path.iterdir()} == {"compare.json", "compare.csv", "diary.txt"}


def test_a_picture_that_fails_leaves_nothing(shapes, tmp_path, monkeypatch):
    def fail(comparison):
        raise ZeroDivisionError

    monkeypatch.setattr(compare_picture, "compare_picture", fail)
    with pytest.raises(ZeroDivisionError):
        write_compare(shapes, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_without_a_single_winding_there_is_nothing_to_draw(shapes, tmp_path):
    rows = tuple(NotWound(row.candidate, "too thick") for row in shapes.rows)
    write_compare(dataclasses.replace(shapes, rows=rows), tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"compare.json", "compare.csv"}
