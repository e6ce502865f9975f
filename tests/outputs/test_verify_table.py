"""What is said of a comparison: the verdict in sentences, then one row for every way."""

import dataclasses

import pytest

from fieldrun.outputs.screen import WIDE
from fieldrun.outputs.verify_table import caption, show_verify, signed, verdict

UNJUDGED = {"sections": 5.0, "k1": -0.5, "rings": 0.0, "solid": "does not apply: magnets on their side"}


def shown(comparison, capsys, detail=0):
    show_verify(comparison, detail)
    return capsys.readouterr().out


def test_a_default_that_holds(compared):
    first, second = verdict(compared())
    assert first == (
        "The default answer (rings) holds: its EMF is 0.30 % above that of the whole machine in three dimensions "
        "(solid); up to 2 % is let pass."
    )
    assert second == "Flat sections alone would promise 9.7 % too much."


def test_a_default_that_fails_is_not_to_be_counted_on(compared):
    (told,) = verdict(compared({"sections": 1.0, "rings": -3.04, "solid": 0.0}))
    assert told == (
        "The default answer (rings) fails: its EMF is 3.0 % below that of the whole machine in three dimensions "
        "(solid); only 2 % is let pass. Count on the solid answer instead."
    )


def test_a_default_without_a_judge_says_why_and_what_comes_nearest(compared):
    first, second, third = verdict(compared(UNJUDGED))
    assert first == ("The default answer (rings) was not judged in three dimensions: magnets on their side.")
    assert second == "The best other way, sections + K1, gives an EMF 0.50 % below it."
    assert third == "Flat sections alone would promise 5.0 % too much."


def test_a_second_way_far_off_is_told(compared):
    assert verdict(compared(UNJUDGED | {"k1": 4.0}))[1] == (
        "The best other way, sections + K1, gives an EMF 4.0 % above it, too far apart to leave it at that."
    )


def test_a_default_all_alone(compared):
    assert verdict(compared({"rings": 0.0})) == [
        "The default answer (rings) was not judged in three dimensions.",
        "No other way here knows how flux spreads past the magnets' ends.",
    ]


def test_flat_sections_that_are_right_are_not_told_off(compared):
    assert len(verdict(compared({"sections": 0.09, "rings": 0.0, "solid": 0.0}))) == 1
    assert verdict(compared({"sections": -0.4, "rings": 0.0, "solid": 0.0}))[1] == (
        "Flat sections alone would promise 0.40 % too little."
    )


def test_the_same_is_the_same(compared):
    assert "its EMF is the same as that of" in verdict(compared({"rings": 0.001, "solid": 0.0}))[0]


def test_no_field_is_nothing_to_compare(compared, capsys):
    nothing = compared(emf=0.0)
    assert verdict(nothing) == ["The winding meets no field: there is nothing to compare."]
    assert "%" not in shown(nothing, capsys)


@pytest.mark.parametrize(
    ("percent", "text"),
    [
        (8.84, "+8.8 %"),
        (-0.042, "-0.04 %"),
        (0.996, "+1.0 %"),
        (-0.0049, "0.00 %"),
        (0, "0.00 %"),
        (41, "+41.0 %"),
        (-100, "-100 %"),
    ],
)
def test_differences_have_a_sign_and_the_decimals_they_deserve(percent, text):
    assert signed(percent) == text


def test_every_way_is_a_row_under_its_headings(compared, capsys):
    lines = shown(compared(), capsys).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("way "))
    assert lines[start].split("  ")[0] == "way"
    assert [line.split("  ")[0] for line in lines[start + 1 :]] == [
        "hand calculation",
        "layered Fourier",
        "flat sections",
        "sections + K1",
        "rings",
        "solid",
    ]
    # 0.005 V s/rad is 0.5236 V at 1000 rpm
    assert lines[start + 5].split() == ["rings", "0.7222", "0.5252", "+0.30", "%", "0.25", "Leaves", "rings", "out."]
    assert lines[start + 6].split()[1:5] == ["0.7200", "0.5236", "best", "0.25"]


def test_an_absence_is_a_row_with_its_reason(compared, capsys):
    for detail in (0, 1):
        last = shown(compared(UNJUDGED), capsys, detail).splitlines()[-1]
        assert last.split("  ")[0] == "solid"
        assert last.endswith("  Does not apply: magnets on their side.")


def test_quiet_is_the_verdict_alone(compared, capsys):
    words = " ".join(shown(compared(), capsys, -1).split())
    assert words == " ".join(["Hut charger", *verdict(compared())])


def test_curious_ones_see_v_s_per_rad(compared, capsys):
    assert "V s/rad" not in shown(compared(), capsys)
    curious = shown(compared(), capsys, 1)
    assert "EMF, V s/rad" in curious
    assert "0.005015" in curious


def test_the_caption_says_where_and_of_what(compared):
    assert "mean radius of 66 mm, 4 mm above the lower magnets" in caption(compared())
    assert "the main wave of one round of the 44 in a phase" in caption(compared())
    assert "the main wave of one phase" in caption(dataclasses.replace(compared(), rounds_per_phase=1))


def test_nothing_is_wider_than_the_house_allows_or_steers_the_terminal(compared, capsys):
    comparison = compared()
    design = dataclasses.replace(comparison.design, title="Hut\x1b[31m")
    text = shown(dataclasses.replace(comparison, design=design), capsys, 1)
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= WIDE
