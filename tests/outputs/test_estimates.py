"""What the study of quick estimates tells, writes and draws."""

import csv
import dataclasses
import functools
import io
import json
import math

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design
from fieldrun.outputs.estimates_file import estimates_dict, estimates_text, table_text, write_estimates
from fieldrun.outputs.estimates_picture import estimates_picture
from fieldrun.outputs.estimates_told import (
    arrangement,
    caption,
    gap_word,
    missing,
    region_words,
    show_estimates,
    verdict,
)
from fieldrun.outputs.file_names import ESTIMATES_FILES
from fieldrun.studies.estimates_map.grid import Axes
from fieldrun.studies.estimates_map.region import Region
from fieldrun.studies.estimates_map.study import estimates_map

AXES = Axes((0.2, 0.5), (0.15, 0.4), (0.5, 0.8))


@functools.cache
def study(example, steel="ideal"):
    return estimates_map(read_design(example_path(example)), axes=AXES, steel=steel)


def test_the_verdict_names_the_best_of_either_kind():
    found = study("hut-charger")
    first, second = verdict(found)
    best = max((row for row in found.outcomes if row.label.quantity == "field"), key=lambda row: row.share_within)
    assert first.startswith(
        f"For the field, {best.label.name} is right within 5 % in {100 * best.share_within:.0f} % of "
    )
    assert second.startswith("For the EMF, ")


@pytest.mark.slow
def test_the_arrangement_is_told_in_words():
    assert [arrangement(study(name)) for name in ("hut-charger", "plank-ring", "quiet-halbach")] == [
        "16 poles of round magnets on each of two faces, steel behind them made ideal.",
        "12 poles of arc magnets on one face, no steel.",
        "16 poles of block magnets in a Halbach pattern on each of two faces, no steel.",
    ]
    own = dataclasses.replace(study("hut-charger"), steel="own")
    assert arrangement(own).endswith("steel behind them as thick as yours, saturating.")
    rotor = dataclasses.replace(own.pattern.rotor, faces=1, return_plate=own.pattern.rotor.backing)
    plated = dataclasses.replace(own, steel="ideal", pattern=dataclasses.replace(own.pattern, rotor=rotor))
    assert arrangement(plated) == (
        "16 poles of round magnets on one face, steel behind them and across the gap made ideal."
    )


def test_the_caption_says_what_the_grid_spans():
    told = caption(study("plank-ring"))
    assert told.startswith(
        "8 machines: room for the winding / pole pitch 0.2 to 0.5, magnet thickness / pole pitch 0.15 to 0.4, "
        "magnets over 0.5, 0.8 of their pitch; yours has 0.139, 0.266 and 0.85."
    )
    assert "the EMF of one round of a serpentine" in told
    assert gap_word(study("hut-charger")) == "gap"


@pytest.mark.parametrize(
    ("region", "words"),
    [
        (None, "in no region"),
        (Region((None, None), (None, None), (None, None), 8), "on all the grid"),
        (Region((None, 0.3), (None, None), (None, None), 4), "gap up to 0.3 (4 of 8)"),
        (Region((0.2, None), (0.1, 0.4), (0.7, 0.7), 4), "gap from 0.2, thickness 0.1 to 0.4, share = 0.7 (4 of 8)"),
    ],
)
def test_a_region_in_words(region, words):
    assert region_words(region, study("hut-charger")) == words


def test_what_is_missing_is_told_once_for_each_reason():
    assert missing(study("hut-charger")) == []
    assert missing(study("plank-ring")) == [
        "circuit, no leakage and circuit with leakage: no steel stands at both ends of the flux's way across the gap"
    ]


def test_the_screen_tells_more_or_less(capsys):
    lines = {}
    for detail in (-1, 0, 1):
        show_estimates(study("plank-ring"), detail)
        lines[detail] = capsys.readouterr().out
    assert lines[-1].splitlines()[0] == "Plank ring"
    assert "holds everywhere where" not in lines[-1]
    assert lines[0].startswith(lines[-1])
    assert "Not here: circuit, no leakage and circuit with leakage:" in lines[0]
    assert "layered Fourier: Magnets endless" in lines[1]
    assert "layered Fourier: Magnets endless" not in lines[0]
    assert max(map(len, lines[1].splitlines())) <= 110


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_the_file_holds_every_estimate_and_no_nan(example):
    found = study(example)
    content = json.loads(estimates_text(found))
    assert content == estimates_dict(found)
    assert (content["schema"], content["name"]) == (1, example)
    assert content["design"]["title"] == found.design.title
    assert content["error_estimate_percent"] >= 0.2
    assert content["gap_is"] == ("twice the winding's height" if example == "plank-ring" else "gap")
    assert [row["key"] for row in content["estimates"]] == [row.label.key for row in found.rows]
    for row in content["estimates"]:
        assert ("reason" in row) != ("median_percent" in row)
    spoilt = dataclasses.replace(found, numerical_percent=math.nan)
    with pytest.raises(ValueError, match="not JSON compliant"):
        estimates_text(spoilt)


