"""What is told of one design and of two: places, scales, sentences, the record, the folder."""

import json
import math
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.outputs.fields.asked import Asked
from fieldrun.outputs.fields.field_file import field_dict, field_text, write_fields
from fieldrun.outputs.fields.field_set import check_pair, field_set
from fieldrun.outputs.fields.tables import check_solid
from fieldrun.outputs.fields.told import difference_of, notes, peak_of, sentences
from fieldrun.outputs.file_names import EVERY_FILE, FIELD_FILES

TABLES = {"field-grid.csv", "field-grid.npz", "field-section.vtu", "field-rings.vtu", "field.json"}


@pytest.fixture(scope="module")
def alone(hut):
    return field_set(hut, Asked())


@pytest.fixture(scope="module")
def beside(hut, wider):
    return field_set(hut, Asked(), wider)


def test_one_scale_holds_map_and_cuts_and_both_designs(alone, beside, hut, wider):
    assert alone.gap_top_t == beside.gap_top_t == 0.8
    assert alone.largest_t <= alone.gap_top_t
    back = field_set(wider, Asked(heights_m=(0.004,)), hut)
    assert (back.gap_top_t, back.section_top_t) == (beside.gap_top_t, beside.section_top_t)
    largest = np.abs(beside.other_map.b_t[2] - beside.map_grid.b_t[2]).max()
    assert largest <= beside.difference_top_t <= 1.4 * largest
    assert alone.difference_top_t == 0
    fixed = field_set(hut, Asked(), None, 0.5, 2.5)
    assert (fixed.gap_top_t, fixed.height_top_t, fixed.section_top_t) == (0.5, 0.5, 2.5)


def test_a_scale_that_is_exceeded_is_noted(hut, alone):
    assert notes(alone) == []
    (note,) = notes(field_set(hut, Asked(), None, 0.5))
    assert note.startswith("the scale ends at 0.5 T, where the field reaches 0.70")


@pytest.mark.slow
def test_an_outline_laid_over_plain_rings_is_noted(answered):
    mesh = Path(__file__).parents[3] / "meshes" / "quiet_halbach_whole_pole.msh"
    fields = field_set(answered("quiet-halbach", {"magnets.section_mesh": str(mesh)}), Asked())
    assert notes(fields) == [
        "field-rings and field-radial show plain magnets; the outline drawn is laid over them in the others"
    ]


def test_the_map_shows_what_is_asked_or_magnets_and_winding(hut, alone):
    assert alone.map_grid.radii_m[0] < 0.053
    assert alone.map_grid.angles_rad[[0, -1]] == pytest.approx([-math.pi / 16, 3 * math.pi / 16])
    asked = field_set(hut, Asked((0.06, 0.07), (0.0, 0.3), tuple(np.linspace(0.001, 0.007, 5)))).map_grid
    assert asked.radii_m[[0, -1]] == pytest.approx([0.06, 0.07])
    assert asked.angles_rad[[0, -1]] == pytest.approx([0, 0.3])
    assert asked.heights_m == pytest.approx([0.001, 0.004, 0.007])


def test_sentences(alone, hut):
    first, second = sentences(alone)
    assert first == (
        "The field along the shaft reaches 0.678 T at radius 66 mm, 0 degrees from a north pole's centre, 4 mm above "
        "the lower magnets."
    )
    assert second == "Its main wave there is 0.722 T; the table holds 2619 points."
    peak = peak_of(alone.grid)
    assert peak.b_z_t == pytest.approx(hut.field_at(peak.radius_m, peak.angle_rad, peak.height_m)[2])
    assert peak.b_z_t == np.abs(alone.grid.b_t[2]).max()
    assert sentences(field_set(hut, Asked((0.06,), (0.0,), (0.004,))))[1].endswith("the table holds 1 point.")


