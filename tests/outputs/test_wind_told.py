"""A year in the wind: sentences, rows and the result file."""

import dataclasses
import json
import math

import pytest

from fieldrun.outputs.result_file import result_dict, result_text
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import cautions, sentences, table_rows
from fieldrun.outputs.wind_told import charging_wind, runaway_caution, state_of, wind_dict, wind_rows, wind_sentences

RPM = math.pi / 30

WIND = {
    "starts_at_m_s", "furls_at_m_s", "stops_at_m_s", "air_density_kg_m3", "runaway", "cut_in_m_s", "mean_m_s",
    "annual_energy_kwh", "rated_w", "rated_from_m_s", "capacity_factor", "hours_without_charge",
    "below_mean_hours_percent", "below_mean_wind_energy_percent", "below_mean_energy_percent", "classes", "points",
}  # fmt: skip
RUNAWAY = {
    "wind_m_s", "generator_rpm", "tip_speed_m_s", "rim_speed_m_s", "peak_v", "line_rms_v", "magnet_load_n",
}  # fmt: skip
POINT = {
    "wind_m_s", "rotor_rpm", "generator_rpm", "tip_speed_ratio", "power_coefficient", "rotor_w", "drag_w", "dc_w",
    "phase_rms_a", "state",
}  # fmt: skip


@pytest.fixture
def hut(bundled):
    return bundled("hut-charger")


@pytest.fixture
def told(hut):
    return json.loads(result_text(hut))["output"]["wind"]


def test_the_keys_of_the_contract(told):
    assert set(told) == WIND
    assert set(told["runaway"]) == RUNAWAY
    assert all(set(point) == POINT for point in told["points"])
    assert all(set(row) == {"from_m_s", "to_m_s", "hours", "energy_kwh"} for row in told["classes"])


def test_twenty_winds_and_what_the_machine_does_in_them(told):
    points = told["points"]
    assert [point["wind_m_s"] for point in points] == list(range(1, 21))
    states = [point["state"] for point in points]
    assert states == ["still", "turns"] + 6 * ["works"] + 12 * ["furled"]
    for point in points:
        assert (point["dc_w"] > 0) == (point["wind_m_s"] > told["cut_in_m_s"])
        tips = point["rotor_rpm"] * RPM * 0.9 / min(point["wind_m_s"], 8)
        assert point["tip_speed_ratio"] == pytest.approx(tips, rel=1e-9)
        assert point["rotor_w"] >= point["dc_w"] + point["drag_w"]


def test_the_year_adds_up(told):
    assert sum(row["energy_kwh"] for row in told["classes"]) == pytest.approx(told["annual_energy_kwh"], rel=1e-9)
    assert told["annual_energy_kwh"] == pytest.approx(told["rated_w"] * told["capacity_factor"] * 8.76, rel=1e-9)
    cut_in = told["cut_in_m_s"]
    calm = 1 - math.exp(-math.pi / 4 * (cut_in / 4.5) ** 2) + math.exp(-math.pi / 4 * (25 / 4.5) ** 2)
    assert told["hours_without_charge"] == pytest.approx(8760 * calm, rel=1e-9)
    assert told["below_mean_hours_percent"] == pytest.approx(54.4, abs=0.05)
    assert told["below_mean_wind_energy_percent"] == pytest.approx(9.52, abs=0.005)


def test_it_is_said_in_the_builder_s_words(hut, told):
    year, light = wind_sentences(hut)
    assert year == (
        f"In a mean wind of 4.5 m/s it charges {plain(told['annual_energy_kwh'], 'kWh')} a year, at most "
        f"{plain(told['rated_w'], 'W')} and {100 * told['capacity_factor']:.0f} % of that on average; "
        f"{told['hours_without_charge']:.0f} of the year's 8760 hours bring nothing."
    )
    assert light == (
        "Light winds are most of the hours and little of the energy: below the mean it blows 54 % of the time, with "
        f"9.5 % of the wind's energy, and brings {told['below_mean_energy_percent']:.0f} % of these kilowatt-hours."
    )
    assert {year, light} <= set(sentences(hut))


def test_watts_of_a_wind_that_hardly_ever_blows_are_told_as_such(hut):
    fed, energy = hut.wind.fed, dataclasses.replace(hut.wind.fed.energy, rated_m_s=25.0, rated_hours=9.0)
    seldom = dataclasses.replace(hut, wind=dataclasses.replace(hut.wind, fed=dataclasses.replace(fed, energy=energy)))
    assert f"at most {plain(energy.rated_w, 'W')} (in 25 m/s, which hardly ever blows) and" in wind_sentences(seldom)[0]


