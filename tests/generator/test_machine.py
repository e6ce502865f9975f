"""Laws that hold through the whole chain, from a design file to its answer."""

import dataclasses
import json
import math

import numpy as np
import pytest

import fieldrun
from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_path
from fieldrun.design.model import SteelCurve
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.section import section_at
from fieldrun.generator.accuracy import EXTRAPOLATED_PERCENT, EXTRAPOLATED_T, FLOOR_PERCENT
from fieldrun.generator.chain import Chain
from fieldrun.generator.emf import emf_harmonics
from fieldrun.generator.machine import mean_radius_m, middle_height_m, read_design, run
from fieldrun.outputs.result_file import result_text
from fieldrun.winding.path_file import write_paths
from tests.linkage import linkage_harmonics
from tests.sections import structured_mesh

IDEAL = {"rotor.backing": "ideal", "rotor.backing_mm": None}

SANDWICH = {"rotor.faces": 2, "rotor.gap_mm": 10, "rotor.backing": "ideal"}
"""Makes plank-ring, the quickest of the examples, a machine of two steel discs."""

LITZ = {"wire.kind": "litz", "wire.copper_mm": None, "wire.strand_mm": 0.1, "wire.strands": 21, "wire.lay_mm": 15}


def amplitudes(result):
    return result.emf.amplitudes


def assert_alike(found, wanted, rel=1e-9):
    """Equal harmonics, measured by the fundamental."""
    assert np.abs(found - wanted).max() <= rel * np.abs(wanted[:, 0]).max()
    assert np.abs(wanted[:, 0]).min() > 0.01


def scaled(record, factor):
    """The same machine with every length multiplied; a steel's curve has no lengths."""
    if isinstance(record, SteelCurve) or not dataclasses.is_dataclass(record):
        return record
    values = {field.name: getattr(record, field.name) for field in dataclasses.fields(record)}
    lengths = {
        name: value * factor for name, value in values.items() if name.endswith("_m") and isinstance(value, float)
    }
    return dataclasses.replace(record, **{name: scaled(value, factor) for name, value in values.items()} | lengths)


# magnets of all shapes; no steel, and steel that saturates: flux density does not know how large a machine is
@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_doubling_all_lengths_leaves_b_and_quadruples_the_emf(bundled, example):
    small = bundled(example)
    large = Chain(scaled(small.design, 2.0))
    radius, height = mean_radius_m(small.lay), middle_height_m(small.lay)
    here = amplitudes_at(small.field_map, [radius], [height])
    assert amplitudes_at(large.field_map, [2 * radius], [2 * height]) == pytest.approx(here, abs=1e-9)
    assert_alike(amplitudes(large), 4 * amplitudes(small))
    assert large.impedance.conductor_length_m == pytest.approx(2 * small.impedance.conductor_length_m, rel=1e-12)
    assert large.impedance.resistance_hot_ohm == pytest.approx(small.impedance.resistance_hot_ohm / 2, rel=1e-12)
    assert large.impedance.copper_mass_kg == pytest.approx(8 * small.impedance.copper_mass_kg, rel=1e-12)
    assert large.charging_starts_rad_s == pytest.approx(small.charging_starts_rad_s / 4, rel=1e-9)


def test_more_than_lengths_are_needed_to_keep_the_shape(bundled):
    design = bundled("plank-ring").design
    only_magnets = Chain(dataclasses.replace(design, magnets=scaled(design.magnets, 2.0)))
    assert abs(amplitudes(only_magnets)[0, 0] / amplitudes(bundled("plank-ring"))[0, 0] - 4) > 0.5


@pytest.mark.parametrize(("example", "changes"), [("plank-ring", {}), ("hut-charger", IDEAL)])
def test_emf_is_proportional_to_remanence_without_saturation(chained, example, changes):
    weak, strong = (
        chained(example, {**changes, "magnets.grade": None, "magnets.remanence_t": remanence})
        for remanence in (0.5, 1.25)
    )
    assert_alike(amplitudes(strong), 2.5 * amplitudes(weak))


