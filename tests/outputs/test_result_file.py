"""`result.json` keeps the contract that programs rely on: every key there, in its unit, finite, and nothing beside."""

import dataclasses
import json
import math

import numpy as np
import pytest

import fieldrun
from fieldrun.design.read import design_hash, read_design
from fieldrun.generator.machine import mean_radius_m, middle_height_m
from fieldrun.outputs.result_file import about, result_dict, result_text

EXAMPLES = ("hut-charger", "plank-ring", "quiet-halbach")
ODD = ["1", "3", "5", "7", "9", "11", "13", "15"]
KRPM = 1000 * 2 * math.pi / 60

TOP = {
    "schema", "fieldrun", "name", "design", "design_hash", "warnings", "assumptions", "notes", "mesh",
    "field", "emf", "winding", "wire", "circuit", "heat", "torque", "meter", "output", "forces",
}  # fmt: skip

KEYS = {
    "field": {
        "b1_mean_radius_t", "harmonics_t", "peak_t", "estimate_t", "error_estimate_percent",
        "estimates", "numerical_error_percent",
    },
    "emf": {
        "fundamental_v_s_per_rad", "harmonics_v_s_per_rad", "rms_v_s_per_rad", "rms_v_per_krpm", "thd_percent",
        "phase_angle_rad", "waveform", "line_rms_v_per_krpm",
    },
    "winding": {
        "rounds_per_phase", "conductor_length_m", "copper_mass_kg", "thickness_mm", "fill", "factors",
        "end_copper_share", "rim_mm_per_phase",
    },
    "wire": {
        "overall_mm", "copper_mm2", "resistance_20c_ohm_per_m", "resistance_hot_ohm_per_m", "catalogue_20c_ohm_per_m",
        "mass_g_per_m",
    },
    "circuit": {
        "resistance_20c_ohm", "resistance_hot_ohm", "inductance_h", "mutual_inductance_h", "eddy_loss_w_per_krpm2",
    },
    "heat": {"limit_c", "air_c", "speed_rpm", "idle_loss_w", "still_air", "moving_air"},
    "torque": {
        "kt_nm_per_a", "motor_constant_nm_per_sqrt_w", "speed_constant_rpm_per_v",
        "at_voltage_v", "no_load_rpm", "stall_current_a", "stall_torque_nm",
    },
    "output": {"matched_w_per_krpm2", "charging_starts_rpm", "points"},
    "mesh": {"model", "harmonics", "unknowns", "newton_steps", "section"},
}  # fmt: skip
"""What every bundled design has."""

SOME = {
    "hut-charger": {
        "field": {"steel_peak_t", "steel"}, "emf": {"change_per_gap_mm_percent"}, "output": {"wind"},
    },
    "plank-ring": {"winding": {"end_bundle_wires"}},
    "quiet-halbach": {"emf": {"change_per_gap_mm_percent"}, "wire": {"take_up", "joinings", "links"}},
}  # fmt: skip
"""What follows from steel, from end arcs, from a gap and from strands."""

PULLED = ("hut-charger", "quiet-halbach")
"""Those with a second disc to pull."""


def numbers(value, path=""):
    """Every number of a result with its path."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, f"{path}.{key}")
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from numbers(inner, f"{path}[{index}]")
    elif not isinstance(value, str):
        yield path, value


@pytest.fixture(params=EXAMPLES)
def example(request):
    return request.param


@pytest.fixture
def content(bundled, example):
    return json.loads(result_text(bundled(example)))


def test_every_key_of_the_contract_is_there_and_no_other(content, example):
    assert set(content) == TOP
    pull = {"disc_pull_n"} if example in PULLED else set()
    assert set(content["forces"]) == pull | {"rotating_mass_kg", "rotating_inertia_kg_m2"}
    for table, keys in KEYS.items():
        assert set(content[table]) == keys | SOME[example].get(table, set())


def test_every_number_is_finite_and_a_number(content):
    found = list(numbers(content))
    assert len(found) > 500
    for path, value in found:
        assert type(value) in {int, float}, f"{path} holds {value!r}"
        assert math.isfinite(value), path


def test_it_says_what_it_is(content, example, bundled):
    assert content["schema"] == 1
    assert content["fieldrun"] == fieldrun.__version__
    assert content["name"] == example
    assert content["design_hash"] == bundled(example).design_hash
    assert content["design"]["title"] == bundled(example).design.title
    assert content["warnings"] == [{"code": w.code, "text": w.text} for w in bundled(example).warnings]
    assert all(set(remark) == {"code", "text"} for remark in content["warnings"])


def test_the_design_in_it_is_a_design_file_again(content, example, bundled, tmp_path):
    """Resolved: every default filled in, so that nothing depends on a later version's defaults."""
    tables = {key: value for key, value in content["design"].items() if isinstance(value, dict)}
    lines = [f"title = {json.dumps(content['design']['title'])}"]
    for name, table in tables.items():
        lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items())]
    path = tmp_path / f"{example}.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    again, first = read_design(path), bundled(example).design
    assert json.loads(again.written) == content["design"]
    assert design_hash(again) == content["design_hash"]
    assert (again.magnets, again.wire, again.load) == (first.magnets, first.wire, first.load)
    assert again.winding.height_m == pytest.approx(first.winding.height_m, rel=1e-11)