def test_the_rule_of_light_winds_is_told_where_it_holds(hut):
    """A machine that stalls in strong winds brings much in light ones."""
    fed, energy = hut.wind.fed, dataclasses.replace(hut.wind.fed.energy, below_mean_energy=0.32)
    stalls = dataclasses.replace(hut, wind=dataclasses.replace(hut.wind, fed=dataclasses.replace(fed, energy=energy)))
    assert wind_sentences(stalls)[1].startswith("Below the mean it blows 54 % of the time, with 9.5 % of the wind's")


def test_where_it_starts_is_told_with_the_battery(hut, told):
    assert charging_wind(hut.wind) == (
        f", with a rotor of 1.8 m in a wind of {plain(told['cut_in_m_s'], 'm/s')} (it starts to turn in "
        f"{plain(told['starts_at_m_s'], 'm/s')})"
    )
    never = dataclasses.replace(hut.wind, fed=dataclasses.replace(hut.wind.fed, cut_in_m_s=None))
    assert charging_wind(never) == ", which the rotor reaches in no wind"
    assert charging_wind(dataclasses.replace(hut.wind, starts_at_m_s=0.0)).endswith(" m/s (it turns in any wind)")
    assert wind_sentences(dataclasses.replace(hut, wind=never)) == []


def test_rows_for_winds_that_the_rotor_faces(hut, told):
    rows = wind_rows(hut)
    assert [row[0] for row in rows] == [f"in a wind of {wind} m/s" for wind in (3, 5, 7)]
    five = told["points"][4]
    assert rows[1][1:] == (
        plain(five["dc_w"], "W"),
        (
            f"into the load at {five['generator_rpm']:.0f} rpm; the rotor takes {plain(five['rotor_w'], 'W')}, "
            f"{100 * five['power_coefficient']:.0f} % of the wind's power"
        ),
    )
    assert table_rows(hut, result_dict(hut)["field"])[-3:] == rows


def test_what_runs_away_is_cautioned_of(hut, told):
    away = told["runaway"]
    assert runaway_caution(hut) == (
        f"Caution: with nothing connected, in a wind of 8 m/s, the generator runs up to {away['generator_rpm']:.0f} "
        f"rpm, its rim at {plain(away['rim_speed_m_s'], 'm/s')} and the rotor's tips at "
        f"{plain(away['tip_speed_m_s'], 'm/s')}; each magnet pulls outwards with {plain(away['magnet_load_n'], 'N')}, "
        f"the weight of {plain(away['magnet_load_n'] / 9.80665, 'kg')}: hold magnets by more than glue, and never "
        "stand in the plane of the rotor."
    )
    assert runaway_caution(hut) in cautions(hut)
    coil = dataclasses.replace(hut, runaway=dataclasses.replace(hut.runaway, magnet_n=None, halves_n=98.0665))
    assert "the winding's halves pull apart with 98.1 N, the weight of 10 kg: a cast winding" in runaway_caution(coil)


def test_tips_too_fast_for_wood_are_told_as_such(hut):
    def said(tips):
        return runaway_caution(dataclasses.replace(hut, runaway=dataclasses.replace(hut.runaway, tip_speed_m_s=tips)))

    assert "blades" not in said(109.0)
    assert (
        "the rotor's tips at 111 m/s, which blades of wood or plastic do not stand: have it furl earlier, or brake it; "
        "each magnet pulls"
    ) in said(111.0)


def test_without_a_rotor_nothing_is_said(bundled):
    plank = bundled("plank-ring")
    assert wind_dict(plank) == {}
    assert wind_sentences(plank) == wind_rows(plank) == []
    assert runaway_caution(plank) == charging_wind(plank.wind) == ""
    assert "wind" not in result_dict(plank)["output"]


def test_a_rotor_without_a_load_has_its_start_and_runaway(answered):
    result = answered("hut-charger", {"load": None})
    told = wind_dict(result)["wind"]
    assert set(told) == {"starts_at_m_s", "furls_at_m_s", "stops_at_m_s", "air_density_kg_m3", "runaway"}
    assert (told["furls_at_m_s"], told["stops_at_m_s"]) == (8, 25)
    assert wind_sentences(result) == wind_rows(result) == []


def test_without_a_mean_wind_there_is_no_year(answered):
    result = answered("hut-charger", {"wind.mean_m_s": None})
    assert "annual_energy_kwh" not in wind_dict(result)["wind"]
    assert len(wind_dict(result)["wind"]["points"]) == 20
    assert wind_sentences(result) == []


