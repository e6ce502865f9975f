"""The picture of a load shows the currents and watts that the numbers tell."""

import dataclasses

import numpy as np
import pytest

from fieldrun.design.units import RPM
from fieldrun.outputs.file_names import LOAD_FILES, OUR_FILES
from fieldrun.outputs.load_picture import load_picture, swept_speeds, works
from fieldrun.outputs.sentences import plain


@pytest.fixture
def plank(bundled):
    return bundled("plank-ring")


def drawn(axes, gid):
    return next(line for line in axes.lines if line.get_gid() == gid)


def test_waves_of_the_highest_asked_speed(plank):
    volts, amps, torque, *_ = load_picture(plank).axes
    point = plank.delivery.points[-1]
    peak = np.max(plank.emf.waveform[0]) * 300 * RPM
    assert np.max(drawn(volts, "emf-1").get_ydata()) == pytest.approx(peak, rel=1e-3)
    assert volts.get_title(loc="left") == f"Each phase makes up to {plain(peak, 'V')}"
    degrees, direct = drawn(amps, "dc-current").get_data()
    assert np.trapezoid(direct, degrees) / 360 == pytest.approx(point.dc_current_a, rel=2e-3)
    assert {line.get_gid() for line in amps.lines} >= {"phase-current-1", "phase-current-2", "phase-current-3"}
    assert "line-current-1" not in {line.get_gid() for line in amps.lines}  # a star's line is its phase
    assert np.ptp(drawn(torque, "torque").get_ydata()) == pytest.approx(point.torque_ripple * point.torque_nm, rel=1e-6)
    swing = plain(100 * point.torque_ripple, "%")
    assert torque.get_title(loc="left") == f"Torque swings by {swing} round {plain(point.torque_nm, 'N m')}"


def test_watts_stand_on_each_other_and_end_at_the_shaft(plank):
    *_, stack, efficiency = load_picture(plank).axes
    swept = swept_speeds(plank, plank.design.load)
    tops = {item.get_gid(): item.get_paths()[0].vertices[:, 1].max() for item in stack.collections if item.get_gid()}
    assert tops["the load"] == pytest.approx(swept.dc_power_w[-1])
    assert list(tops) == ["the load", "copper", "diodes", "eddy currents"]  # no cable: not shown
    assert tops["eddy currents"] == pytest.approx(swept.shaft_power_w[-1], rel=1e-3)
    rpm, percent = drawn(efficiency, "efficiency").get_data()
    assert rpm[-1] == pytest.approx(300)
    assert percent == pytest.approx(100 * swept.efficiency)
    asked, found = drawn(efficiency, "asked-speeds").get_data()
    assert asked == pytest.approx([200, 300])  # 100 rpm lies below the first current
    assert found == pytest.approx(100 * plank.delivery.efficiency[1:])
    best = int(np.argmax(percent))
    assert efficiency.get_title(loc="left") == f"Most arrives at {plain(rpm[best], 'rpm')}: {percent[best]:.0f} %"


def test_the_sweep_begins_a_little_before_the_first_current(plank):
    swept = swept_speeds(plank, plank.design.load)
    assert swept.speed_rad_s[0] == pytest.approx(0.9 * plank.charging_starts_rad_s)
    assert swept.dc_power_w[0] == 0
    assert swept.dc_power_w[2] > 0


def test_one_phase_pulses_and_it_is_said(answered):
    figure = load_picture(answered("plank-ring", {"winding.phases": 1}))
    _, amps, torque, *_ = figure.axes
    assert torque.get_title(loc="left").startswith("Torque of one phase pulses up to 2.")
    assert amps.get_title(loc="left").startswith("Current in pulses")
    assert "the torque of one phase pulses between nothing and" in figure.get_label()
    assert "no cogging" in " ".join(text.get_text() for text in figure.texts)


def test_lines_of_a_delta_are_shown_beside_its_phases(answered):
    _, amps, *_ = load_picture(answered("hut-charger", {"winding.connection": "delta", "wind": None})).axes
    line, phase = (drawn(amps, gid).get_ydata() for gid in ("line-current-1", "phase-current-1"))
    assert np.max(np.abs(line)) > 1.2 * np.max(np.abs(phase))
    assert [text.get_text() for text in amps.get_legend().get_texts()] == ["line 1", "direct"]


def test_resistors_without_diodes(answered):
    keys = {"load.kind": "resistor", "load.voltage_v": None, "load.resistance_ohm": 4.0, "load.rectifier": "none"}
    result = answered("plank-ring", keys)
    _, amps, _, stack, efficiency = load_picture(result).axes
    assert amps.get_legend() is None
    assert (
        amps.get_title(loc="left")
        == f"Each phase carries {plain(result.delivery.points[-1].phase_rms_a, 'A')} effective"
    )
    assert [item.get_gid() for item in stack.collections if item.get_gid()] == ["the load", "copper", "eddy currents"]
    arrive = 100 * result.delivery.efficiency[-1]
    assert efficiency.get_title(loc="left") == f"At 300 rpm {arrive:.0f} % arrive"


def test_nothing_to_draw_below_the_first_current(plank):
    idle = dataclasses.replace(plank, delivery=None)
    assert not works(idle)
    with pytest.raises(ValueError, match="the load gets no power at the asked speeds"):
        load_picture(idle)


def test_a_run_leaves_it_behind(plank_folder):
    assert {path.name for path in plank_folder.iterdir()} == OUR_FILES | LOAD_FILES
