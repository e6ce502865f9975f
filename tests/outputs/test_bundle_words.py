"""A bundle in the builder's words: nothing of it for a solid wire, and every figure the result's own."""

import dataclasses
import math

import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Load
from fieldrun.generator.machine import read_design, run
from fieldrun.outputs.bundle_words import SHOWN, bundle_lines, bundle_rows, bundle_sentences, way
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import sentences, table_rows
from fieldrun.winding.twisting import Joint

RPM = 2 * math.pi / 60
SPEEDS = (40.0, 60.0, 250.0, 350.0)
HOME = {"wire.strands": 12, "wire.strand_mm": 0.16, "wire.bench_mm": 6000, "wire.strands_in_series": 3}


@pytest.fixture(scope="module")
def halbach(bundled):
    return bundled("quiet-halbach")


@pytest.fixture(scope="module")
def home():
    return run(read_design(example_path("quiet-halbach"), changes=HOME))


def test_a_solid_wire_has_nothing_of_it(bundled):
    plank = bundled("plank-ring")
    assert bundle_sentences(plank, SPEEDS) == []
    assert bundle_rows(plank) == []
    assert bundle_lines(plank) == []


def test_the_same_power_is_told_once_for_all(halbach):
    power, _ = bundle_sentences(halbach, SPEEDS)
    watts = 3 * (float(halbach.emf.rms[0]) * 1000 * RPM) ** 2 / (4 * halbach.impedance.resistance_hot_ohm)
    assert power == (
        "The 35 strands can be joined in 4 ways, all in parallel to all in series. More in series is more volts and "
        f"more ohms; into a load that suits it every way gives the same {plain(watts, 'W')} at 1000 rpm."
    )


def test_which_of_them_charge_is_told_speed_by_speed(halbach):
    """All in parallel starts at 236 rpm, 5 groups at 47, 7 at 34 and all in series at 7."""
    starts = [joining.charging_starts_rad_s / RPM for joining in halbach.joinings]
    assert [6 < starts[3] < 40, 40 > starts[2] > 30, 60 > starts[1] > 40, 250 > starts[0] > 60] == [True] * 4
    assert bundle_sentences(halbach, (5.0, 10.0, *SPEEDS))[1] == (
        "Behind its diodes a battery at 12.6 V is charged at 5 rpm by none of them; at 10 rpm by 35 strands in series; "
        "at 40 rpm by 7 groups of 5 in series and any with more in series; at 60 rpm by 5 groups of 7 in series and "
        "any with more in series; at 250 and 350 rpm by all of them."
    )


def test_a_load_that_holds_a_voltage_is_called_by_its_own_name(halbach):
    """The formula asks for a voltage, not for a battery: no kind of load is named in the sentence by hand."""
    other = dataclasses.replace(halbach, design=dataclasses.replace(halbach.design, load=Load("resistor", 9.0)))
    assert bundle_sentences(other, SPEEDS)[1].startswith("Behind its diodes a resistor at 9 V is charged ")


@pytest.mark.parametrize("load", [None, Load("open"), Load("resistor", resistance_ohm=3.0)])
def test_no_battery_no_word_of_charging(halbach, load):
    ways = tuple(dataclasses.replace(joining, charging_starts_rad_s=None) for joining in halbach.joinings)
    idle = dataclasses.replace(halbach, joinings=ways, design=dataclasses.replace(halbach.design, load=load))
    assert not any("charge" in text for text in bundle_sentences(idle, SPEEDS))
    assert not any("charge" in remark for _, _, remark in bundle_rows(idle))


def test_the_table_names_every_way(halbach):
    names, values, remarks = zip(*bundle_rows(halbach), strict=True)
    assert names == tuple(map(way, halbach.joinings))
    assert names[0] == "35 strands in parallel"
    assert names[1] == "5 groups of 7 in series"
    assert names[3] == "35 strands in series"
    rms, ohms = float(halbach.emf.rms[0]) * 1000 * RPM, halbach.impedance.resistance_hot_ohm
    assert values[1] == f"{plain(5 * rms, 'V')} per 1000 rpm, {plain(25 * ohms, 'ohm')}"
    start = halbach.charging_starts_rad_s / RPM
    assert remarks[0] == f"as designed; charges from {plain(start, 'rpm')}; no joints"
    assert remarks[1] == f"charges from {plain(start / 5, 'rpm')}; 4 joints of 14 ends"


def test_two_groups_have_one_joint(home):
    assert bundle_rows(home)[1][2].endswith("; 1 joint of 12 ends")


