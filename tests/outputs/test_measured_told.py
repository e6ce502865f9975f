"""Bench readings on the screen: what is said first, the rows, and what is said when nothing or everything fits."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.readings import Reading, Readings
from fieldrun.outputs.measured_file import measured_dict
from fieldrun.outputs.measured_told import caption, explanations_table, readings_table, show_measured, verdict
from fieldrun.outputs.sentences import plain
from fieldrun.studies.measured.odd_one import OddOne
from fieldrun.studies.measured.study import Alternative, measured


def test_the_verdict_of_the_bundled_bench(benched):
    first, likely, fits, scan = verdict(benched)
    assert first.startswith("Beside the prediction the volts are 4.2")
    assert "Most likely one phase is joined the wrong way round, and the gap is 8.4" in likely
    assert "swap the ends of one phase after another" in likely
    assert fits.startswith("If that is so and nothing else is wrong, the gap is 8.4")
    assert "With the scan the two are told apart" in fits
    assert "its angles turned by 2 degrees to fit" in scan


def test_without_a_scan_they_are_not_told_apart(benched):
    both = replace(benched.both, gap_m=None, gap_error_m=None, remanence_t=None, remanence_error_t=None)
    told = " ".join(verdict(replace(benched, both=both, scan=None)))
    assert "These readings cannot tell the two apart (correlation -0." in told
    assert "mm of gap does what 1 % of remanence does. A scan of the field at several heights" in told


def test_agreement_and_despair(benched):
    drawn = replace(benched.as_drawn, explains=True)
    agreed = " ".join(verdict(replace(benched, explanations=(drawn,), scan=None)))
    assert "The readings agree with the drawing: nothing needs to be supposed." in agreed
    nothing = (replace(benched.best, explains=False), benched.as_drawn)
    lost = " ".join(verdict(replace(benched, explanations=nothing, scan=None)))
    assert "Nothing that was tried explains all readings: the nearest is that one phase" in lost
    assert "Measure again, one thing at a time." in lost
    blind = " ".join(verdict(replace(benched, gap=None, remanence=None, both=None, scan=None)))
    assert "None of these readings depends on the gap or the magnets: measure volts, too." in blind


def test_next_to_nothing_asks_for_wire_and_leads_before_magnets(benched):
    rows = tuple(replace(row, value=0.0) if row.kind != "phase_ohm" else row for row in benched.bench.rows)
    dead = replace(benched, bench=replace(benched.bench, rows=rows), scan=None, gap=None, remanence=None, both=None)
    _, told, *rest = verdict(dead)
    assert told.startswith("Next to nothing is induced: is the wire whole, do the leads touch bare copper, ")
    assert "is the meter on AC volts? Of the mistakes that were tried, it fits that one phase is" in told
    assert not [sentence for sentence in rest if "measure volts, too" in sentence]


def test_the_one_reading_against_all_others(benched):
    off = plain(100 * (1 - benched.bench.ratio[1]), "%")
    (_, told, *_) = verdict(replace(benched, odd=OddOne(1, None)))
    end = f"phase, effective, 200 rpm, is {off} below, and nothing that was tried explains it beside the others. Read"
    assert told == f"All readings but one agree with the drawing: {end} that one again."
    (_, told, *_) = verdict(replace(benched, odd=OddOne(1, benched.gap)))
    assert told.startswith("All readings but one agree with the drawing if the gap is ")
    assert told.endswith(f" mm (drawn 8): {end} that one again.")
    assert measured_dict(replace(benched, odd=OddOne(1, None)))["odd_reading_line"] == benched.bench.rows[1].line
    assert "odd_reading_line" not in measured_dict(benched)


def test_what_is_not_seen_and_not_ruled_out(benched):
    other = next(one for one in benched.explanations if one.guess.key == "delta_for_star")
    near = replace(other, score=benched.best.score + 1)
    found = replace(benched, alternatives=(Alternative(near, "open_dc_v"),), unseen=(other.guess,))
    told = " ".join(verdict(found))
    assert "Of several explanations that fit alike the first is that one phase" in told
    assert "(to tell, measure the open direct voltage behind the bridge)" in told
    assert told.endswith("They would not show that the phases are joined in delta, not in star.")


def test_rows_and_explanations(benched):
    headings, rows = readings_table(benched)
    assert headings == ("reading", "measured", "predicted", "ratio", "best", "left")
    assert len(rows) == 10
    assert rows[1][0] == "phase, effective, 200 rpm"
    assert rows[1][1:4] == ("5.16 V", "5.39", "0.958")
    assert rows[-1][0] == "ohms of a phase, 17 C"
    assert abs(float(rows[5][5].split()[0])) < 1.5
    listed = explanations_table(benched, 3)[1]
    assert [row[0] for row in listed] == ["1", "2", "3"]
    assert float(listed[0][3]) < float(listed[1][3]) < float(listed[2][3])
    assert listed[0][4] == "yes"
    assert "from their spread" in caption(benched)


def test_a_row_that_is_given_is_told_as_such(benched):
    used = np.array([False] + 9 * [True])
    rows = readings_table(replace(benched, bench=replace(benched.bench, used=used)))[1]
    assert (rows[0][3], rows[0][5]) == ("-", "given")


@pytest.mark.parametrize(("detail", "lines"), [(-1, 14), (0, 45), (1, 120)])
def test_how_much_is_shown(benched, detail, lines, capsys):
    show_measured(benched, detail)
    shown = capsys.readouterr().out.splitlines()
    assert shown[0] == "Hut charger"
    assert len(shown) < lines
    assert max(map(len, shown)) <= 110
    assert ("reading " in " ".join(shown)) == (detail >= 0)


@pytest.mark.parametrize(
    ("factor", "column", "said"),
    [
        (0.92, "speed_rpm", "Or the speed was 8 % less than written, which would read the same: count the turns"),
        (1.08, "speed_rpm", "Or the speed was 8 % more than written, which would read the same: count the turns"),
        (0.92, "frequency_hz", None),
        (1.0, "speed_rpm", None),
    ],
)
def test_a_speed_that_was_not_what_it_seemed_explains_volts_as_a_gap_does(bundled, factor, column, said):
    """A frequency is the machine's own: nothing slips between it and the volts."""
    result = bundled("hut-charger")
    rounds_s = {"speed_rpm": 1 / 60, "frequency_hz": 1 / result.emf.pole_pairs}[column]
    rows = [
        Reading(i, "open_phase_rms_v", factor * result.emf.rms[0] * 2 * np.pi * rounds_s * speed, speed, column)
        for i, speed in enumerate((100.0, 200.0, 300.0), start=2)
    ]
    told = " ".join(verdict(measured(result, Readings("bench.csv", tuple(rows)))))
    assert (said in told) if said else ("Or the speed" not in told)
