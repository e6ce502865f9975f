"""Warnings of volts, amperes and winds: when they come, and in which words."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.model import Load, WindRecord
from fieldrun.generator.cautions import current_warnings, load_warnings, voltage_warnings
from fieldrun.generator.heating import Cooling, Heat
from fieldrun.generator.wind.climate import Measured
from fieldrun.generator.wind.runaway import Runaway
from fieldrun.generator.wind.wind_remarks import wind_assumptions, wind_warnings

RPM = np.pi / 30


def away(peak, rms, wind=8.0):
    return Runaway(500 * RPM, wind, 80.0, peak, rms, 7.0, 7.0, None)


@pytest.fixture
def design(bundled):
    return bundled("hut-charger").design


@pytest.mark.parametrize(
    ("peak", "rms", "code"),
    [
        (35.0, 24.9, None),
        (36.0, 25.1, "voltage-touchable"),
        (60.1, 24.9, "voltage-touchable"),
        (119.0, 49.9, "voltage-touchable"),
        (119.0, 50.1, "voltage-dangerous"),
        (120.1, 49.9, "voltage-dangerous"),
    ],
)
def test_limits_of_extra_low_voltage(design, peak, rms, code):
    """50 V AC and 120 V DC, 25 and 60 where bare parts are within reach (IEC 61140, IEC 60364-4-41 clause 414)."""
    told = voltage_warnings(away(peak, rms), design)
    assert [remark.code for remark in told] == ([code] if code else [])


def test_what_is_said_of_volts(design):
    (touch,) = voltage_warnings(away(70.0, 40.0), design)
    assert touch.text == (
        "with nothing connected and the rotor running free in a wind of 8 m/s, at 500 rpm, the generator gives 40 V "
        "between its wires (effective) and 70 V behind the diodes; bare parts within reach may carry 25 V AC and 60 V "
        "DC at most: cover them; licensed practice and local codes decide"
    )
    (deadly,) = voltage_warnings(dataclasses.replace(away(170.0, 100.0), wind_m_s=None), design)
    assert deadly.text.startswith("with nothing connected at 500 rpm the generator gives 100 V")
    assert "extra-low voltage ends at 50 V AC and 120 V DC: this can kill; insulate everything" in deadly.text
    assert deadly.text.endswith("licensed practice and local codes decide")


def test_without_diodes_only_the_alternating_voltage_counts(design):
    bare = dataclasses.replace(design, load=Load("resistor", resistance_ohm=3.0, rectifier="none"))
    assert voltage_warnings(away(61.0, 24.0), bare) == ()
    (touch,) = voltage_warnings(away(61.0, 26.0), bare)
    assert "diodes" not in touch.text


def test_current_that_burns(bundled):
    hut = bundled("hut-charger")
    curve = hut.wind.fed.curve
    most = float(curve.phase_rms_a.max())

    def heat(stands):
        cooling = Cooling(30.0, 1.0, stands, stands * 2e6, 1.0)
        return Heat(60.0, 25.0, 50.0, 0.1, cooling, cooling)

    assert current_warnings(curve, heat(1.001 * most)) == ()
    assert current_warnings(curve, heat(0.0)) == ()
    (remark,) = current_warnings(curve, heat(most / 2))
    assert remark.code == "current-density"
    assert f"in 8 m/s it is {most:.2g} A, {2 * most:.2g} A/mm2, where textbooks allow 5 to 10" in remark.text
    (much,) = current_warnings(dataclasses.replace(curve, phase_rms_a=100 * curve.phase_rms_a), heat(100.0))
    assert f"it is {round(100 * most, -1):.0f} A, " in much.text
    assert "e+" not in much.text
    first = float(curve.wind_m_s[np.argmax(curve.phase_rms_a > most / 2)])
    assert remark.text.startswith(f"in winds from {first:.2g} m/s on a phase carries more than the {most / 2:.2g} A")


def test_rotor_and_load_that_do_not_suit(bundled):
    fed = bundled("hut-charger").wind.fed
    assert load_warnings(fed) == ()
    (never,) = load_warnings(dataclasses.replace(fed, cut_in_m_s=None))
    assert never.code == "never-charges"
    stalls, runs = load_warnings(dataclasses.replace(fed, stalls_from_m_s=5.0, runs_away_from_m_s=12.0))
    assert (stalls.code, runs.code) == ("rotor-stalls", "rotor-runs-away")
    assert stalls.text.startswith("from 5 m/s on the load holds the rotor so slow that its blades stall")
    assert runs.text.startswith("from 12 m/s on the load hardly holds the rotor back")


def test_a_record_with_holes_or_of_a_few_days(bundled):
    hut = bundled("hut-charger")
    record = WindRecord("r.csv", (4.0,), (240.0,), "2024-03-01T00:00", "2024-03-12T00:00", 600.0, 2, 24.0, 20.0)
    wind = dataclasses.replace(hut.wind, climate=Measured(np.array([4.0]), np.array([1.0]), record))
    told = {w.code: w.text for w in wind_warnings(hut.design, wind, away(1.0, 1.0), hut.heat)}
    assert told["wind-record-gaps"].startswith("r.csv lacks 9 % of its time in 2 gaps, the longest 20 h: ")
    assert told["wind-record-short"] == "r.csv holds 10 days of wind; a year is made of them as if they were typical"
    (line,) = [text for text in wind_assumptions(hut.design, wind) if text.startswith("The wind is")]
    assert line == (
        "The wind is r.csv: 240 h from 2024-03-01T00:00 to 2024-03-12T00:00; 2 gaps of 24 h together are left out; the "
        "year is made of them."
    )
    full = dataclasses.replace(record, hours=(8700.0,), gaps=0, missing_hours=0.0)
    whole = dataclasses.replace(wind, climate=Measured(np.array([4.0]), np.array([1.0]), full))
    assert not [w for w in wind_warnings(hut.design, whole, away(1.0, 1.0), hut.heat) if w.code.startswith("wind-")]
    (line,) = [text for text in wind_assumptions(hut.design, whole) if text.startswith("The wind is")]
    assert line.endswith("8700 h from 2024-03-01T00:00 to 2024-03-12T00:00; the year is made of them.")


def test_what_is_taken_for_granted(bundled):
    hut = bundled("hut-charger")
    told = wind_assumptions(hut.design, hut.wind)
    assert told[0] == (
        "The rotor's power coefficient follows Heier's formula stretched to 0.36 at tip-speed ratio 6: at most 0.36 at "
        "tip-speed ratio 6, none at 9.93."
    )
    assert "At standstill the rotor's torque coefficient is 0.0139, by Lysen's rule" in told[1]
    assert told[2].startswith("wind.drag_nm is not given: bearings are taken to drag with 0.049 N m")
    assert told[3].startswith("Air has 1.048 kg/m3 (ISO 2533 at 1600 m)")
    assert told[4] == "Above 8 m/s the rotor furls so far that it goes on as in that wind."
    assert told[5] == "wind.stop_m_s is not given: above 25 m/s the rotor is taken to be tied up."
    assert told[6] == "Winds spread about their mean by Rayleigh's law."
    assert set(told) <= set(hut.assumptions)
    assert wind_assumptions(hut.design, None) == ()


def test_what_is_given_is_not_assumed(answered):
    wind = {
        "wind.drag_nm": 0.1,
        "wind.start_torque_coefficient": 0.02,
        "wind.peak_cp": None,
        "wind.stop_m_s": 20,
        "wind.furl_m_s": None,
        "wind.weibull_shape": 1.8,
        "wind.measured_height_m": 4,
        "wind.hub_height_m": 12,
        "wind.roughness_m": 0.03,
    }
    result = answered("hut-charger", wind)
    told = wind_assumptions(result.design, result.wind)
    assert told[1] == "wind.peak_cp is not given: 0.35, what small rotors of three blades reach at least."
    assert told[3] == "Winds spread about their mean by Weibull's law, shape 1.8."
    assert told[4].startswith("At the rotor the wind is 1.22 times that at the measured height, by the logarithmic law")
    assert not [text for text in told if "drag" in text or "Lysen" in text or "furl" in text]
