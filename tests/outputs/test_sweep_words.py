"""Keys in words: known ones, all others by their ends, values without digits that nobody sets."""

import pytest

from fieldrun.outputs.sweep_words import MORE_UNITS, PICKED, VARIED, axis_label, named, short, words_of
from fieldrun.studies.sweep.picks import QUICK
from fieldrun.studies.sweep.values import key_fault


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("rotor.gap_mm", "gap, mm"), ("magnets.thickness_mm", "magnet thickness, mm"),
        ("rotor.backing", "backing"), ("winding.inner_radius_mm", "winding inner radius, mm"),
        ("wire.awg", "wire, AWG"), ("wind.mean_m_s", "mean, m/s"), ("magnets.temperature_c", "magnet temperature, °C"),
        ("emf.rms_v_per_krpm", "rms EMF per phase, V per 1000 rpm"),
        ("heat.still_air.current_a", "still air current, A"),
        ("output.points.0.dc_power_w", "points 0 dc power, W"), ("wire.mass_g_per_m", "wire mass, g/m"),
        ("heat.idle_loss_w", "idle loss, W"), ("winding.rounds_per_phase", "rounds per phase"),
        ("tolerance.gap_mm", "deviation of gap, mm"),
    ],
)  # fmt: skip
def test_labels(key, told):
    assert axis_label(key) == told


def test_named_keys_are_keys():
    assert [key for key in VARIED if key_fault(key)] == []
    assert set(QUICK) <= set(PICKED)


def test_unit_of_a_known_pick_is_that_of_its_name():
    endings = {key: max((end for end in MORE_UNITS if key.endswith(end)), key=len, default="") for key in PICKED}
    whole = {key: end for key, end in endings.items() if end and ("_per_" in end or "_per_" not in key)}
    assert len(whole) > 10
    assert {key: PICKED[key][1] for key in whole} == {key: MORE_UNITS[end] for key, end in whole.items()}


def test_values():
    assert named("rotor.gap_mm", 7.52631578947) == "gap 7.526 mm"
    assert named("rotor.backing", "mild steel") == "backing mild steel"
    assert named("rotor.gap_mm", "stack") == "gap stack"
    assert [short(value) for value in (8.0, 12, 123456.0, 0.05, "fill")] == ["8", "12", "123456.0", "0.05", "fill"]
    assert words_of("winding.layers") == ("winding layers", "")
