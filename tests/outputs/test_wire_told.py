"""The result file's `wire` table: every key, every figure in the unit of its name."""

import math

import pytest

from fieldrun.outputs.wire_told import wire_dict

RPM = 2 * math.pi / 60
EVERY = {
    "overall_mm", "copper_mm2", "resistance_20c_ohm_per_m", "resistance_hot_ohm_per_m", "catalogue_20c_ohm_per_m",
    "mass_g_per_m",
}  # fmt: skip
HOME = {"wire.strands": 12, "wire.strand_mm": 0.16, "wire.bench_mm": 6000, "wire.strands_in_series": 3}


def test_half_a_millimetre_of_solid_wire(bundled):
    """Enamelled: 0.544 mm at most; 0.1963 mm2, 87.8 mohm/m, 1.746 g/m."""
    table = wire_dict(bundled("plank-ring"), ())
    assert set(table) == EVERY
    assert table["overall_mm"] == pytest.approx(0.544)
    assert table["copper_mm2"] == pytest.approx(math.pi / 16)
    assert table["resistance_20c_ohm_per_m"] == pytest.approx(0.087808, rel=1e-4)
    assert table["catalogue_20c_ohm_per_m"] == pytest.approx(0.087059, rel=1e-4)
    assert table["resistance_hot_ohm_per_m"] == pytest.approx(0.087808 * (1 + 0.00393 * 40), rel=1e-4)
    assert table["mass_g_per_m"] == pytest.approx(8.89 * math.pi / 16)


def test_a_bundle_and_its_strands(bundled):
    halbach = bundled("quiet-halbach")
    table = wire_dict(halbach, (40.0, 250.0))
    assert set(table) == EVERY | {"take_up", "joinings", "links"}
    assert table["take_up"] == halbach.design.wire.length_factor
    assert table["links"] == []
    parallel, *_, series = table["joinings"]
    rms = float(halbach.emf.rms[0]) * 1000 * RPM
    assert parallel == {
        "in_series": 1,
        "in_parallel": 35,
        "rms_v_per_krpm": pytest.approx(rms),
        "resistance_20c_ohm": pytest.approx(halbach.impedance.resistance_20c_ohm),
        "resistance_hot_ohm": pytest.approx(halbach.impedance.resistance_hot_ohm),
        "joints_per_phase": 0,
        "ends_per_joint": 70,
        "matched_w_per_krpm2": pytest.approx(3 * rms**2 / 4 / halbach.impedance.resistance_hot_ohm),
        "charging_starts_rpm": pytest.approx(halbach.charging_starts_rad_s / RPM),
        "charges_at_rpm": [250.0],
    }
    assert series["charges_at_rpm"] == [40.0, 250.0]
    assert series["ends_per_joint"] == 2


def test_without_a_battery_no_speed_of_charging(answered):
    table = wire_dict(answered("quiet-halbach", {"load": None}), (100.0,))
    assert not any("charg" in key for key in table["joinings"][0])


def test_a_bundle_twisted_at_home(answered):
    home = answered("quiet-halbach", HOME)
    table, plan = wire_dict(home, ()), home.twisting
    assert table["links"] == [{"ends": [1, 4], "starts": [5, 8]}, {"ends": [5, 8], "starts": [9, 12]}]
    assert table["twisting"] == {
        "bench_mm": 6000.0,
        "passes": 12,
        "drill_turns": round(plan.piece_m / 0.015),
        "piece_m": pytest.approx(6 / home.design.wire.length_factor),
        "usable_m": pytest.approx(6 / home.design.wire.length_factor - 0.3),
        "rounds_per_piece": plan.rounds_per_piece,
        "pieces_per_phase": len(plan.joints) + 1,
        "joints": [{"rounds": joint.rounds, "turns": 0} for joint in plan.joints],
        "wire_per_piece_m": pytest.approx(75.6),
        "wire_m": pytest.approx(75.6 * 3 * plan.pieces_per_phase),
    }
    assert plan.pieces_per_phase > 1