def test_the_screen_shows_the_ways_next_to_the_chosen_one_and_the_summary_all(halbach):
    many = tuple(dataclasses.replace(halbach.joinings[0], in_series=n, in_parallel=60 // n) for n in DIVISORS_OF_60)
    wire = dataclasses.replace(halbach.design.wire, strands=60, strands_in_series=10)
    result = dataclasses.replace(halbach, joinings=many, design=dataclasses.replace(halbach.design, wire=wire))
    shown = [name for name, _, _ in bundle_rows(result)]
    assert len(shown) == 2 * SHOWN + 1
    assert shown[SHOWN] == "10 groups of 6 in series"
    assert sum(" in " in line and "rpm" in line for line in bundle_lines(result)) == len(DIVISORS_OF_60)


DIVISORS_OF_60 = (1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60)


def test_what_to_solder_stands_in_the_summary(home, answered):
    lines = bundle_lines(home)
    assert lines[0] == "Strands of a phase joined in every way:"
    for column in (1, 2):
        starts = {line.index(row[column]) for line, row in zip(lines[1:7], bundle_rows(home), strict=True)}
        assert len(starts) == 1, "columns stand under each other"
    assert lines[7:] == [
        "Strands numbered from 1, each found by a meter, start with end:",
        "  ends of strands 1 to 4 to starts of strands 5 to 8",
        "  ends of strands 5 to 8 to starts of strands 9 to 12",
    ]
    single = answered("quiet-halbach", HOME | {"wire.strands": 3})
    assert bundle_lines(single)[-1] == "  end of strand 2 to start of strand 3"
    assert not any("solder" in line or "numbered" in line for line in bundle_lines(answered("quiet-halbach")))


def test_how_to_twist(home):
    *_, twist, pieces = bundle_sentences(home, SPEEDS)
    plan = home.twisting
    inwards = plain((6 - plan.piece_m) * 1000, "mm")
    assert twist == (
        f"To twist a piece, lead the strand 12 times between posts 6 m apart and give it {plan.drill_turns} turns, one "
        f"post giving way by {inwards}; then as many more as it springs back when let go."
    )
    places = [f"round {joint.rounds}" for joint in plan.joints]
    assert len(places) > 1
    joined = ", ".join(places[:-1]) + " and " + places[-1]
    assert pieces == (
        f"A piece is then {plain(plan.piece_m, 'm')} long, {plain(plan.piece_m - 0.3, 'm')} without its tails, and "
        f"gives {plan.rounds_per_piece} rounds; a phase takes {plan.pieces_per_phase} pieces, joined after {joined}, "
        f"where every strand must go on as itself. Unreel 75.6 m of single wire a piece, {plain(plan.wire_m, 'm')} in "
        "all: 5 % more than the passes take."
    )


def replanned(result, **changes):
    return dataclasses.replace(result, twisting=dataclasses.replace(result.twisting, **changes))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pieces_per_phase": 1, "joints": (), "rounds_per_piece": 22}, "gives 22 rounds; one is enough for a phase."),
        ({"rounds_per_piece": 1}, "gives 1 round; a phase"),
        (
            {"rounds_per_piece": 0, "joints": (Joint(0, 5), Joint(1, 2))},
            "after turn 5 of round 1 and turn 2 of round 2,",
        ),
        ({"rounds_per_piece": 0, "joints": (), "joints_in_legs": True}, "gives less than one round; a phase takes "),
        ({"joints": (), "joints_in_legs": True}, "pieces, and their joints lie among the legs."),
        (
            {"joints": tuple(Joint(n, 0) for n in range(1, 7))},
            "joined after round 1, round 2, round 3, round 4 and so on, where",
        ),
    ],
)
def test_where_pieces_are_joined(home, changes, words):
    assert words in bundle_sentences(replanned(home, **changes), SPEEDS)[-1]


def test_strands_all_in_parallel_need_not_be_told_apart(home):
    wire = dataclasses.replace(home.design.wire, strands_in_series=1)
    result = dataclasses.replace(home, design=dataclasses.replace(home.design, wire=wire))
    assert "as itself" not in bundle_sentences(result, SPEEDS)[-1]


def test_tails_and_spare_are_those_of_the_former(answered):
    result = answered("quiet-halbach", HOME | {"former.tail_mm": 200, "former.spare_percent": 10})
    text = bundle_sentences(result, SPEEDS)[-1]
    assert f"{plain(result.twisting.piece_m - 0.4, 'm')} without its tails" in text
    assert "Unreel 79.2 m of single wire a piece" in text
    assert text.endswith("10 % more than the passes take.")


def test_it_stands_where_the_builder_looks(home):
    assert sentences(home)[-4:] == bundle_sentences(home, home.design.load.speeds_rpm)
    shown = table_rows(home, {"peak_t": 1.0, "b1_mean_radius_t": 1.0})
    assert all(row in shown for row in bundle_rows(home))
