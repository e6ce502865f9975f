"""A sweep gives what single runs give, whatever interrupts it, and never solves a field twice for a winding's sake."""

import re

import pytest

from fieldrun.design.errors import DesignError, Fault, SolveError
from fieldrun.design.examples import example_path
from fieldrun.generator.chain import Chain
from fieldrun.generator.machine import read_design
from fieldrun.outputs.answer import answer_dict
from fieldrun.outputs.sweep_file import csv_text
from fieldrun.studies.sweep import task
from fieldrun.studies.sweep.picks import found_in
from fieldrun.studies.sweep.run import frozen_winding
from fieldrun.studies.sweep.task import told_faults

GAPS = "rotor.gap_mm=8:12:3"
IDEAL = "rotor.backing=ideal"
LIGHT = ("emf.rms_v_per_krpm", "circuit.resistance_20c_ohm")
WOOD = "magnets.thickness_mm=6,8"


@pytest.fixture
def solved(monkeypatch):
    """Machines that were solved, in order."""
    seen = []
    real = task.rotor_fields

    def counted(machines):
        for machine, field in zip(machines, real(machines), strict=True):
            seen.append(machine)
            yield field

    monkeypatch.setattr(task, "rotor_fields", counted)
    return seen


def statuses(sweep):
    return [row.status for row in sweep.rows]


@pytest.mark.slow
def test_every_point_is_what_a_run_of_it_says(swept):
    """The whole door against the single one: the same numbers but for what families may help each other with."""
    picks = (*LIGHT, "field.b1_mean_radius_t", "field.error_estimate_percent")
    sweep = swept("rotor.gap_mm=8,11", IDEAL, "wire.copper_mm=0.5,0.63", example="hut-charger", picks=picks)
    for row in sweep.rows:
        design = read_design(example_path("hut-charger"), sweep.plan.changes(row.index))
        whole = answer_dict(Chain(design))
        for key, cell in zip(picks, row.picked, strict=True):
            assert cell == pytest.approx(found_in(whole, key), rel=1e-5), key


def test_the_record_lays_columns_out_as_the_grid(swept):
    sweep = swept("winding.layers=2,4", "wire.copper_mm=0.4:0.6:3", picks=LIGHT)
    assert sweep.shape == (2, 3)
    ohms = sweep.column("circuit.resistance_20c_ohm").reshape(sweep.shape)
    assert (ohms[1] > ohms[0]).all()  # twice the layers, more metres
    assert (ohms[:, 0] > ohms[:, 2]).all()  # thicker wire
    assert sweep.column("wire.copper_mm").tolist() == [0.4, 0.5, 0.6] * 2
    with pytest.raises(KeyError):
        sweep.column("wire.colour")


def test_windings_wires_speeds_and_loads_never_solve_a_field_again(swept, solved):
    ranges = ("winding.shape=serpentine,diamond", "wire.copper_mm=0.4,0.5", "load.voltage_v=6,12", "winding.layers=2,4")
    sweep = swept(*ranges, picks=(*LIGHT, "output.charging_starts_rpm"))
    assert statuses(sweep) == ["ok"] * 16
    assert len(solved) == 1


def test_named_keys_vary_like_numbers(swept, solved):
    sweep = swept("rotor.backing=none,mild steel,ideal", example="hut-charger", picks=("field.steel_peak_t",))
    assert statuses(sweep) == ["ok"] * 3
    assert len(solved) == 3
    assert [cell is None for cell in sweep.cells("field.steel_peak_t")] == [True, False, True]
    assert sweep.is_numeric("field.steel_peak_t")
    assert not sweep.is_numeric("rotor.backing")


def test_a_machine_that_stands_at_several_points_is_solved_once(swept, solved):
    swept("rotor.backing_mm=4,6", IDEAL, example="hut-charger", picks=LIGHT)  # an ideal plate has no thickness
    assert len(solved) == 1


def test_a_gap_that_is_a_stack_follows_the_wire(swept):
    sweep = swept("rotor.gap_mm=stack", IDEAL, "wire.copper_mm=0.4,0.6", example="hut-charger", picks=LIGHT)
    ratio = sweep.column("emf.rms_v_per_krpm")
    assert statuses(sweep) == ["ok"] * 2
    assert ratio[0] > 1.5 * ratio[1]  # thin wire: more rounds in a narrower gap


def test_rounds_follow_or_stay(swept):
    """Thinner wire: either as many more rounds as fit, or the same rounds with more ohms."""
    path = example_path("plank-ring")
    keys = ("winding.rounds_per_phase", "emf.rms_v_per_krpm")
    follows = swept("wire.copper_mm=0.3,0.5", picks=keys)
    stays = swept("wire.copper_mm=0.3,0.5", picks=keys, kept=frozen_winding(read_design(path)), journal="stays.jsonl")
    assert follows.rows[1].picked == pytest.approx(stays.rows[1].picked, rel=1e-11)
    assert follows.rows[0].picked[0] > 1.5 * follows.rows[1].picked[0]
    assert stays.rows[0].picked[0] == stays.rows[1].picked[0]


def test_a_frozen_winding_stays_where_it_is_while_the_gap_opens(swept):
    """Mid-gap follows the gap; a frozen winding keeps its place near the lower magnets, where the field is stronger."""
    kept = frozen_winding(read_design(example_path("hut-charger")))
    assert kept == {"winding.rounds": 44, "winding.height_mm": 4.0}
    options = {"example": "hut-charger", "picks": LIGHT}
    follows = swept("rotor.gap_mm=8,14", IDEAL, **options).column("emf.rms_v_per_krpm")
    stays = swept("rotor.gap_mm=8,14", IDEAL, **options, kept=kept, journal="stays.jsonl").column("emf.rms_v_per_krpm")
    assert stays[0] == pytest.approx(follows[0], rel=1e-9)
    assert stays[1] > 1.02 * follows[1]


