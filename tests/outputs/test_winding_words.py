"""How to wind, in words: where phases start, in which order, how they are joined."""

from collections.abc import Callable

import pytest

from fieldrun.outputs.winding_words import connection, how_to_wind, run_rows, runs_of, walks
from fieldrun.outputs.wire_list import wire_list
from fieldrun.winding.former import former_of


@pytest.fixture
def told(answered: Callable, bundled: Callable) -> Callable:
    def made(example: str = "hut-charger", changes: dict | None = None) -> tuple:
        result = answered(example, changes) if changes else bundled(example)
        return result, former_of(result.design, result.lay)

    return made


def test_the_first_round_notch_by_notch(told: Callable) -> None:
    walk = dict(walks(*told()))
    assert walk["A"].split(" \N{RIGHTWARDS ARROW} ") == [f"A{n}" for n in range(1, 17)] + ["A1"]
    turns = dict(walks(*told("quiet-halbach")))["B"].split(";  ")
    assert len(turns) == 8
    assert (
        turns[1] == "B5 \N{RIGHTWARDS ARROW} B6 \N{RIGHTWARDS ARROW} B7 \N{RIGHTWARDS ARROW} B8 \N{RIGHTWARDS ARROW} B5"
    )


def test_both_halves_of_a_phase_are_walked(told: Callable) -> None:
    """The second one backwards: its first leg leads outward at a place that turns the other way round the ring."""
    result, former = told(changes={"winding.belts": 2})
    walk = walks(result, former)
    assert [letter for letter, _ in walk] == ["A", "A", "B", "B", "C", "C"]
    assert walk[1][1].startswith("second half: A17 \N{RIGHTWARDS ARROW} A18")
    angle = {station.label: station.angle_rad for station in former.stations}
    assert angle["A2"] > angle["A1"]
    assert angle["A18"] < angle["A17"]


def test_runs_cover_all_rounds_and_metres_grow_to_the_conductor(told: Callable) -> None:
    result, former = told()
    runs = runs_of(result, former)
    assert len(runs) == 3 * 44
    assert [run.phase for run in runs[:34]] == ["A"] * 11 + ["B"] * 11 + ["C"] * 11 + ["A"]
    last = {run.phase: run.metres for run in runs}
    links = former.loops.link_m[former.loops.phase == 0].sum()
    assert last["A"] == pytest.approx(result.impedance.phase_lengths_m[0] + links, rel=1e-12)
    headings, rows = run_rows(runs, turns=False, layers=True, belts=False)
    assert headings == ("phase", "layer", "round", "from", "metres")
    assert rows[0] == ("A", "1", "1", "A1", "0.59")


def test_closed_turns_are_runs_by_pole_pair(told: Callable) -> None:
    result, former = told("quiet-halbach")
    runs = runs_of(result, former)
    assert len(runs) == 3 * 2 * 8
    assert run_rows(runs, turns=True, layers=True, belts=False)[1][1][:5] == ("A", "1", "2", "1 to 11", "A5")


def test_how_to_wind_says_what_applies(told: Callable) -> None:
    words = how_to_wind(*told())
    assert words[0].startswith("Lay the board with its front face up, the side of the upper magnets; where legs cross")
    assert 'Phases start at A1, B1 and C1, the bold numbers: leave a tail of 150 mm, mark it "start"' in words[1]
    assert "two wires at most in a layer" in words[0]
    assert "11 rounds make a group" in words[2]
    assert words[2].endswith("Only the first is held by notches: tape the corners of the others to it as you go.")
    assert "4 layers lie on each other" in words[3]
    assert words[4] == "The wire stays on one face: nothing has to go through the middle of the board."
    changes = {"winding.layers": 1, "winding.former_in_gap_mm": 2, "winding.belts": 2, "rotor.spins": "coil"}
    wrapped = " ".join(how_to_wind(*told(changes=changes)))
    assert "outward lie on the front face, those that run inward on the back" in wrapped
    assert "second half of each phase is wound backwards" in wrapped
    assert "closed slots" in wrapped
    assert "Only the first has notches that lead it to the other face" in wrapped
    assert "the side away from the magnets; all legs lie on the front face" in how_to_wind(*told("plank-ring"))[0]


def test_what_holds_the_rounds_is_named(told: Callable) -> None:
    """Pins where the board has pins, and every round's own where the comb is full."""
    assert "is held by pins" in how_to_wind(*told(changes={"former.ends": "pins"}))[2]
    full = {"former.comb": "all", "winding.rounds": 4, "winding.layers": 2}
    assert how_to_wind(*told(changes=full))[2].endswith("Each has notches of its own.")
    assert how_to_wind(*told("quiet-halbach"))[2].endswith("tape the corners of the others to it as you go.")


def test_wires_in_parallel_are_told_apart_and_measured_each(told: Callable) -> None:
    """Metres count up to the piece that is cut, not over the next piece."""
    result, former = told(changes={"winding.parallel": 2})
    runs = runs_of(result, former)
    headings, rows = run_rows(runs, turns=False, layers=True, belts=False, wires=True)
    assert headings[:3] == ("phase", "wire", "layer")
    assert {row[1] for row in rows} == {"A1", "A2", "B1", "B2", "C1", "C2"}
    last = {(run.phase, run.wire): run.metres for run in runs}
    for cut in wire_list(result, former).cuts:
        assert last[cut.phase, cut.piece] == pytest.approx(cut.conductor_m + cut.links_m, rel=1e-12)


CONNECTIONS = {
    "star": (
        {},
        ["Star point: join end A, end B and end C and insulate them. Start A, start B and start C are the leads."],
    ),
    "delta": (
        {"winding.connection": "delta"},
        ["Delta: join end A with start B, end B with start C and end C with start A. The 3 joints are the leads."],
    ),
    "separate": (
        {"winding.connection": "separate"},
        ["Phases stay separate: start A, start B and start C with their ends are 6 leads."],
    ),
    "one phase": ({"winding.phases": 1}, ["The phase's start and end are the two leads."]),
    "parallel": (
        {"winding.parallel": 2, "winding.phases": 1},
        [
            (
                "Each phase is 2 wires in parallel: join their starts, and join their ends, but measure each before: "
                "equal ohms, or a group is short."
            ),
            "The phase's start and end are the two leads.",
        ],
    ),
}


@pytest.mark.parametrize("case", CONNECTIONS)
def test_how_phases_are_joined(case: str, told: Callable) -> None:
    changes, texts = CONNECTIONS[case]
    assert connection(told("plank-ring", changes)[0]) == texts