def test_the_table_has_every_machine_and_the_design_last():
    found = study("hut-charger")
    lines = table_text(found).splitlines()
    facts = [line for line in lines if line.startswith("#")]
    assert [line.split(":")[0] for line in facts] == [
        "# fieldrun", "# design", "# design_hash", "# mesh", "# error_estimate_percent", "# arrangement",
    ]  # fmt: skip
    rows = list(csv.DictReader(io.StringIO("\n".join(lines[len(facts) :]))))
    assert [row["yours"] for row in rows] == ["0"] * 8 + ["1"]
    for index, row in enumerate(rows[:8]):
        outcome = found.outcomes[0]
        assert float(row["gap_over_pitch"]) == AXES.points[index].gap
        assert float(row["circuit_t"]) == pytest.approx(outcome.values[index], rel=1e-8)
        off = 100 * (float(row["circuit_t"]) / float(row["b1_rings_t"]) - 1)
        assert float(row["circuit_error_percent"]) == pytest.approx(off, abs=1e-5)
        off = 100 * (float(row["blv_v_s_per_rad"]) / float(row["emf_rings_v_s_per_rad"]) - 1)
        assert float(row["blv_error_percent"]) == pytest.approx(off, abs=1e-5)
    assert float(rows[-1]["gap_over_pitch"]) == pytest.approx(found.own_point.gap, rel=1e-8)


@pytest.mark.slow
def test_the_picture_has_a_map_for_each_estimate_and_share_and_a_cross_where_the_design_is():
    found = estimates_map(read_design(example_path("hut-charger")), axes=dataclasses.replace(AXES, shares=(0.5, 0.9)))
    own = dataclasses.replace(AXES, shares=(0.5, found.own_point.share))
    crossed = estimates_map(found.design, axes=own)
    for study_, crosses in ((found, 0), (crossed, 1)):
        maps = [axes for axes in estimates_picture(study_).axes if axes.get_xscale() == "log"]
        assert len(maps) == 2 * len(study_.outcomes)
        marked = [axes for axes in maps if any(line.get_marker() == "x" for line in axes.lines)]
        assert len(marked) == crosses * len(study_.outcomes)
    signs = [text.get_text() for axes in estimates_picture(crossed).axes for text in axes.texts]
    assert sum(text.endswith(" %") for text in signs) == len(crossed.outcomes)


def test_colours_part_at_the_allowed_error():
    """White on either side of zero, blue below, brown above, and the limits are written at the bar."""
    figure = estimates_picture(dataclasses.replace(study("hut-charger"), allowed_percent=3.0))
    bar = next(axes for axes in figure.axes if len(axes.get_xticklabels()) == 8 and axes.get_xscale() == "linear")
    names = [label.get_text() for label in bar.get_xticklabels()]
    assert names == ["\u221224", "\u221212", "\u22126", "\u22123", "+3", "+6", "+12", "+24"]
    shades = [patch.get_facecolor() for patch in bar.patches]
    assert shades[4][:3] == (1.0, 1.0, 1.0)
    assert all(shade[2] > shade[0] for shade in shades[:4])
    assert all(shade[2] < shade[0] for shade in shades[5:])


@pytest.mark.slow
def test_text_stays_on_the_page():
    for example in ("hut-charger", "plank-ring", "quiet-halbach"):
        figure = estimates_picture(study(example))
        figure.canvas.draw()
        for text in figure.texts:
            box = text.get_window_extent().transformed(figure.transFigure.inverted())
            assert box.x0 >= 0, text.get_text()
            assert box.y0 >= 0, text.get_text()
            assert box.x1 <= 1, text.get_text()
            assert box.y1 <= 1, text.get_text()


@pytest.mark.slow
def test_files_are_the_same_every_time(tmp_path):
    for name in ("one", "two"):
        write_estimates(study("plank-ring"), tmp_path / name)
    first, second = tmp_path / "one", tmp_path / "two"
    assert {path.name for path in first.iterdir()} == ESTIMATES_FILES
    for path in first.iterdir():
        assert path.read_bytes() == (second / path.name).read_bytes()
    again = estimates_map(read_design(example_path("plank-ring")), axes=AXES)
    assert table_text(again) == table_text(study("plank-ring"))
    write_estimates(study("plank-ring"), first, pictures=False)
    assert {path.name for path in first.iterdir()} == {"estimates.json", "estimates.csv"}
    assert np.isfinite(again.truth.b1_t).all()


def test_one_gap_has_no_map(tmp_path):
    found = estimates_map(read_design(example_path("plank-ring")), axes=Axes((0.2,), (0.2, 0.3), (0.5,)))
    write_estimates(found, tmp_path / "here")
    assert {path.name for path in (tmp_path / "here").iterdir()} == {"estimates.json", "estimates.csv"}
