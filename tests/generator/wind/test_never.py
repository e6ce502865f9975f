"""Why a load gets no power in any wind, found on whole machines and told by its true cause."""

import pytest


def never(result):
    (text,) = [remark.text for remark in result.warnings if remark.code == "never-charges"]
    return text


@pytest.mark.parametrize(
    ("keys", "cause"),
    [
        ({"wind.furl_m_s": None, "wind.stop_m_s": 2.1}, "stops in 2.1 m/s already (wind.stop_m_s)"),
        ({"wind.furl_m_s": 2}, "furls in 2 m/s already (wind.furl_m_s)"),
    ],
)
def test_a_rotor_that_turns_away_too_early_is_told_so(answered, bundled, keys, cause):
    starts = bundled("hut-charger").wind.fed.cut_in_m_s
    expected = f"the rotor {cause}, and no current flows before {starts:.3g} m/s: "
    expected += "let it run in stronger winds, or wind more rounds, or a gear"
    assert never(answered("hut-charger", keys)) == expected


@pytest.mark.parametrize("furl", [None, 2])
def test_a_battery_of_far_too_many_volts_wants_more_rounds_whatever_the_rotor_does(answered, furl):
    result = answered("hut-charger", {"wind.furl_m_s": furl, "load.voltage_v": 1000})
    text = "in no wind does the rotor turn fast enough for any current to flow: more rounds, or a gear"
    assert never(result) == text


def test_a_rotor_that_drag_holds_below_its_charging_speed_is_told_so(answered):
    """Running free in a storm it would pass the speed by a few hundredths; a stiff gear takes more than that."""
    result = answered("hut-charger", {"wind.furl_m_s": None, "load.voltage_v": 165, "wind.drag_nm": 5})
    assert 1 < result.runaway.speed_rad_s / result.charging_starts_rad_s < 1.05
    assert never(result).startswith("in every wind bearings and what the winding wastes hold the rotor slower than it")


def test_nothing_is_said_where_it_charges(bundled):
    assert not [remark for remark in bundled("hut-charger").warnings if remark.code == "never-charges"]
