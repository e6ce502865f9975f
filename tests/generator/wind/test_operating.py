"""The balance of rotor and generator: closed forms, whole machines, and that no watt is lost."""

import functools
import math

import numpy as np
import pytest

from fieldrun.design.model import PowerCoefficients, Turbine
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.wind.operating import (
    Coupled,
    coupled,
    cut_in_m_s,
    power_curve,
    runs_away_from_m_s,
    settled_rad_s,
    stalls_from_m_s,
    stops_above_m_s,
    table_speeds,
    top_wind_m_s,
    wind_grid,
)
from fieldrun.generator.wind.turbine import starts_at_m_s, wind_power_w, wind_rotor


def straight_rotor(**keys):
    """Torque coefficient 0.1 (1 - lambda / 8): torque falls in a straight line with speed."""
    ratio = np.concatenate([[0.01], np.linspace(0.05, 8, 1600)])
    table = PowerCoefficients("line.csv", tuple(ratio.tolist()), tuple((0.1 * (1 - ratio / 8) * ratio).tolist()))
    return wind_rotor(Turbine(2.0, cp=table, start_torque_coefficient=0.1, **keys))


def machine(torque, watts=None):
    """A generator of any torque and watts over speed."""

    def made(speeds):
        zero = np.zeros_like(speeds)
        given = {"speed_rad_s": speeds, "torque_nm": torque(speeds), "phase_rms_a": speeds / 10}
        power = {"dc_power_w": zero if watts is None else watts(speeds)}
        names = [
            "dc_current_a",
            "dc_voltage_v",
            "copper_w",
            "diode_w",
            "cable_w",
            "idle_w",
            "torque_ripple",
            "efficiency",
        ]
        return Delivery(**given, **power, **dict.fromkeys(names, zero))

    return made


def brake(slope):
    return machine(lambda w: slope * w, lambda w: 0.5 * slope * w**2)


@pytest.fixture(scope="module")
def hut(bundled):
    """The bundled charger with its rotor, and the generator by itself."""
    result = bundled("hut-charger")
    design = result.design
    parts = (result.emf, result.impedance, result.inductance, result.losses, design.winding, design.load)
    return result, functools.partial(deliver, *parts)


@pytest.mark.parametrize("gear", [1.0, 4.0])
def test_two_straight_lines_meet_where_algebra_says(gear):
    """T0 (1 - w R / (8 v)) = G (b G w + drag), T0 = 0.1 rho A R v^2 / 2."""
    rotor = straight_rotor(gear_ratio=gear, drag_nm=0.05)
    pair = coupled(rotor, brake(0.02), None, 12.0)
    winds = np.array([2.0, 3.7, 8.0, 12.0])
    pull = 0.1 * 1.225 * math.pi / 2 * winds**2
    wanted = (pull - gear * 0.05) / (pull / (8 * winds) + gear**2 * 0.02)
    assert settled_rad_s(pair, winds) == pytest.approx(wanted, rel=1e-5)


def test_below_its_start_it_stands_still():
    rotor = straight_rotor(drag_nm=0.05)
    start = starts_at_m_s(rotor)
    pair = coupled(rotor, brake(0.02), None, 12.0)
    below, above = settled_rad_s(pair, np.array([0.999 * start, 1.001 * start]))
    assert below == 0 < above
    assert settled_rad_s(pair, np.array([0.0])) == 0


def test_started_from_rest_it_stays_at_the_lower_of_two_stable_speeds():
    """A generator that grips between 10 and 20 rad/s and lets go beyond leaves two; rest leads to the lower."""
    rotor = straight_rotor(drag_nm=0.0)
    grip = machine(lambda w: 6 * np.exp(-(((w - 15) / 3) ** 2)))
    pair = Coupled(rotor, grip(np.linspace(0, 70, 701)))
    (speed,) = settled_rad_s(pair, np.array([5.0]))
    pull = 0.1 * 1.225 * math.pi / 2 * 25
    assert speed < 15
    assert pull * (1 - speed / 40) == pytest.approx(6 * math.exp(-(((speed - 15) / 3) ** 2)), rel=1e-3)
    free = settled_rad_s(coupled(rotor, brake(0.0), None, 8.0), np.array([5.0]))
    assert free == pytest.approx([40.0], rel=1e-6)


def test_furled_it_goes_on_as_at_the_furl_and_stopped_it_stands():
    pair = coupled(straight_rotor(), brake(0.02), None, 9.0)
    curve = power_curve(pair, np.array([8.0, 9.0, 12.0, 14.0, 14.1]), 9.0, 14.0)
    assert curve.dc_w[1] == curve.dc_w[2] == curve.dc_w[3] > curve.dc_w[0] > 0
    assert curve.dc_w[4] == curve.speed_rad_s[4] == curve.rotor_w[4] == curve.cp[4] == 0


def test_which_wind_is_the_strongest():
    assert top_wind_m_s(None, None) == 25
    assert top_wind_m_s(9.0, 14.0) == 9
    assert top_wind_m_s(None, 40.0) == 40
    assert [stops_above_m_s(None, None), stops_above_m_s(9.0, None), stops_above_m_s(9.0, 14.0)] == [25, 25, 14]
    assert stops_above_m_s(40.0, None) == top_wind_m_s(40.0, None) == 40