def test_corners_that_cannot_be_built_are_rows_with_their_reason(swept):
    sweep = swept("rotor.gap_mm=4,8", IDEAL, example="hut-charger", picks=LIGHT)
    first, second = sweep.rows
    assert (first.status, first.picked) == ("infeasible", (None, None))
    assert first.reason.startswith("rotor.gap_mm: the winding is 5.43 mm thick and needs 7.43 mm")
    assert "set in place" not in first.reason
    assert second.status == "ok"


def test_faults_of_files_that_a_design_names_keep_their_place():
    faults = (Fault("rotor.gap_mm", "too small", "a/hut.toml", 7), Fault("", "b_t must rise", "a/steel.csv", 3))
    assert told_faults(DesignError(faults)) == "rotor.gap_mm: too small; steel.csv:3: b_t must rise"


def breaking(monkeypatch, thickness_m, error):
    """Fields of magnets of this thickness do not come out."""
    real = task.rotor_fields

    def fields(machines):
        for (magnets, _), field in zip(machines, real(machines), strict=True):
            yield error if magnets.thickness_m == thickness_m else field

    monkeypatch.setattr(task, "rotor_fields", fields)


def test_a_point_that_fails_is_a_row_and_the_sweep_goes_on(swept, monkeypatch):
    with monkeypatch.context() as patch:
        breaking(patch, 0.006, SolveError("the steel's flux did not settle"))
        sweep = swept(WOOD, picks=LIGHT)
        assert statuses(sweep) == ["failed", "ok"]
        assert sweep.rows[0].reason == "the steel's flux did not settle"
    assert statuses(swept(WOOD, picks=LIGHT)) == ["failed", "ok"]  # it stays so
    assert statuses(swept(WOOD, picks=LIGHT, options={"retry_failed": True})) == ["ok", "ok"]
    assert statuses(swept(WOOD, picks=LIGHT)) == ["ok", "ok"]


def test_what_nobody_foresaw_is_a_failed_row_too(swept, monkeypatch):
    monkeypatch.setattr(task, "picked", lambda *_: 1 / 0)
    sweep = swept(WOOD, picks=LIGHT)
    assert {(row.status, row.reason) for row in sweep.rows} == {("failed", "ZeroDivisionError: division by zero")}


def test_what_is_known_is_not_solved_again(swept, solved):
    once = csv_text(swept(WOOD, picks=LIGHT))
    assert len(solved) == 2
    assert csv_text(swept(WOOD, picks=LIGHT)) == once
    assert len(solved) == 2


@pytest.mark.parametrize("left", range(4))
def test_a_resumed_sweep_is_the_uninterrupted_one_byte_for_byte(swept, solved, tmp_path, left):
    """Families are solved whole again, so that no point knows whether its neighbours were there before."""
    ranges = (GAPS, IDEAL, "magnets.thickness_mm=5,6")
    whole = csv_text(swept(*ranges, example="hut-charger", picks=LIGHT, journal="whole.jsonl"))
    lines = (tmp_path / "whole.jsonl").read_bytes().splitlines(keepends=True)
    (tmp_path / "cut.jsonl").write_bytes(b"".join(lines[: 2 * left]) + lines[2 * left][:25])
    assert csv_text(swept(*ranges, example="hut-charger", picks=LIGHT, journal="cut.jsonl")) == whole


def test_an_entry_of_another_design_is_not_taken_for_a_point(swept, solved, tmp_path):
    """A B-H table or path file that changed since changes the design's hash, not the plan."""
    once = csv_text(swept(WOOD, picks=LIGHT))
    path = tmp_path / "sweep.jsonl"
    head, first, *rest = path.read_text().splitlines(keepends=True)
    other = re.sub(r'"picked":\[[^,\]]+', '"picked":[1e9', first.replace('"design":"', '"design":"x'))
    assert "1e9" in other
    path.write_text("".join([head, other, *rest]))
    assert csv_text(swept(WOOD, picks=LIGHT)) == once


def test_progress_counts_every_point_once(swept):
    told = []
    swept(
        "rotor.gap_mm=4,8,9", IDEAL, example="hut-charger", picks=LIGHT, options={"tell": lambda *at: told.append(at)}
    )
    assert told == [(0, 3), (1, 3), (2, 3), (3, 3)]


def test_large_families_are_cut_the_same_way_every_time(request_for, monkeypatch):
    from fieldrun.studies.sweep import points

    monkeypatch.setattr(points, "TOGETHER", 4)
    request = request_for("rotor.gap_mm=8:12:9", IDEAL, "wire.copper_mm=0.5,0.6", example="hut-charger")
    families = points.resolve(request.template, request.plan, {}).families
    assert [len(family.machines) for family in families] == [4, 4, 1]
    assert [family.points[0] for family in families] == [(0, 1), (8, 9), (16, 17)]


def test_tasks_hold_what_is_missing_and_the_whole_family(request_for):
    from fieldrun.studies.sweep.points import resolve

    request = request_for("rotor.gap_mm=8:10:3", IDEAL, example="hut-charger")
    points = resolve(request.template, request.plan, {})
    (family,) = points.families
    (part,) = points.tasks(family, frozenset({2}))
    assert [changes["rotor.gap_mm"] for changes in part.machines] == [8, 9, 10]
    assert [(index, at) for index, _, at in part.points] == [(2, 2)]
    assert list(points.tasks(family, frozenset())) == []