def test_a_resistor_is_given_its_energy(answered):
    load = {"load.kind": "resistor", "load.voltage_v": None, "load.resistance_ohm": 4.0}
    result = answered("hut-charger", load)
    assert " it gives the load " in wind_sentences(result)[0]


def test_a_record_is_named(answered, tmp_path):
    rows = "".join(f"2024-03-01T{hour:02d}:00,{3 + hour % 5}\n" for hour in range(24))
    (tmp_path / "mast.csv").write_text("time,speed_m_s\n" + rows, encoding="utf-8")
    told = wind_dict(answered("hut-charger", {"wind.mean_m_s": None, "wind.record": "mast.csv"}))["wind"]
    assert told["record"] == {
        "file": "mast.csv",
        "first": "2024-03-01T00:00",
        "last": "2024-03-01T23:00",
        "hours": 24.0,
        "interval_s": 3600.0,
        "gaps": 0,
        "missing_hours": 0.0,
        "longest_gap_hours": 0.0,
    }
    assert told["longest_time_without_charge_hours"] == 0  # it always blows 3 m/s at least
    assert told["mean_m_s"] == pytest.approx(sum(3 + hour % 5 for hour in range(24)) / 24)


def test_the_longest_lull_is_told_in_hours_and_days(answered, tmp_path):
    """Two days of 2 m/s, which turn the rotor and charge nothing, between windy hours; a day more behind a gap."""
    cells = ["5"] * 3 + ["2"] * 48 + ["6"] + ["1"] * 20 + [""] + ["1"] * 23 + ["7"]
    rows = "".join(f"2024-03-{1 + hour // 24:02d}T{hour % 24:02d}:00,{cell}\n" for hour, cell in enumerate(cells))
    (tmp_path / "mast.csv").write_text("time,speed_m_s\n" + rows, encoding="utf-8")
    keys = {"wind.mean_m_s": None, "wind.record": "mast.csv"}
    result = answered("hut-charger", keys)
    assert wind_dict(result)["wind"]["longest_time_without_charge_hours"] == pytest.approx(48)
    assert wind_sentences(result)[-1] == (
        "The longest time in mast.csv without a reading strong enough to bring anything: 48 h (2 days); what hangs on "
        "the battery must live through it."
    )
    higher = {"wind.measured_height_m": 10, "wind.hub_height_m": 18, "wind.shear_exponent": 0.25}
    told = wind_dict(answered("hut-charger", keys | higher))["wind"]  # 2 m/s are 2.32 at the rotor: enough
    assert told["longest_time_without_charge_hours"] == pytest.approx(23)


@pytest.mark.slow
def test_knots_and_kilometres_per_hour_are_the_same_wind(answered, hut):
    """10 kn = 5.1444 m/s (a knot is 1852 m in 3600 s)."""
    knots = answered("hut-charger", {"wind.mean_m_s": None, "wind.mean_knots": 10}).wind.fed.energy
    metric = answered("hut-charger", {"wind.mean_m_s": 5.144444444}).wind.fed.energy
    hours = answered("hut-charger", {"wind.mean_m_s": None, "wind.mean_km_h": 18.52}).wind.fed.energy
    assert knots.mean_m_s == pytest.approx(5.1444, abs=1e-4)
    assert knots.annual_kwh == pytest.approx(metric.annual_kwh, rel=1e-8)
    assert hours.annual_kwh == pytest.approx(metric.annual_kwh, rel=1e-8)


def test_every_state_has_its_word(hut):
    fed, points = hut.wind.fed, hut.wind.fed.points
    runs = dataclasses.replace(hut.wind, fed=dataclasses.replace(fed, runs_away_from_m_s=5.0))
    assert state_of(runs, points, 5) == "runs away"
    assert state_of(runs, points, 3) == "works"
    stalled = dataclasses.replace(points, stalled=points.dc_w > 0)
    assert state_of(hut.wind, stalled, 4) == "stalls"
    assert state_of(dataclasses.replace(hut.wind, stop_m_s=15.0), points, 17) == "stopped"


def test_brushes_cost_what_they_drop(answered):
    coil = {"rotor.spins": "coil", "wind.brush_drop_v": 1.6}
    plain_, brushed = (answered("hut-charger", keys) for keys in ({"rotor.spins": "coil"}, coil))
    assert brushed.charging_starts_rad_s / plain_.charging_starts_rad_s == pytest.approx((14 + 1.6) / 14)
    assert brushed.wind.fed.energy.annual_kwh < plain_.wind.fed.energy.annual_kwh