def test_the_difference_is_the_second_less_the_first(beside, hut, wider):
    difference = difference_of(beside)
    grid = beside.grid
    places = np.meshgrid(grid.radii_m, grid.angles_rad, grid.heights_m, indexing="ij")
    assert difference == pytest.approx(wider.field_at(*places) - hut.field_at(*places), abs=1e-12)
    assert difference[2][13, 0, 0] < -0.03  # a wider gap is weaker over a north pole
    told = sentences(beside)[2]
    assert told.startswith("hut-charger differs from hut-charger by at most 0.0")
    rms = 100 * np.sqrt(np.mean(difference[2] ** 2) / np.mean(grid.b_t[2] ** 2))
    assert f"{rms:.3g} % on the average (effective values)." in told


def refusal(call):
    with pytest.raises(DesignError) as caught:
        call()
    return [str(fault) for fault in caught.value.faults]


def test_designs_that_cannot_be_set_against_each_other(hut, plank, wider):
    same = "OTHER: is the same design as the first, so that nothing differs; received hut-charger"
    assert refusal(lambda: field_set(hut, Asked(), hut)) == [same]
    assert refusal(lambda: check_pair(hut.design, hut.design)) == [same]
    poles = "OTHER: must have as many poles as the first, 16, for places to correspond; plank-ring has 12"
    assert refusal(lambda: check_pair(hut.design, plank.design)) == [poles]
    assert refusal(lambda: field_set(hut, Asked(heights_m=(0.009,)), plank)) == [
        "--heights: above the gap of 8 mm lie the upper magnets, which the map leaves out; received 9 mm",
        poles,
    ]
    assert refusal(lambda: field_set(wider, Asked(heights_m=(0.009,)), hut)) == [
        (
            "--heights: in hut-charger, above the gap of 8 mm lie the upper magnets, which the map leaves out; "
            "received 9 mm"
        )
    ]
    check_pair(hut.design, wider.design)


def test_what_the_solid_model_does_not_know(hut, answered):
    check_solid(hut.design)
    lying = answered("quiet-halbach").design
    assert refusal(lambda: check_solid(lying)) == [
        "--solid: knows alternating discs, blocks and arcs only, not a Halbach array; leave it out"
    ]


def test_the_record(beside, hut, wider):
    content = json.loads(field_text(field_dict(beside, ["b", "a"])))
    assert (content["name"], content["design_hash"]) == ("hut-charger", hut.design_hash)
    assert content["other"]["design_hash"] == wider.design_hash
    assert content["grid"]["heights_mm"] == {"start": pytest.approx(4), "stop": pytest.approx(4), "count": 1}
    assert content["grid"]["points"] == 2619
    assert content["scales"] == {
        "gap_t": 0.8,
        "over_height_t": 0.8,
        "section_t": pytest.approx(beside.section_top_t),
        "difference_t": beside.difference_top_t,
    }
    assert content["files"] == ["a", "b"]
    assert content["harmonics"]["radii"][1]["b_z_t"]["1"] == pytest.approx(0.722, abs=0.001)
    assert "other" not in field_dict(field_set(hut, Asked()), [])


def test_the_folder_of_one_design(alone, tmp_path):
    content = write_fields(alone, tmp_path / "out", pictures=False)
    found = {path.name for path in (tmp_path / "out").iterdir()}
    assert found == TABLES == set(content["files"])
    assert found < FIELD_FILES < EVERY_FILE


def test_what_other_commands_left_of_the_design_stays(alone, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "verify.json").write_text(json.dumps({"name": "hut-charger", "design_hash": "1"}))
    (folder / "field-difference.csv").write_text("old")
    write_fields(alone, folder, pictures=False)
    assert {path.name for path in folder.iterdir()} == TABLES | {"verify.json"}


def test_swept_and_solid_are_written_if_asked(beside, tmp_path):
    write_fields(beside, tmp_path / "out", pictures=False, swept=True, solid=True)
    more = {"field-rings-swept.vtu", "field-solid.vtu", "field-difference.csv"}
    assert {path.name for path in (tmp_path / "out").iterdir()} == TABLES | more
    head = (tmp_path / "out" / "field-difference.csv").read_text(encoding="utf-8").split("r_mm")[0]
    assert "# shows: hut-charger less hut-charger" in head
    assert "# other_hash: " in head
