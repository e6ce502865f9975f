"""Rotor curves: the open formula, its stretching, tables, and how each starts."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.model import PowerCoefficients, Turbine
from fieldrun.generator.wind.power_coefficient import formula_cp, formula_marks, rotor_curve

FORMULA = {3: 0.0495, 4: 0.1401, 5: 0.2629, 6: 0.3757, 7: 0.4513, 8: 0.4798, 9: 0.4620, 10: 0.4037}
"""Heier's formula (Grid Integration of Wind Energy Conversion Systems, from memory), computed apart from this."""

SAILS = PowerCoefficients("sails.csv", (0.0, 0.2, 0.5, 1.0, 1.5, 2.0), (0.0, 0.05, 0.12, 0.18, 0.1, -0.05))
BLADES = PowerCoefficients("blades.csv", (2.0, 5.0, 6.0, 8.0), (0.1, 0.36, 0.34, 0.1))


def cp(curve, ratio):
    return float(curve.torque_coefficients(np.array(ratio)) * ratio)


def test_the_formula_and_its_maximum():
    for ratio, value in FORMULA.items():
        assert formula_cp(ratio) == pytest.approx(value, abs=5e-5)
    best, peak, free = formula_marks()
    assert best == pytest.approx(8.100, abs=5e-4)
    assert peak == pytest.approx(0.480012, abs=5e-7)
    assert formula_cp(free) == pytest.approx(0, abs=1e-12)


def test_the_default_curve_is_the_formula_where_it_holds():
    curve = rotor_curve(Turbine(2.0))
    for ratio in np.linspace(2.5, 13.3, 23):
        assert cp(curve, ratio) == pytest.approx(float(formula_cp(ratio)), abs=3e-6)
    assert (curve.best_tip_speed_ratio, curve.peak_cp) == pytest.approx((8.1001, 0.480012), abs=1e-4)


def test_stretched_it_goes_through_the_two_numbers():
    curve = rotor_curve(Turbine(2.0, tip_speed_ratio=5.0, peak_cp=0.3))
    assert cp(curve, 5.0) == pytest.approx(0.3, rel=1e-6)
    assert cp(curve, 4.9) < 0.3 > cp(curve, 5.1)
    best, peak, free = formula_marks()
    assert curve.free_tip_speed_ratio == pytest.approx(5 * free / best)
    assert cp(curve, 4.0) == pytest.approx(0.3 / peak * float(formula_cp(4 * best / 5)), abs=1e-6)
    assert rotor_curve(Turbine(2.0, tip_speed_ratio=5.0)).peak_cp == 0.35


def test_at_standstill_the_fit_s_leftover_is_not_used():
    """0.0068 is c6 alone. Lysen's rule, 0.5 over the square of the best ratio, replaces it up to where they meet."""
    curve = rotor_curve(Turbine(2.0, tip_speed_ratio=6.0))
    assert curve.start_torque_coefficient == pytest.approx(0.5 / 36)
    meets = float(curve.tip_speed_ratio[np.argmax(curve.torque_coefficient > 0.5 / 36 + 1e-12)])
    assert 1.5 < meets < 3
    assert curve.torque_coefficients(np.array([meets / 2])) == pytest.approx(0.5 / 36)


@pytest.mark.parametrize("start", [0.0, 0.002, 0.0068, 0.01, 0.03, 0.08, 0.3])
def test_a_start_of_one_s_own_joins_the_curve(start):
    """Whatever it is, torque is continuous and the curve from its strongest point on is left alone."""
    own, plain = rotor_curve(Turbine(2.0, start_torque_coefficient=start)), rotor_curve(Turbine(2.0))
    assert own.start_torque_coefficient == start
    assert np.max(np.abs(np.diff(own.torque_coefficient))) < 5e-4 + start / 200
    behind = plain.tip_speed_ratio >= plain.strongest_tip_speed_ratio
    assert own.torque_coefficient[behind] == pytest.approx(plain.torque_coefficient[behind], abs=1e-12)
    assert own.torque_coefficient.min() >= 0


def test_a_table_is_followed_by_straight_lines():
    curve = rotor_curve(Turbine(2.0, cp=SAILS))
    for ratio, value in zip(SAILS.tip_speed_ratio[1:-1], SAILS.cp[1:-1], strict=True):
        assert cp(curve, ratio) == pytest.approx(value, abs=1e-12)
    assert cp(curve, 0.75) == pytest.approx(0.15, abs=1e-5)
    assert curve.free_tip_speed_ratio == pytest.approx(1.5 + 0.5 * 0.1 / 0.15)
    assert (curve.best_tip_speed_ratio, curve.peak_cp) == (1.0, 0.18)
    assert curve.start_torque_coefficient == pytest.approx(0.25)  # as it begins: 0.05 at 0.2
    assert curve.torque_coefficients(np.array([0.1])) == pytest.approx(0.25)


def test_a_table_that_begins_late_starts_by_the_rule():
    curve = rotor_curve(Turbine(2.0, cp=BLADES))
    assert curve.start_torque_coefficient == pytest.approx(0.5 / 25)
    assert curve.torque_coefficients(np.array([1.0])) == pytest.approx((0.02 + 0.05) / 2, abs=1e-5)
    assert curve.free_tip_speed_ratio == pytest.approx(8 + 0.1 * 2 / 0.24)
    own = rotor_curve(Turbine(2.0, cp=BLADES, start_torque_coefficient=0.01))
    assert own.start_torque_coefficient == 0.01


def test_a_lift_rotor_on_an_upright_axis_has_a_hole_that_it_does_not_cross():
    table = PowerCoefficients("upright.csv", (0.3, 1.0, 2.0, 3.0, 4.0), (0.003, -0.02, 0.1, 0.32, 0.0))
    curve = rotor_curve(Turbine(2.0, cp=table))
    assert curve.start_torque_coefficient == pytest.approx(0.01)
    assert curve.torque_coefficients(np.array([1.0])) < 0


@settings(derandomize=True, max_examples=40, deadline=None)
@given(ratio=st.floats(1, 12), peak=st.floats(0.05, 0.59))
def test_no_curve_beats_its_peak_or_betz(ratio, peak):
    curve = rotor_curve(Turbine(2.0, tip_speed_ratio=ratio, peak_cp=peak))
    power = curve.torque_coefficient * curve.tip_speed_ratio
    above = power[curve.tip_speed_ratio > curve.strongest_tip_speed_ratio]
    assert above.max() == pytest.approx(peak, rel=1e-5)
    assert power.max() <= 16 / 27
    assert curve.start_torque_coefficient == pytest.approx(min(0.5 / ratio**2, curve.torque_coefficient.max()))
    assert curve.torque_coefficients(np.array([2 * curve.free_tip_speed_ratio])) == 0