def test_harmonics_are_odd_and_signed_for_the_field_and_sizes_for_the_emf(content, bundled, example):
    field, emf = content["field"], content["emf"]
    assert list(field["harmonics_t"]) == list(emf["harmonics_v_s_per_rad"]) == ODD
    assert field["b1_mean_radius_t"] == field["harmonics_t"]["1"]
    assert emf["fundamental_v_s_per_rad"] == emf["harmonics_v_s_per_rad"]["1"]
    assert min(emf["harmonics_v_s_per_rad"].values()) >= 0
    result = bundled(example)
    radius, height, poles = mean_radius_m(result.lay), middle_height_m(result.lay), result.design.magnets.count
    theta = 4 * np.pi / poles * np.arange(512) / 512
    axial = result.field_at(radius, theta, height)[2]
    assert field["peak_t"] == pytest.approx(np.abs(axial).max(), rel=1e-12)
    for order, wanted in field["harmonics_t"].items():
        found = 2 / 512 * np.sum(axial * np.cos(int(order) * poles / 2 * theta))
        assert found == pytest.approx(wanted, abs=1e-12)


def test_the_wave_is_one_period_and_holds_what_the_numbers_say(content):
    emf, wave = content["emf"], content["emf"]["waveform"]
    poles = content["design"]["magnets"]["count"]
    assert wave["rotor_angle_deg"] == pytest.approx(720 / poles * np.arange(128) / 128)
    waves = np.array(wave["phase_v_s_per_rad"])
    assert waves.shape == (3, 128)
    assert np.sqrt(np.mean(waves**2, axis=1)) == pytest.approx(emf["rms_v_s_per_rad"], rel=1e-9)
    assert np.sqrt(np.mean((waves[0] - waves[1]) ** 2)) * KRPM == pytest.approx(emf["line_rms_v_per_krpm"], rel=1e-9)
    assert emf["rms_v_per_krpm"] == pytest.approx(emf["rms_v_s_per_rad"] * KRPM, rel=1e-12)
    spectrum = 2 / 128 * np.fft.rfft(waves, axis=1)
    sizes = list(emf["harmonics_v_s_per_rad"].values())
    assert np.abs(spectrum[0, 1:16:2]) == pytest.approx(sizes, abs=1e-12)
    # e_k = sum |E_n| cos(n p alpha + phi_kn)
    off = np.exp(1j * (np.angle(spectrum[:, 1]) - emf["phase_angle_rad"]))
    assert off == pytest.approx(1)
    rest = np.linalg.norm(np.abs(spectrum[0, 3:64:2])) / sizes[0]
    assert emf["thd_percent"] == pytest.approx(100 * rest, rel=1e-6)


