"""What to change in the builder's words, and the same for programs."""

import dataclasses
import json
import math

import pytest

from fieldrun.outputs.changes_told import (
    NAMES,
    advice_lines,
    changes_dict,
    changes_lines,
    changes_table,
    keys_text,
)
from fieldrun.studies.changes.figures import Figures
from fieldrun.studies.changes.proposals import proposals
from fieldrun.studies.changes.rounds_for import RoundsFor
from fieldrun.studies.changes.study import Change, Changes, best_of

NOW = Figures(44, 212.0, 2.15, 256.0, None, 0.216, 0.452, 1.25, 0.008)
THICK = dataclasses.replace(NOW, rounds=40, cut_in_m_s=2.37, annual_kwh=277.0, copper_kg=0.25, gap_m=0.0081)
WIRE = (("wire.copper_mm", 0.71), ("winding.rounds", 40), ("rotor.gap_mm", "stack"))
BEST = Change("thicker-wire", 2, WIRE, THICK)
NEVER = Change("more-rounds", 2, (("winding.rounds", 48),), None, "at most 44 rounds per phase fit")
LATER = dataclasses.replace(NOW, cut_in_m_s=None, charging_rpm=None, annual_kwh=0.0)
DELTA = Change("connect-delta", 1, (("winding.connection", "delta"),), LATER)
EARLY = dataclasses.replace(NOW, rounds=56, cut_in_m_s=1.77, annual_kwh=207.0, copper_kg=0.172)
GAUGE = (("wire.awg", 24), ("wire.copper_mm", None), ("winding.rounds", 56))
WISH = RoundsFor(1.79, GAUGE, EARLY)


@pytest.fixture
def told():
    return Changes(NOW, (DELTA, NEVER, BEST), BEST, WISH)


def test_the_best_change_and_the_wish(told):
    assert advice_lines(told) == [
        (
            "Best single change: thicker wire, fewer rounds (wire.copper_mm = 0.71, winding.rounds = 40, "
            'rotor.gap_mm = "stack"): 256 -> 277 kWh a year, charges from 2.37 m/s instead of 2.15 m/s, +34 g of '
            "copper, gap 8.1 mm."
        ),
        (
            "To charge from 1.79 m/s on, wind 56 rounds per phase instead of 44 (wire.awg = 24, winding.rounds = 56): "
            "it starts in 1.77 m/s, -44 g of copper; the year then brings 256 -> 207 kWh, for in strong winds more "
            "rounds of thinner wire resist more than they give."
        ),
    ]


def test_what_does_not_change_is_told_as_such(told):
    same = dataclasses.replace(told.wish, figures=dataclasses.replace(NOW, cut_in_m_s=1.7))
    assert advice_lines(dataclasses.replace(told, wish=same))[1] == (
        "To charge from 1.79 m/s on, no fewer than the 44 rounds per phase that it has will do."
    )
    resistor = dataclasses.replace(NOW, charging_rpm=None)
    row = dataclasses.replace(BEST, figures=dataclasses.replace(resistor, annual_kwh=300.0))
    assert (
        "256 -> 300 kWh a year, gives power from 2.15 m/s as before."
        in advice_lines(Changes(resistor, (row,), row, None))[0]
    )


@pytest.mark.parametrize(
    ("rounds", "energy", "why"),
    [
        (56, 300.0, "light winds gain more than strong ones lose to their resistance"),
        (40, 300.0, "for in strong winds fewer rounds resist less"),
        (40, 200.0, "for fewer rounds give fewer volts"),
    ],
)
def test_why_the_year_changes(told, rounds, energy, why):
    figures = dataclasses.replace(EARLY, rounds=rounds, annual_kwh=energy)
    wish = dataclasses.replace(WISH, figures=figures)
    assert advice_lines(dataclasses.replace(told, wish=wish))[1].endswith(f" kWh, {why}.")


def test_nothing_to_gain_and_out_of_reach():
    none = Changes(NOW, (NEVER,), None, RoundsFor(1.0, (), None, "the rotor starts to turn in 1.71 m/s only"))
    assert advice_lines(none) == [
        "No single change that was tried brings a hundredth more kilowatt-hours.",
        "Charging from 1 m/s on is out of reach by more rounds alone: the rotor starts to turn in 1.71 m/s only.",
    ]


