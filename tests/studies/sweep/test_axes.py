"""One key and its values, as written on a command line: what is understood, and what is said of the rest."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import DesignError
from fieldrun.studies.sweep.axes import read_axes, read_axis

STEELS = 'behind the magnets: "none", "ideal", a steel of the library, or a B-H table (.csv)'
FORMS = "write KEY=START:STOP:COUNT, or KEY=a,b,c"


def values(text, **options):
    axis = read_axis(text, **options)
    return [axis.at(index) for index in range(axis.count)]


def complaints(*written, **options):
    with pytest.raises(DesignError) as caught:
        read_axes(written, **options)
    return [str(fault) for fault in caught.value.faults]


def test_a_range_has_both_ends_in_it():
    assert values("rotor.gap_mm=5:10:11") == [5, 5.5, 6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5, 10]


def test_values_carry_no_noise_of_arithmetic():
    """0.1 + 0.2 is 0.30000000000000004."""
    assert values("rotor.gap_mm=0.2:0.5:4") == [0.2, 0.3, 0.4, 0.5]


@given(st.floats(0.1, 50), st.floats(0.1, 50), st.integers(2, 60))
@settings(derandomize=True, max_examples=60)
def test_ranges_rise_evenly(start, width, count):
    found = values(f"rotor.gap_mm={start!r}:{start + width!r}:{count}")
    assert len(found) == count
    steps = [b - a for a, b in itertools.pairwise(found)]
    assert steps == pytest.approx([width / (count - 1)] * (count - 1), rel=1e-6)


def test_lists_of_numbers_and_words():
    assert values("rotor.gap_mm=9,8.5,stack") == [9, 8.5, "stack"]
    assert values("rotor.backing=none, mild steel ,ideal") == ["none", "mild steel", "ideal"]
    assert values("winding.rounds=fill,12") == ["fill", 12]
    assert values('winding.shape="zigzag"') == ["zigzag"]


def test_whole_numbers_stay_whole():
    assert values("magnets.count=12:20:5") == [12, 14, 16, 18, 20]
    assert all(isinstance(count, int) for count in values("magnets.count=12:20:5"))
    assert values("rotor.faces=1,2") == [1, 2]


def test_a_speed_is_one_of_a_list():
    assert values("load.speeds_rpm=200:400:3") == [200, 300, 400]


def test_a_sample_needs_no_count_and_covers_its_range():
    axis = read_axis("rotor.gap_mm=5:10", sampled=True)
    assert (axis.at_share(0), axis.at_share(0.5), axis.at_share(0.999)) == (5, 7.5, 9.995)


def test_words_and_whole_numbers_get_equal_shares():
    words = read_axis("rotor.backing=none,ideal", sampled=True)
    assert [words.at_share(share) for share in (0, 0.49, 0.51, 0.99)] == ["none", "none", "ideal", "ideal"]
    whole = read_axis("winding.layers=1:3", sampled=True)
    assert [whole.at_share(share) for share in (0, 0.3, 0.34, 0.6, 0.67, 0.99)] == [1, 1, 2, 2, 3, 3]


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("rotor.gap_m=8:9:2", "--vary rotor.gap_m: unknown key; did you mean gap_mm?"),
        ("gap_mm=8:9:2", "--vary gap_mm: unknown key; did you mean rotor.gap_mm?"),
        ("rotr.gap_mm=8:9:2", "--vary rotr.gap_mm: unknown key; did you mean rotor.gap_mm?"),
        ("colour=red", "--vary colour: unknown key; keys are written as rotor.gap_mm"),
        ("rotor.backing=1,none", f"--vary rotor.backing: takes words, not numbers ({STEELS}); received 1"),
        ("rotor.backing=1:3:3", f"--vary rotor.backing: takes words, not numbers ({STEELS}); received 1:3:3"),
        ("rotor.spins=1", '--vary rotor.spins: must be "magnets" or "coil"; received 1'),
        ("rotor.gap_mm=wide", '--vary rotor.gap_mm: must be a number or "stack"; received "wide"'),
        ("magnets.count=12.5", "--vary magnets.count: must be a whole number; received 12.5; try 12 or 14"),
        ("rotor.gap_mm=8:9:1", ("--vary rotor.gap_mm: COUNT must be 2 or more, START and STOP among them; for one "
                               'value write rotor.gap_mm=8; received "8:9:1"')),
        ("rotor.gap_mm=8:8:3", ("--vary rotor.gap_mm: START and STOP are the same; for one value write rotor.gap_mm=8; "
                               'received "8:8:3"')),
        ("rotor.gap_mm=9:8:3", ("--vary rotor.gap_mm: the range runs backwards; write rotor.gap_mm=8:9:3; "
                               'received "9:8:3"')),
        ("rotor.gap_mm=8:9", f'--vary rotor.gap_mm: how many values? {FORMS}; received "8:9"'),
        ("rotor.gap_mm=8:x:3", (f"--vary rotor.gap_mm: a range has numbers in it, and a whole COUNT; {FORMS}; "
                               'received "8:x:3"')),
        ("rotor.gap_mm=8:9:2:2", f'--vary rotor.gap_mm: {FORMS}; received "8:9:2:2"'),
        ("rotor.gap_mm=8:inf:3", '--vary rotor.gap_mm: START and STOP must be finite numbers; received "8:inf:3"'),
        ("magnets.count=12:20:4", ("--vary magnets.count: takes whole numbers only; try magnets.count=12:20:3, or list "
         'them; received "12:20:4"')),
        ("magnets.count=12.5:20:2", '--vary magnets.count: takes whole numbers only; received "12.5:20:2"'),
        ("rotor.gap_mm=8,8.0", "--vary rotor.gap_mm: 8 stands twice"),
        ("rotor.gap_mm", '--vary rotor.gap_mm: write KEY=START:STOP:COUNT, or KEY=a,b,c; received "rotor.gap_mm"'),
    ],
)  # fmt: skip
def test_what_is_said_of_bad_values(written, told):
    assert complaints(written) == [told]


def test_all_faults_are_told_at_once():
    assert len(complaints("rotor.gap_m=1,2", "rotor.faces=7,9", "rotor.gap_mm=9:8:2")) == 4


def test_a_key_varies_once_whatever_its_spelling():
    told = "varies already; give all its values in one list"
    assert complaints("rotor.gap_mm=8", "rotor.gap_mm=9") == [f"--vary rotor.gap_mm: {told}"]
    twins = complaints("magnets.pitch_radius_mm=66", "magnets.pitch_diameter_mm=132")
    assert twins == [f"--vary magnets.pitch_diameter_mm: {told}"]
