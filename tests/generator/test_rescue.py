"""A belt wound on too far: what it gives away, where to stop, and how to join it anew."""

import dataclasses
import json
import math

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import uniform_map
from fieldrun.generator.rescue import rescue_of
from fieldrun.outputs.result_file import result_text
from fieldrun.winding.lay import lay

P = 8
EVEN = uniform_map(P, [0.6], (0.05, 0.12), 0.01)
FULL = Winding("zigzag", 0.060, 0.080, 1, 80, 1, 0.004, leg="spiral", belt_rad=2 * math.pi)


def touching(rounds: int, belt_rad: float) -> Wire:
    """A wire of which so many rounds just fill a belt."""
    radial = 0.060 / math.hypot(1, 0.060 * (math.pi / P) / 0.020)
    diameter = 2 * radial * math.sin(belt_rad / P / rounds / 2)
    return Wire("solid", 0.9 * diameter, 1, diameter)


def rescued(belt_rad: float, rounds: int = 80, **changes):
    winding = dataclasses.replace(FULL, rounds=rounds, belt_rad=belt_rad * (1 + 1e-9), **changes)
    laid = lay(winding, P, touching(rounds, belt_rad))
    return rescue_of(EVEN, laid, winding), laid


def test_a_full_ring_gives_nothing_and_a_lone_best_belt_covers_133_degrees():
    """Rounds add up as sin(b/2) / (b/2); EMF^2/R is largest where tan(b/2) = b."""
    found, laid = rescued(2 * math.pi)
    assert laid.rounds_per_group == 80
    assert found.as_wound < 1e-6 * found.best
    assert found.best_rounds / 80 * 360 == pytest.approx(math.degrees(2.33112237), abs=360 / 80)


def test_what_a_full_ring_can_be_saved_for():
    """Against a lone belt of 133.6 degrees in EMF^2/R: halves 1.76 times, thirds as three phases 2.96 times in all."""
    found, _ = rescued(2 * math.pi, rounds=240, layers=1)
    lone = found.best**2 / found.best_rounds
    assert found.halves**2 / 240 / lone == pytest.approx(1.76, abs=0.01)
    assert 3 * found.thirds**2 / 80 / lone == pytest.approx(2.96, abs=0.01)
    assert (found.open_after, found.thirds_after) == (120, (80, 160))


@pytest.mark.parametrize("belt_deg", [200.0, 270.0, 330.0])
def test_parts_are_those_of_the_closed_form(belt_deg):
    belt, count = math.radians(belt_deg), 60
    found, _ = rescued(belt, rounds=count)

    def sum_of(rounds: int) -> float:
        x = belt / count
        return abs(math.sin(rounds * x / 2) / math.sin(x / 2))

    one = found.best / sum_of(found.best_rounds)
    assert found.as_wound == pytest.approx(one * sum_of(count), rel=1e-6)
    assert found.thirds == pytest.approx(one * sum_of(count // 3), rel=1e-6)
    half = np.exp(1j * belt / count * np.arange(count // 2)).sum()
    assert found.halves == pytest.approx(one * abs(half) * abs(1 - np.exp(0.5j * belt)), rel=1e-6)
    watts = [sum_of(rounds) ** 2 / rounds for rounds in range(1, count + 1)]
    assert watts.index(max(watts)) == found.best_rounds - 1


@pytest.mark.parametrize("belt_deg", [60.0, 120.0, 175.0])
def test_a_belt_whose_halves_agree_needs_no_saving(belt_deg):
    assert rescued(math.radians(belt_deg), rounds=30)[0] is None


def test_layers_lie_over_each_other_and_add_up():
    winding = dataclasses.replace(FULL, rounds=120, layers=3, belt_rad=2 * math.pi * (1 + 1e-9))
    laid = lay(winding, P, touching(40, 2 * math.pi))
    one, three = rescued(2 * math.pi, rounds=40)[0], rescue_of(EVEN, laid, winding)
    assert (three.rounds, three.best_rounds) == (40, one.best_rounds)
    assert three.halves == pytest.approx(3 * one.halves, rel=1e-9)


def test_a_run_tells_it_in_one_warning_and_in_the_file(answered):
    result = answered("hut-charger", {"winding.phases": 1, "winding.belt_deg": 360, "winding.rounds": "fill"})
    codes = [warning.code for warning in result.warnings]
    assert "belt-too-wide" in codes
    assert "winding-cancels" not in codes
    said = next(warning.text for warning in result.warnings if warning.code == "belt-too-wide")
    assert f"Stop after {result.rescue.best_rounds} of {result.lay.rounds_per_group} rounds in each layer" in said
    assert f"after round {result.rescue.open_after} and join what follows the other way round" in said
    told = json.loads(result_text(result))["winding"]["rescue"]
    assert told["halves_rms_v_per_krpm"] > 10 * told["as_wound_rms_v_per_krpm"]
    assert told["as_wound_rms_v_per_krpm"] == pytest.approx(result.emf.rms[0] * 1000 * math.pi / 30, rel=0.01)


def test_three_phases_and_the_usual_belt_are_left_alone(bundled):
    assert bundled("hut-charger").rescue is None
    assert "rescue" not in json.loads(result_text(bundled("hut-charger")))["winding"]
