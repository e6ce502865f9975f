"""What the meter should read: sines by hand, one round by its own wire, and rows that hang together."""

import math

import pytest

from fieldrun.design.units import RPM
from fieldrun.outputs.meter_sheet import meter_caption, meter_dict, meter_lines, meter_table, sheet_speeds


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_rows_hang_together(bundled, example):
    result = bundled(example)
    for point in meter_dict(result)["points"]:
        speed = point["speed_rpm"] * RPM
        assert point["frequency_hz"] == pytest.approx(result.emf.pole_pairs * point["speed_rpm"] / 60)
        assert point["phase_rms_v"] == pytest.approx(result.emf.rms[0] * speed)
        assert point["line_rms_v"] == pytest.approx(result.emf.line_rms * speed)
        assert point["phase_peak_v"] > 1.3 * point["phase_rms_v"] * 0.9
        assert point["phase_average_v"] == pytest.approx(point["phase_rms_v"], rel=0.06)
        assert point["open_dc_v"] < math.sqrt(6) * 1.1 * point["phase_rms_v"]


def test_one_round_alone_gives_more_than_its_share(bundled):
    """The hut charger's 11 rounds side by side make a 120-degree belt: sin(60 deg)/(pi/3) = 0.827 of their sum."""
    result = bundled("hut-charger")
    point = meter_dict(result)["points"][0]
    share = point["phase_rms_v"] / (44 * point["one_round_rms_v"])
    assert share == pytest.approx(0.827, abs=0.01)


def test_ohms_between_leads(bundled, answered):
    star = meter_dict(bundled("plank-ring"))
    assert star["between_leads_20c_ohm"] == pytest.approx(2 * star["phase_20c_ohm"])
    delta = answered("plank-ring", {"winding.connection": "delta"})
    assert meter_dict(delta)["between_leads_20c_ohm"] == pytest.approx(2 / 3 * star["phase_20c_ohm"])
    assert "between two leads in delta 2.25 ohm" in meter_caption(delta)


def test_the_sheet_is_short_and_starts_with_a_drill(bundled, answered):
    result = bundled("plank-ring")
    assert sheet_speeds(result) == (100, 200, 300)
    headings, rows = meter_table(result)
    assert headings == ("your meter should read", "100 rpm", "200 rpm", "300 rpm")
    assert len(rows) == 7
    assert rows[0] == ("hertz", "10", "20", "30")
    lines = meter_lines(result)
    assert len(lines) == 9
    assert lines[1].split() == ["hertz", "10", "20", "30"]
    one = answered("plank-ring", {"winding.phases": 1, "load.speeds_rpm": [500]})
    assert sheet_speeds(one) == (200, 500)
    assert not any("lines" in row[0] for row in meter_table(one)[1])
    assert "between" not in meter_caption(one)