def test_what_runs_hotter_says_so_and_is_not_the_best():
    now = dataclasses.replace(NOW, heat=1.3)
    hot = dataclasses.replace(EARLY, annual_kwh=300.0, heat=2.5)
    row = Change("thinner-wire", 2, GAUGE, hot)
    told = Changes(now, (row,), best_of([row], now), RoundsFor(1.79, GAUGE, hot))
    best, wish = advice_lines(told)
    said = "runs hotter: 2.5 times the current that the winding stands for ever (as drawn: 1.3 times)"
    assert best == (
        "No single change that was tried brings a hundredth more kilowatt-hours without running hotter than the "
        "winding stands."
    )
    assert f"-44 g of copper, {said}; the year then brings" in wish
    assert changes_table(told)[1][1][-1] == f"-44 g of copper, {said}"
    assert changes_dict(told)["rows"][0]["current_over_what_it_stands"] == 2.5
    boiling = dataclasses.replace(row, figures=dataclasses.replace(hot, heat=math.inf))
    told = dataclasses.replace(told, rows=(boiling,), best=None)
    assert changes_table(told)[1][1][-1] == "-44 g of copper, runs hotter: its losses alone are more than it stands"
    assert "current_over_what_it_stands" not in json.loads(json.dumps(changes_dict(told), allow_nan=False))["rows"][0]


def test_without_a_wind_watts_and_rpm_are_told():
    now = dataclasses.replace(NOW, cut_in_m_s=None, annual_kwh=None, top_w=8.0, gap_m=None)
    steel = dataclasses.replace(now, charging_rpm=180.0, top_w=13.6, steel_kg=2.18)
    row = Change("steel-behind", 3, (("rotor.backing", "mild steel"), ("rotor.backing_mm", 8.0)), steel)
    told = Changes(now, (row,), row, None)
    assert advice_lines(told) == [
        (
            'Best single change: steel behind the magnets (rotor.backing = "mild steel", rotor.backing_mm = 8): '
            "8 -> 13.6 W at the top speed, charges from 180 rpm instead of 212 rpm, +930 g of steel."
        )
    ]
    headings, rows = changes_table(told)
    assert headings[1:3] == ("from rpm", "W at top")
    assert rows[0][:3] == ("as it stands", "212", "8")


def test_the_table_shows_losses_and_what_cannot_be(told):
    _, rows = changes_table(told)
    assert rows == [
        ("as it stands", "2.15", "256", "", ""),
        ("phases in delta", "never", "0", 'winding.connection = "delta"', "ends or spacers"),
        ("more rounds", "", "", "winding.rounds = 48", "no: at most 44 rounds per phase fit"),
        ("thicker wire, fewer rounds (best)", "2.37", "277", keys_text(WIRE), "+34 g of copper, gap 8.1 mm"),
    ]
    assert changes_lines(told)[1:3] == [
        '  phases in delta: from m/s never, kWh a year 0; winding.connection = "delta"; ends or spacers',
        "  more rounds: winding.rounds = 48; no: at most 44 rounds per phase fit",
    ]


def test_the_result_file_can_be_acted_on(told):
    content = json.loads(json.dumps(changes_dict(told), allow_nan=False))
    assert content["best"] == "thicker-wire"
    assert content["before"]["annual_energy_kwh"] == 256
    delta, more, thick = content["rows"]
    assert thick["keys"] == dict(WIRE)
    assert thick["gap_mm"] == pytest.approx(8.1)
    assert (more["can_be_built"], more["reason"]) == (False, "at most 44 rounds per phase fit")
    assert delta["can_be_built"]
    assert "cut_in_m_s" not in delta  # it never charges
    wish = content["rounds_for"]
    assert wish["wanted_cut_in_m_s"] == 1.79
    assert wish["keys"] == {"wire.awg": 24, "winding.rounds": 56}
    assert wish["remove"] == ["wire.copper_mm"]


@pytest.mark.parametrize("name", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_every_change_has_a_name(bundled, name):
    assert {proposal.name for proposal in proposals(bundled(name))} <= set(NAMES)