def test_thin_steel_makes_strong_magnets_less_worth(chained):
    thin = {**SANDWICH, "rotor.backing": "mild steel", "rotor.backing_mm": 1.5, "magnets.grade": None}
    weak, strong = (chained("plank-ring", {**thin, "magnets.remanence_t": remanence}) for remanence in (0.2, 1.4))
    assert abs(amplitudes(strong)[0, 0] / amplitudes(weak)[0, 0]) < 0.9 * 7


def test_reversed_magnets_reverse_the_emf(bundled):
    as_made = bundled("plank-ring")
    magnets = as_made.design.magnets
    other = Chain(
        dataclasses.replace(as_made.design, magnets=dataclasses.replace(magnets, remanence_t=-magnets.remanence_t))
    )
    assert_alike(amplitudes(other), -amplitudes(as_made))


@pytest.mark.parametrize("turn_deg", [5.0, -12.5])
def test_turning_the_winding_turns_every_harmonic_by_its_own_angle(chained, bundled, turn_deg):
    turned, still = chained("plank-ring", {"winding.start_deg": turn_deg}), bundled("plank-ring")
    orders, pole_pairs = still.emf.orders, still.field_map.pole_pairs
    assert_alike(
        amplitudes(turned), amplitudes(still) * np.exp(1j * orders * pole_pairs * math.radians(turn_deg)), 1e-11
    )
    assert turned.emf.rms == pytest.approx(still.emf.rms, rel=1e-11)


def test_a_turn_by_one_pole_pitch_reverses_the_emf(chained, bundled):
    assert_alike(amplitudes(chained("plank-ring", {"winding.start_deg": 30})), -amplitudes(bundled("plank-ring")))


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_three_phases_are_alike_and_a_third_of_a_turn_apart(bundled, example):
    emf = bundled(example).emf
    lag = np.exp(1j * np.outer(np.arange(3), emf.orders) * math.radians(120))
    assert_alike(emf.amplitudes, emf.amplitudes[0] * lag, 1e-11)
    behind = np.degrees(emf.phase_angle_rad[0] - emf.phase_angle_rad) % 360
    assert behind[1:] == pytest.approx([120, 240])
    # 128 angles do not divide by three: shifted by a third of a period the wave falls between them
    third = emf.waveform.sum(axis=0)
    spectrum = np.abs(np.fft.rfft(third)) / 64
    assert spectrum[[1, 5, 7, 11, 13]].max() < 1e-12 * np.abs(emf.amplitudes).max()
    assert spectrum[3] == pytest.approx(3 * abs(emf.amplitudes[0, 1]), rel=1e-9)


def test_two_phases_are_a_quarter_of_a_turn_apart(chained):
    emf = chained("plank-ring", {"winding.phases": 2}).emf
    assert emf.amplitudes.shape[0] == 2
    assert emf.rms[0] == pytest.approx(emf.rms[1], rel=1e-12)
    assert np.degrees(emf.phase_angle_rad[0] - emf.phase_angle_rad[1]) % 360 == pytest.approx(90)


def test_a_wider_gap_gives_less(chained):
    emf = [chained("plank-ring", {**SANDWICH, "rotor.gap_mm": gap}).emf.rms[0] for gap in (7, 9, 12)]
    assert emf[0] > 1.1 * emf[1] > 1.2 * emf[2]


@pytest.mark.slow
def test_steel_behind_the_magnets_helps_and_perfect_steel_most(chained):
    backings = (("none", None), ("mild steel", 2), ("mild steel", 8), ("ideal", None))
    wooden, thin, thick, ideal = (
        chained("plank-ring", {**SANDWICH, "rotor.backing": name, "rotor.backing_mm": thickness}).emf.rms[0]
        for name, thickness in backings
    )
    assert 1.1 * wooden < thin < thick < ideal
    assert thick > 0.97 * ideal