def test_cp_and_tip_speed_ratio_are_the_curve_s():
    rotor = straight_rotor()
    curve = power_curve(coupled(rotor, brake(0.02), None, 9.0), np.array([3.0, 6.0]))
    assert curve.cp == pytest.approx(0.1 * (1 - curve.tip_speed_ratio / 8) * curve.tip_speed_ratio, rel=1e-4)
    assert curve.rotor_w == pytest.approx(curve.cp * wind_power_w(rotor, curve.wind_m_s))


def test_stall_and_runaway_are_seen():
    blades = wind_rotor(Turbine(2.0, 6.0))
    winds = np.linspace(0, 20, 201)
    hard = power_curve(coupled(blades, brake(5.0), None, 20.0), winds)
    loose = power_curve(coupled(blades, brake(1e-4), None, 20.0), winds)
    fitting = power_curve(coupled(blades, machine(lambda w: 2e-3 * w**2, lambda w: 1e-3 * w**3), None, 20.0), winds)
    assert starts_at_m_s(blades) < stalls_from_m_s(hard) == pytest.approx(starts_at_m_s(blades), abs=0.9)
    assert runs_away_from_m_s(hard, 20.0) is None
    assert runs_away_from_m_s(loose, 20.0) < 3
    assert stalls_from_m_s(loose) is None
    assert stalls_from_m_s(fitting) is None is runs_away_from_m_s(fitting, 20.0)


def test_the_grid_stands_on_both_sides_of_start_and_stop():
    rotor = straight_rotor(drag_nm=0.2)
    grid = wind_grid(rotor, 14.0)
    assert np.all(np.diff(grid) > 0)
    assert grid[-1] > 14
    assert np.min(np.abs(grid - starts_at_m_s(rotor))) < 1e-8
    assert np.max(np.diff(grid)) < 0.11


def test_speeds_stand_close_above_the_kink():
    speeds = table_speeds(20.0, 100.0)
    assert len(speeds) == 60
    assert {0.0, 20.0, 100.0} <= set(speeds.tolist())
    assert np.all(np.diff(speeds[2:]) > 0)
    assert speeds[3] - speeds[2] < 0.1


def test_current_begins_at_cut_in(hut):
    result, generator = hut
    pair = coupled(result.wind.rotor, generator, result.charging_starts_rad_s, 8.0)
    curve = power_curve(pair, wind_grid(pair.rotor, 25.0), 8.0)
    cut_in = cut_in_m_s(pair, curve)
    below, at = settled_rad_s(pair, np.array([cut_in * 0.9999, cut_in]))
    assert below < result.charging_starts_rad_s <= at * (1 + 1e-9)
    nothing = power_curve(coupled(pair.rotor, machine(lambda w: 0.01 * w), None, 8.0), np.array([1.0, 5.0, 8.0]))
    assert cut_in_m_s(pair, nothing) is None


@pytest.mark.parametrize("diameter", [1.2, 1.8, 2.4])
def test_every_watt_is_accounted_for(hut, diameter):
    """Rotor power is the load's, the drag's and all losses, computed anew at the speeds found, not interpolated."""
    result, generator = hut
    rotor = wind_rotor(Turbine(diameter, 6.0))
    pair = coupled(rotor, generator, result.charging_starts_rad_s, 12.0)
    curve = power_curve(pair, np.arange(3.0, 13.0))
    exact = generator(curve.speed_rad_s)
    losses = exact.copper_w + exact.diode_w + exact.cable_w + exact.idle_w
    assert curve.dc_w == pytest.approx(exact.dc_power_w, rel=1e-3)
    assert curve.rotor_w == pytest.approx(exact.dc_power_w + losses + curve.drag_w, rel=2e-3)
    assert curve.phase_rms_a == pytest.approx(exact.phase_rms_a, rel=2e-3)


def test_sixty_speeds_are_enough(hut):
    """Against a table three times as fine."""
    result, generator = hut
    rotor, kink = result.wind.rotor, result.charging_starts_rad_s
    winds = np.arange(2.5, 8.0, 0.5)
    few = coupled(rotor, generator, kink, 8.0)
    many = Coupled(rotor, generator(table_speeds(kink, few.table.speed_rad_s[-1], 180)))
    assert power_curve(few, winds).dc_w == pytest.approx(power_curve(many, winds).dc_w, rel=1e-3)


def test_the_generator_is_computed_once_and_at_sixty_speeds(hut):
    """What makes a power curve quick: winds cost nothing more."""
    result, generator = hut
    calls = []

    def counted(speeds):
        calls.append(len(speeds))
        return generator(speeds)

    pair = coupled(result.wind.rotor, counted, result.charging_starts_rad_s, 8.0)
    power_curve(pair, wind_grid(pair.rotor, 25.0), 8.0)
    assert calls == [60]


def test_nanowatts_at_the_start_of_charging_are_no_charge():
    """The start goes by samples of a wave and may lie a hair above the true one, where a trace flows already."""
    rotor, kink = straight_rotor(drag_nm=0.0), 20.0
    traces = machine(lambda w: 1e-4 * w, lambda w: np.where(w < kink, 0.0, 1e-7 + np.maximum(w - kink, 0.0)))
    pair = coupled(rotor, traces, kink, 12.0)
    curve = power_curve(pair, np.linspace(0, 12, 121))
    cut_in = cut_in_m_s(pair, curve)
    assert settled_rad_s(pair, np.array([cut_in]))[0] == pytest.approx(kink, rel=1e-6)
