"""The band in the builder's words and in the result file."""

import dataclasses
import io
import json

import numpy as np
import pytest

from fieldrun.design.model import Tolerance
from fieldrun.outputs.result_file import result_dict, result_text
from fieldrun.outputs.run_folder import write_run
from fieldrun.outputs.screen import show_run
from fieldrun.outputs.tolerance_told import CAPTION, band_dict, band_lines, band_rows, band_sentence
from fieldrun.studies.tolerance import ToleranceBand

KRPM = 1000 * 2 * np.pi / 60
SPREAD = {"remanence": 0.02, "gap": 0.0223, "magnet": 0.00776, "placement": 0.00136}


def band_of(**keys):
    """Machines spread evenly from 0.9 to 1.1 V s/rad, whose quantiles are known."""
    parts = {
        "tolerance": Tolerance(0.02, 0.3e-3, 0.1e-3, 0.35e-3),
        "seed": 1,
        "fields": 11,
        "drawn_rms": 1.001,
        "rms": np.linspace(0.9, 1.1, 2001),
        "spread": SPREAD,
        "shift": dict.fromkeys(SPREAD, 0.0),
        "open_face": False,
    }
    return ToleranceBand(**(parts | keys))


def volts(rms, rpm):
    return rms * rpm * 2 * np.pi / 60


def test_the_sentence_is_about_twenty_machines_and_names_what_matters(bundled):
    """Even from 0.9 to 1.1: 5 and 95 of 100 lie below 0.91 and 1.09; 500 rpm are 52.36 rad/s."""
    assert (volts(0.91, 500), volts(1.09, 500)) == pytest.approx((47.65, 57.07), abs=0.01)
    assert band_sentence(band_of(), bundled("hut-charger").design) == (
        "Of 20 machines built to these tolerances 18 give between 47.6 V and 57.1 V per phase at 500 rpm with nothing "
        "connected (as drawn 52.4 V); the gap matters most."
    )


@pytest.mark.parametrize(
    ("spread", "name"),
    [
        ({"gap": 0.05}, "height of the winding above the magnets"),
        ({"remanence": 0.05}, "strength of the magnets"),
        ({"magnet": 0.05}, "size of the magnets"),
        ({"placement": 0.05}, "place of each magnet"),
    ],
)
def test_what_matters_has_a_plain_name(bundled, spread, name):
    told = band_sentence(band_of(spread=SPREAD | spread, open_face=True), bundled("plank-ring").design)
    assert told.endswith(f"; the {name} matters most.")


def test_over_one_open_face_the_row_and_the_sentence_have_one_name():
    (row,) = [line for line in band_lines(band_of(open_face=True)) if "0.3 mm" in line]
    assert row == "height of the winding above the magnets, 0.3 mm: moves the EMF by 2.23 % (one per machine)"


@pytest.mark.parametrize(
    ("drawn", "shift", "told"),
    [
        (1.2, {"placement": -0.17}, "the place of each magnet lowers the mean by 17 %"),
        (0.8, {"gap": 0.25, "placement": -0.01}, "the gap raises the mean by 25 %"),
    ],
)
def test_a_machine_as_drawn_outside_the_band_is_told_with_its_reason(bundled, drawn, shift, told):
    band = band_of(drawn_rms=drawn, shift=dict.fromkeys(SPREAD, 0.0) | shift)
    sentence = band_sentence(band, bundled("hut-charger").design)
    assert f"(as drawn {volts(drawn, 500):.1f} V, outside that range: tolerance on {told}); the gap" in sentence


def test_one_phase_is_not_counted(bundled):
    design = bundled("plank-ring").design
    one = dataclasses.replace(design, winding=dataclasses.replace(design.winding, phases=1))
    assert "per phase" not in band_sentence(band_of(), one)


def test_without_tolerances_there_is_no_band_to_tell(bundled):
    sure = band_of(rms=np.full(5, 1.001), spread=dict.fromkeys(SPREAD, 0.0))
    told = band_sentence(sure, bundled("hut-charger").design)
    assert told == "With no tolerances every machine gives 52.4 V at 500 rpm."
    assert "matters_most" not in band_dict(sure)


def test_rows_tell_each_tolerance_and_what_it_does():
    assert band_rows(band_of()) == [
        ("strength of the magnets", "2 %", "moves the EMF by 2 % (one batch)"),
        ("gap", "0.3 mm", "moves the EMF by 2.23 % (one per machine)"),
        ("size of the magnets", "0.1 mm", "moves the EMF by 0.776 % (one batch)"),
        ("place of each magnet", "0.35 mm", "moves the EMF by 0.136 % (averages over the magnets)"),
    ]
    assert band_lines(band_of())[1] == "gap, 0.3 mm: moves the EMF by 2.23 % (one per machine)"


def test_the_result_file_carries_units_seed_and_count(bundled):
    content = json.loads(result_text(bundled("plank-ring"), band_of()))["tolerance"]
    assert content == {
        "remanence_percent": 2.0,
        "gap_mm": 0.3,
        "magnet_mm": 0.1,
        "placement_mm": 0.35,
        "seed": 1,
        "samples": 2001,
        "fields": 11,
        "rms_v_per_krpm": {
            "drawn": pytest.approx(1.001 * KRPM),
            "median": pytest.approx(KRPM),
            "percent_5": pytest.approx(0.91 * KRPM),
            "percent_95": pytest.approx(1.09 * KRPM),
        },
        "spread_percent": {key: pytest.approx(100 * share) for key, share in SPREAD.items()},
        "matters_most": "gap",
    }
    assert "tolerance" not in result_dict(bundled("plank-ring"))


def on_screen(result, detail, monkeypatch):
    screen = io.StringIO()
    monkeypatch.setattr("sys.stdout", screen)
    show_run(result, result_dict(result), None, detail, band_of())
    return " ".join(screen.getvalue().split())


def test_it_is_shown_after_the_table_and_before_the_cautions(bundled, monkeypatch):
    plank = bundled("plank-ring")
    text = on_screen(plank, 0, monkeypatch)
    parts = ("EMF per phase", band_sentence(band_of(), plank.design), CAPTION, "0.3 mm moves the EMF by", "Caution: ")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_quiet_tells_the_sentence_alone(bundled, monkeypatch):
    text = on_screen(bundled("plank-ring"), -1, monkeypatch)
    assert text.endswith("matters most.")
    assert CAPTION not in text


def test_the_summary_tells_it_too(bundled, tmp_path):
    plank = bundled("plank-ring")
    write_run(plank, tmp_path / "out", pictures=False, band=band_of())
    lines = (tmp_path / "out" / "summary.txt").read_text().splitlines()
    start = lines.index(band_sentence(band_of(), plank.design))
    assert lines[start + 1 : start + 6] == [CAPTION, *band_lines(band_of())]
    assert json.loads((tmp_path / "out" / "result.json").read_text())["tolerance"]["samples"] == 2001