# flat and crossed lay, solid and litz, straight and curved legs, groups in parallel, a former left in the gap
ROUND_TRIPS = {
    "zigzag": ("hut-charger", {}),
    "serpentine": ("plank-ring", {"winding.start_deg": 11}),
    "diamond": ("plank-ring", {**SANDWICH, **LITZ, "winding.shape": "diamond", "winding.parallel": 2}),
    "spiral": ("plank-ring", {"winding.leg": "spiral", "winding.phases": 1, "winding.layers": 2}),
    "wrapped": (
        "plank-ring",
        {"winding.shape": "hexagon", "winding.layers": 1, "winding.former_in_gap_mm": 3, "winding.height_mm": 4},
    ),
}


@pytest.mark.parametrize("name", ROUND_TRIPS)
def test_a_path_file_gives_the_numbers_of_the_winding_it_was_written_from(
    chained, bundled, design_file, tmp_path, name
):
    example, changes = ROUND_TRIPS[name]
    named = chained(example, changes) if changes else bundled(example)
    write_paths(tmp_path / "paths.csv", named.paths)
    kept = {"winding.shape": "path", "winding.file": "paths.csv", "rotor.gap_mm": None}
    if named.design.rotor.gap_m is not None:
        kept["rotor.gap_mm"] = named.design.rotor.gap_m * 1e3
    gone = ("inner_radius_mm", "outer_radius_mm", "rounds", "layers", "leg", "former_in_gap_mm", "height_mm")
    without = {f"winding.{key}": None for key in (*gone, "start_deg", "parallel")}
    path = design_file(example, {**changes, **without, **kept})
    design = read_design(path)
    parallel = named.design.winding.parallel  # a path is wound once: groups cannot be told from its file
    again = Chain(dataclasses.replace(design, winding=dataclasses.replace(design.winding, parallel=parallel)))
    assert_alike(amplitudes(again), amplitudes(named))
    assert again.impedance.phase_lengths_m == pytest.approx(named.impedance.phase_lengths_m, rel=1e-9)
    assert again.impedance.resistance_hot_ohm == pytest.approx(named.impedance.resistance_hot_ohm, rel=1e-9)
    assert again.impedance.copper_mass_kg == pytest.approx(named.impedance.copper_mass_kg, rel=1e-9)
    assert again.lay.rounds_per_phase == named.lay.rounds_per_phase


def test_the_path_file_is_found_beside_the_design_wherever_one_stands(design_file, bundled, tmp_path, monkeypatch):
    write_paths(tmp_path / "paths.csv", bundled("plank-ring").paths)
    gone = ("inner_radius_mm", "outer_radius_mm", "rounds", "layers")
    changes = {"winding.shape": "path", "winding.file": "paths.csv"} | {f"winding.{key}": None for key in gone}
    path = design_file("plank-ring", changes)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(tmp_path)
    design = read_design(path.name)
    monkeypatch.chdir(elsewhere)
    assert_alike(amplitudes(Chain(design)), amplitudes(bundled("plank-ring")))


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_field_at_is_the_sum_of_the_maps_harmonics(bundled, example):
    result = bundled(example)
    radius, height, pole_pairs = mean_radius_m(result.lay), middle_height_m(result.lay), result.field_map.pole_pairs
    theta = 2 * np.pi / pole_pairs * np.arange(256) / 256
    along, across = result.field_at(radius, theta, height)[1:]
    for values, amplitude in zip((along, across), amplitudes_at(result.field_map, [radius], [height])[1:], strict=True):
        spectrum = np.fft.rfft(values) / 128
        assert spectrum[result.field_map.orders] == pytest.approx(amplitude[:, 0], abs=1e-12)
        assert np.abs(spectrum[::2]).max() < 1e-12  # north and south are alike
    assert result.field_at(radius, theta + 2 * np.pi / pole_pairs, height)[2] == pytest.approx(across, abs=1e-12)


