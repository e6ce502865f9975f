"""Best points in sentences and in the table."""

import pytest

from fieldrun.outputs.sweep_best_told import best_lines, best_sentence, best_table, listed_points
from fieldrun.outputs.sweep_told import show_sweep
from fieldrun.studies.sweep.choice import choose
from fieldrun.studies.sweep.goals import read_goals

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
GAP, THICK, WIRE = "rotor.gap_mm=7:12:6", "magnets.thickness_mm=3:8:6", "wire.copper_mm=0.4:0.8:5"


def chosen(sweep, *best):
    return choose(sweep, read_goals(best, sweep.picks))


def test_the_best_in_a_sentence(invented_sweep):
    sweep = invented_sweep(GAP, THICK)
    told = best_lines(sweep, chosen(sweep, EMF))
    # 0.9 x 8 / (8 + 4) = 0.6; 9 x 0.6 x 4 / 0.63 = 34.3
    assert told == ["Best of 30: gap 8 mm, magnet thickness 8 mm: 34.3 V per 1000 rpm (most rms EMF per phase)."]


def test_ties_are_told_and_the_first_counts(invented_sweep):
    sweep = invented_sweep(GAP, THICK)
    choice = chosen(sweep, OHM)
    assert choice.best[0].index == 6
    assert best_sentence(sweep, choice.best[0]) == (
        "Best of 30: gap 8 mm, magnet thickness 3 mm: 8 ohm (least warm resistance per phase), and so at 29 more."
    )


def test_no_answer_no_best(invented_sweep):
    sweep = invented_sweep("rotor.gap_mm=2,3")
    assert best_lines(sweep, chosen(sweep, EMF)) == [f"No best {EMF}: no point has one."]
    failed = invented_sweep("rotor.gap_mm=9,10", failed={0, 1})
    assert best_lines(failed, chosen(failed, EMF, OHM)) == [f"No best {key}: no point has one." for key in (EMF, OHM)]
    assert best_lines(failed, chosen(failed)) == []


def test_what_no_point_changes_is_not_repeated(invented_sweep):
    sweep = invented_sweep("rotor.gap_mm=8,9", "rotor.backing=ideal")
    choice = chosen(sweep, EMF)
    assert best_lines(sweep, choice)[0].startswith("Best of 2: gap 8 mm: ")
    assert best_table(sweep, choice)[0][1:2] == ["gap, mm"]
    alone = invented_sweep("rotor.backing=ideal")
    assert best_lines(alone, chosen(alone, EMF))[0].startswith("Best of 1: backing ideal: ")


def test_two_goals(invented_sweep):
    sweep = invented_sweep(GAP, THICK, WIRE)
    choice = chosen(sweep, EMF, OHM)
    count = len(choice.pareto)
    assert count > 3
    assert best_lines(sweep, choice)[2] == (
        f"{count} points are not bettered by any other in both rms EMF per phase and warm resistance per phase: choose "
        "among them."
    )
    one = invented_sweep(GAP)
    assert best_lines(one, chosen(one, EMF, OHM))[2] == (
        "One point is the best in both rms EMF per phase and warm resistance per phase."
    )


def test_the_table_is_the_results(invented_sweep):
    sweep = invented_sweep(GAP, THICK)
    choice = chosen(sweep, EMF)
    headings, rows = best_table(sweep, choice)
    assert [" ".join(heading.split()) for heading in headings] == [
        "#", "gap, mm", "magnet thickness, mm", "rms EMF per phase, V per 1000 rpm",
        "fundamental field at mean radius, T",
    ]  # fmt: skip
    volts = sweep.column(EMF)
    assert [row[3] for row in rows] == [f"{value:.3g}" for value in sorted(volts.compressed(), reverse=True)[:12]]
    assert rows[0] == ["1", "8", "8", "34.3", "0.6"]


def test_a_long_front_is_thinned_out_with_both_ends(invented_sweep):
    sweep = invented_sweep("wire.copper_mm=0.3:0.6:60")
    choice = chosen(sweep, EMF, OHM)
    listed = listed_points(choice)
    assert (len(choice.pareto), len(listed)) == (60, 12)
    assert (listed[0], listed[-1]) == (choice.pareto[0], choice.pareto[-1])


def test_the_screen(invented_sweep, capsys):
    sweep = invented_sweep("rotor.gap_mm=7:12:6", "rotor.backing=none,ideal", failed={11})
    show_sweep(sweep, 0, chosen(sweep, EMF))
    lines = capsys.readouterr().out.splitlines()
    assert lines[:5] == [
        "Hut charger",
        "12 points over rotor.gap_mm, rotor.backing: 9 answered, 2 cannot be built, 1 failed.",
        "Best of 9: gap 8 mm, backing ideal: 32.1 V per 1000 rpm (most rms EMF per phase).",
        "",
        "The best 9:",
    ]
    assert any(line.split()[:3] == ["1", "8", "ideal"] for line in lines)
    assert any(line.startswith("emf.rms_v_per_krpm  ") for line in lines)
    show_sweep(sweep, -1, chosen(sweep, EMF))
    assert len(capsys.readouterr().out.splitlines()) == 3


@pytest.mark.parametrize(
    ("best", "caption"), [((EMF, OHM), "Not bettered in both, 12 of 60 shown:"), ((EMF,), "The best 12:")]
)
def test_captions(invented_sweep, capsys, best, caption):
    sweep = invented_sweep("wire.copper_mm=0.3:0.6:60")
    show_sweep(sweep, 0, chosen(sweep, *best))
    assert caption in capsys.readouterr().out.splitlines()


def test_wide_tables_keep_what_varies_and_the_goals(invented_sweep):
    keys = ("rotor.gap_mm=9,10", "magnets.thickness_mm=3,4", "wire.copper_mm=0.4,0.5", "winding.layers=2,4",
            "rotor.backing_mm=4,5", "magnets.temperature_c=20,30", "wire.temperature_c=40,50")  # fmt: skip
    sweep = invented_sweep(*keys)
    headings, rows = best_table(sweep, chosen(sweep, EMF, OHM))
    assert len(headings) == 1 + 7 + 2
    assert {len(row) for row in rows} == {10}
