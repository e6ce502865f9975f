"""What the best is to be of: as written, as meant, and every refusal."""

import re
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.studies.sweep.choice import choose
from fieldrun.studies.sweep.goals import LESS, MORE, Goal, check_goals, more_is_better, read_goals
from fieldrun.studies.sweep.picks import DEFAULT, QUICK

EMF, OHM = "emf.rms_v_per_krpm", "circuit.resistance_20c_ohm"
ROUNDS, KT = "winding.rounds_per_phase", "torque.kt_nm_per_a"


def refused(written, picks=DEFAULT):
    with pytest.raises(DesignError) as error:
        read_goals(written, picks)
    return [(fault.key, fault.text) for fault in error.value.faults]


def test_directions_that_everybody_shares():
    assert read_goals([EMF, OHM], DEFAULT) == (Goal(EMF, largest=True), Goal(OHM, largest=False))
    assert read_goals([f"{EMF}:min", f" {OHM} : max "], DEFAULT) == (Goal(EMF, largest=False), Goal(OHM, largest=True))
    assert Goal(EMF, largest=True).told == f"{EMF}:max"


@pytest.mark.parametrize(
    ("key", "more"),
    [
        ("output.matched_w_per_krpm2", True), ("output.wind.annual_energy_kwh", True), ("field.b1_mean_radius_t", True),
        ("torque.motor_constant_nm_per_sqrt_w", True), ("winding.fill", True), ("output.points.0.dc_power_w", True),
        ("winding.copper_mass_kg", False), ("circuit.eddy_loss_w_per_krpm2", False), ("emf.thd_percent", False),
        ("output.wind.cut_in_m_s", False), ("output.charging_starts_rpm", False), ("winding.rim_mm_per_phase", None),
        ("forces.rotating_mass_kg", False), ("field.error_estimate_percent", False),
        ("winding.rounds_per_phase", None), ("winding.thickness_mm", None), ("circuit.inductance_h", None),
        ("field.steel_peak_t", None), ("torque.speed_constant_rpm_per_v", None),
    ],
)  # fmt: skip
def test_default_direction(key, more):
    assert more_is_better(key) is more


def test_no_key_pulls_both_ways():
    """A key that both lists know would be decided by their order alone."""
    for key in QUICK:
        both = [any(re.search(pattern, key) for pattern in side) for side in (MORE, LESS)]
        assert both != [True, True], key


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ([""], "write KEY, KEY:max or KEY:min; received "),
        ([f"{EMF}:most"], f"write KEY, KEY:max or KEY:min; received {EMF}:most"),
        ([ROUNDS], f"is more of {ROUNDS} better, or less? write {ROUNDS}:max or {ROUNDS}:min"),
        (["emf.rms_v_per_krm"], f"emf.rms_v_per_krm is not picked; did you mean {EMF}?"),
        ([KT], f"{KT} is not picked; picked are {', '.join(DEFAULT)}; --pick {','.join([*DEFAULT, KT])} adds it"),
        ([EMF, f"{EMF}:min"], f"{EMF} stands twice"),
        ([EMF, OHM, "winding.copper_mass_kg"], "one key, or two that pull against each other; received 3"),
    ],
)  # fmt: skip
def test_refusals(written, told):
    assert refused(written) == [("--best", told)]


def test_all_faults_at_once():
    assert len(refused(["x", f"{EMF}:", "winding.rounds_per_phase"])) == 4


def test_words_are_refused_before_anything_is_solved(request_for):
    picks = ("mesh.model", EMF)
    request = replace(
        request_for("wire.copper_mm=0.4,0.5", picks=picks), answer=lambda *_: {"mesh": {"model": "rings"}}
    )
    with pytest.raises(DesignError) as error:
        check_goals(request, read_goals(["mesh.model:max"], picks))
    assert error.value.faults[0].text == 'mesh.model holds words, such as "rings"; the best is found among numbers'
    check_goals(request, read_goals([EMF], picks))


def test_words_that_turn_up_at_a_point_are_refused_then(swept):
    with pytest.raises(DesignError, match=r'mesh\.model holds words, such as "rings"'):
        choose(swept("wire.copper_mm=0.4,0.5", picks=("mesh.model", EMF)), [Goal("mesh.model", largest=True)])


def test_choice_of_a_sweep(swept):
    sweep = swept("wire.copper_mm=0.4,0.5,0.6", "rotor.gap_mm=2,12", "rotor.backing=ideal", example="hut-charger")
    assert [row.status for row in sweep.rows] == ["infeasible", "ok"] * 3
    choice = choose(sweep, read_goals([EMF, "winding.copper_mass_kg"], DEFAULT))
    volts, kilograms = (np.ma.filled(sweep.column(goal.key), np.nan) for goal in choice.goals)
    assert [best.index for best in choice.best] == [int(np.nanargmax(volts)), int(np.nanargmin(kilograms))]
    assert [best.value for best in choice.best] == [np.nanmax(volts), np.nanmin(kilograms)]
    assert (choice.best[0].among, choice.best[0].equals) == (3, 1)
    assert set(choice.few) == {1, 3, 5}
    assert set(choice.pareto) <= {1, 3, 5}


def test_nothing_is_best_where_nothing_was_answered(swept):
    choice = choose(swept("rotor.gap_mm=1,2"), read_goals([EMF, OHM], DEFAULT))
    assert (choice.best, choice.few, choice.pareto) == ((), (), ())
    assert choose(swept("rotor.gap_mm=1,2"), ()).goals == ()