@pytest.mark.parametrize(
    ("example", "changes"),
    [
        ("plank-ring", {}),
        ("plank-ring", {"winding.leg": "spiral", "winding.phases": 1}),
        ("quiet-halbach", {"winding.shape": "rhomboid", "winding.span": 0.8}),
        ("hut-charger", {**IDEAL, "winding.shape": "rhomboid", "winding.layers": 8}),
    ],
)
def test_emf_is_the_loss_of_linkage(chained, example, changes):
    """Line integral over the legs against the flux through each plane turn, by the real field."""
    result = chained(example, changes)
    phases = result.design.winding.phases
    linked = linkage_harmonics(result.field_map, result.paths, phases)
    lost = 1j * result.field_map.orders * result.field_map.pole_pairs * linked
    assert_alike(lost, emf_harmonics(result.field_map, result.paths, phases), 1e-6)
    assert_alike(lost, amplitudes(result), 1e-6)


def test_estimates_are_made_where_the_copper_is(chained):
    """A ring of copper near the magnets' outer edge: another pole pitch, another field."""
    outer = chained("plank-ring", {"winding.inner_radius_mm": 62, "winding.outer_radius_mm": 71})
    radius, height = mean_radius_m(outer.lay), middle_height_m(outer.lay)
    assert (radius, height) == pytest.approx((0.0665, outer.design.winding.height_m))
    here = amplitudes_at(outer.field_map, [radius], [height])[2, 0, 0].real
    middle = amplitudes_at(outer.field_map, [0.0575], [height])[2, 0, 0].real
    assert abs(here / middle - 1) > 0.01
    assert outer.estimates[1].b1_t == pytest.approx(here, rel=0.15)  # flat layers know no ends


def test_a_halbach_ring_beats_the_same_blocks_with_gaps_between(bundled, chained):
    alternating = {"magnets.pattern": None, "magnets.segments_per_pole": None}
    plain, whole = chained("quiet-halbach", alternating), bundled("quiet-halbach")
    assert whole.emf.rms[0] > 1.2 * plain.emf.rms[0]


def test_a_return_plate_helps_near_by_and_is_nothing_far_away(chained, bundled):
    plate = {"rotor.return_plate": "ideal", "winding.height_mm": middle_height_m(bundled("plank-ring").lay) * 1e3}
    near, far = (chained("plank-ring", {**plate, "rotor.gap_mm": gap}) for gap in (6, 80))
    bare = bundled("plank-ring").emf.rms[0]
    assert near.emf.rms[0] > 1.3 * bare
    assert far.emf.rms[0] == pytest.approx(bare, rel=2e-4)


def test_groups_in_parallel_share_volts_and_ohms(chained):
    one, four = (chained("plank-ring", {"winding.rounds": 16, "winding.parallel": groups}) for groups in (1, 4))
    assert_alike(4 * amplitudes(four), amplitudes(one), 1e-12)
    assert 16 * four.impedance.resistance_20c_ohm == pytest.approx(one.impedance.resistance_20c_ohm, rel=1e-12)
    assert four.impedance.copper_mass_kg == pytest.approx(one.impedance.copper_mass_kg, rel=1e-12)


def test_strands_in_series_multiply_volts_and_ohms(chained):
    series, together = (chained("plank-ring", {**LITZ, "wire.strands_in_series": groups}) for groups in (7, 1))
    assert_alike(amplitudes(series), 7 * amplitudes(together), 1e-12)
    ohms = together.impedance.resistance_20c_ohm
    assert series.impedance.resistance_20c_ohm == pytest.approx(49 * ohms, rel=1e-12)


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring"])
def test_two_runs_give_the_same_bytes(bundled, answered, example):
    again = run(dataclasses.replace(bundled(example).design))
    assert result_text(again) == result_text(bundled(example))