def test_what_follows_from_other_numbers_does(content):
    winding, circuit, output = content["winding"], content["circuit"], content["output"]
    factors = winding["factors"]
    assert factors["belt"] * factors["shape"] == pytest.approx(factors["total"], rel=1e-9)
    assert 0 < winding["fill"] < 0.9
    assert 0 <= winding["end_copper_share"] < 1
    warming = 1 + 0.00393 * (content["design"]["wire"]["temperature_c"] - 20)
    assert circuit["resistance_hot_ohm"] == pytest.approx(warming * circuit["resistance_20c_ohm"], rel=1e-6)
    matched = 3 * content["emf"]["rms_v_per_krpm"] ** 2 / (4 * circuit["resistance_hot_ohm"])
    assert output["matched_w_per_krpm2"] == pytest.approx(matched, rel=1e-12)
    load = content["design"]["load"]
    waves = np.array(content["emf"]["waveform"]["phase_v_s_per_rad"])
    peak = max(np.abs(waves[i] - waves[j]).max() for i, j in ((0, 1), (1, 2), (2, 0)))
    speed = (load["voltage_v"] + 2 * load["diode_drop_v"]) / peak
    assert output["charging_starts_rpm"] == pytest.approx(1000 * speed / KRPM, rel=1e-9)


def test_estimates_carry_their_difference_and_what_they_leave_out(content):
    field = content["field"]
    by_hand, layered = field["estimates"]
    assert field["estimate_t"] == by_hand["b1_t"]
    assert layered["name"] == "layered Fourier"
    for estimate in (by_hand, layered):
        assert set(estimate) == {"name", "b1_t", "leaves_out", "difference_percent"}
        assert estimate["leaves_out"].startswith("Takes")
        off = 100 * (estimate["b1_t"] / field["b1_mean_radius_t"] - 1)
        assert estimate["difference_percent"] == pytest.approx(off)
    assert abs(layered["difference_percent"]) < 12  # it knows no ends


def test_steel_is_told_disc_by_disc(bundled):
    (disc,) = result_dict(bundled("hut-charger"))["field"]["steel"]
    report = bundled("hut-charger").field.rings.steel[0]
    assert disc["part"] == "backing"
    assert disc["peak_t"] == result_dict(bundled("hut-charger"))["field"]["steel_peak_t"] == report.peak_t
    assert disc["peak_r_mm"] == pytest.approx(1e3 * report.peak_at[0])
    assert disc["peak_theta_deg"] == pytest.approx(math.degrees(report.peak_at[1]))
    assert -12 < disc["peak_z_mm"] < -6


@pytest.mark.parametrize("name", PULLED)
def test_the_pull_is_told_where_there_is_something_to_pull(bundled, name):
    assert result_dict(bundled(name))["forces"]["disc_pull_n"] == bundled(name).forces.disc_pull_n
    assert bundled(name).forces.disc_pull_n > 100


def without(result, **changes):
    return result_dict(dataclasses.replace(result, **changes))


def test_without_a_battery_nothing_charges(bundled):
    content = without(bundled("plank-ring"), charging_starts_rad_s=None, delivery=None)
    assert set(content["output"]) == {"matched_w_per_krpm2"}


def test_one_phase_has_one_wave_and_its_own_voltage_between_its_ends(answered):
    content = result_dict(answered("plank-ring", {"winding.phases": 1}))
    assert len(content["emf"]["phase_angle_rad"]) == len(content["emf"]["waveform"]["phase_v_s_per_rad"]) == 1
    assert content["emf"]["line_rms_v_per_krpm"] == pytest.approx(content["emf"]["rms_v_per_krpm"])


def test_no_number_that_is_none_leaves_the_program(bundled):
    result = bundled("plank-ring")
    broken = dataclasses.replace(result, impedance=dataclasses.replace(result.impedance, resistance_20c_ohm=math.nan))
    with pytest.raises(ValueError, match="not JSON compliant"):
        result_text(broken)


def test_letters_stay_letters(bundled):
    result = bundled("plank-ring")
    named = dataclasses.replace(result, design=dataclasses.replace(result.design, name="Hütte"))
    assert '"name": "Hütte"' in result_text(named)
    assert result_text(named).endswith("}\n")


def test_every_file_can_say_where_it_comes_from(bundled):
    facts = about(bundled("hut-charger"))
    assert set(facts) == {"fieldrun", "design", "design_hash", "mesh", "error_estimate"}
    assert facts["error_estimate"].endswith(" percent of the EMF")
    assert 0.2 < float(facts["error_estimate"].split()[0]) < 1
    rings = bundled("hut-charger").field.rings
    elements = bundled("hut-charger").quality.elements
    assert facts["mesh"] == f"rings, {rings.unknowns} unknowns; section, {elements} elements of second order"