def own_mesh(path, arc_share):
    """A section mesh of plank-ring's magnets with another share, as a user might draw it."""
    design = read_design(example_path("plank-ring"), changes={"magnets.arc_share": arc_share})
    section = section_at(design.magnets, design.rotor, 0.0575)
    write_section_mesh(path, section, structured_mesh(section, MeshDensity().refined()))


@pytest.mark.parametrize("share", [0.85, 0.7])
def test_an_outline_of_ones_own_counts_as_drawn(answered, tmp_path, share):
    own_mesh(tmp_path / "own.msh", share)
    drawn = answered("plank-ring", {"magnets.section_mesh": "own.msh"})
    stated = answered("plank-ring", {"magnets.arc_share": share})
    assert_alike(amplitudes(drawn), amplitudes(stated), 1e-6)
    assert drawn.accuracy.error_estimate_percent == pytest.approx(stated.accuracy.error_estimate_percent, rel=1e-3)
    assert "section_mesh" in result_text(drawn)


def test_a_winding_beside_the_magnets_is_told_and_gives_only_finite_numbers(answered, bundled):
    idle = answered("plank-ring", {"winding.inner_radius_mm": 84, "winding.outer_radius_mm": 99})
    assert "no-field" in {warning.code for warning in idle.warnings}
    assert 0 < idle.emf.rms[0] < 0.1 * bundled("plank-ring").emf.rms[0]
    content = json.loads(result_text(idle))
    assert content["output"]["matched_w_per_krpm2"] >= 0


def test_a_winding_that_leaves_the_map_is_told_how_far_it_reaches(answered):
    wide = answered("plank-ring", {"winding.outer_radius_mm": 300})
    (said,) = [warning.text for warning in wide.warnings if warning.code == "beyond-map"]
    inner, outer = wide.field_map.radii_m[[0, -1]]
    assert f"from {1e3 * inner:.3g} to {1e3 * outer:.3g} mm" in said


@pytest.mark.slow
def test_the_error_estimate_adds_up_what_is_known(bundled, answered):
    known = bundled("hut-charger").accuracy
    assert 0 < known.numerical_percent < 0.1
    assert known.model_percent == FLOOR_PERCENT
    assert known.error_estimate_percent == known.numerical_percent + known.model_percent
    thin = {**SANDWICH, "rotor.backing": "mild steel", "rotor.backing_mm": 1}
    saturated = answered("plank-ring", thin)
    assert saturated.field.rings.model == "coupled rings"
    assert saturated.field.rings.steel[0].peak_t > EXTRAPOLATED_T
    assert saturated.accuracy.model_percent == FLOOR_PERCENT + EXTRAPOLATED_PERCENT
    assert {"steel-saturates", "steel-extrapolated"} <= {warning.code for warning in saturated.warnings}


def test_results_cannot_be_changed(bundled):
    result = bundled("plank-ring")
    for array in (result.emf.waveform, result.field_map.b_z_t, result.paths.start, result.impedance.phase_lengths_m):
        with pytest.raises(ValueError, match="read-only"):
            array[...] = 0
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.emf = None


def test_a_winding_that_cannot_be_laid_is_a_fault_of_the_file(design_file):
    path = design_file("plank-ring", {"magnets.count": 6, "winding.shape": "zigzag"})
    with pytest.raises(DesignError) as caught:
        read_design(path)
    (fault,) = caught.value.faults
    assert fault.file == str(path)
    assert path.read_text().splitlines()[fault.line - 1].startswith(fault.key.removeprefix("winding."))
    assert "turns 60 degrees runs inside its own inner end" in fault.text


def test_the_package_offers_the_chain_at_its_top():
    assert fieldrun.run is run
    assert fieldrun.read_design is read_design
    with pytest.raises(AttributeError, match="answer_everything"):
        fieldrun.answer_everything  # noqa: B018 - asking is the test
