"""What is set side by side: every shape in the same space, even sheets, the design's own numbers kept."""

import dataclasses
import math
from collections import Counter
from pathlib import Path

import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.stack import CROSSED_SHAPES, FLAT_SHAPES, NAMED_SHAPES
from fieldrun.generator.machine import read_design
from fieldrun.studies.candidates import LAYS, Space, candidates, path_of, space_of
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import write_paths


@pytest.fixture(scope="module")
def hut():
    return read_design(example_path("hut-charger"))


def laid(design):
    return lay(design.winding, design.magnets.pole_pairs, design.wire)


def with_layers(design, layers, shape="serpentine"):
    return dataclasses.replace(design, winding=dataclasses.replace(design.winding, layers=layers, shape=shape))


def test_every_shape_with_its_belts_and_one_two_and_three_phases(hut):
    asked = candidates(hut, space_of(hut, laid(hut)))
    assert len(asked) == 3 * len(LAYS) == 3 * (len(FLAT_SHAPES) + 2 * len(CROSSED_SHAPES))
    count = Counter((c.winding.shape, c.winding.belts) for c in asked)
    assert set(count.values()) == {3}
    assert {shape for shape, belts in count if belts == 2} == set(CROSSED_SHAPES)


def test_space_is_equal_for_all(hut):
    """Eight sheets: eight flat layers or four crossed ones; same wire, ring and thickness."""
    space = space_of(hut, laid(hut))
    assert space == Space(0.053, 0.079, 0.004, 8, 8)
    for candidate in candidates(hut, space):
        one = lay(candidate.winding, hut.magnets.pole_pairs, hut.wire)
        assert one.thickness_m == pytest.approx(laid(hut).thickness_m)
        assert one.sheet_heights_m == pytest.approx(laid(hut).sheet_heights_m)
        assert (one.inner_radius_m, one.outer_radius_m) == (0.053, 0.079)


@pytest.mark.parametrize(("layers", "sheets"), [(1, 2), (2, 2), (3, 2), (4, 4), (5, 4)])
def test_odd_numbers_of_sheets_are_made_even(hut, layers, sheets):
    design = with_layers(hut, layers)
    space = space_of(design, laid(design))
    assert (space.sheets, space.own_sheets) == (sheets, layers)


@pytest.mark.parametrize(("gap_mm", "sheets"), [(3.36, 2), (3.35, 1)])
def test_one_sheet_becomes_two_only_where_they_fit(hut, gap_mm, sheets):
    """Two sheets of 0.679 mm and a millimetre of clearance on each side need 3.358 mm."""
    assert hut.wire.overall_diameter_m == pytest.approx(0.679e-3)
    one = with_layers(hut, 1)
    height = dataclasses.replace(one.winding, height_m=gap_mm / 2e3)
    design = dataclasses.replace(one, winding=height, rotor=dataclasses.replace(one.rotor, gap_m=gap_mm / 1e3))
    assert space_of(design, laid(design)).sheets == sheets


def test_over_a_bare_face_a_second_sheet_would_come_too_near(design_file):
    design = read_design(design_file("plank-ring", {"winding.layers": 1}))
    assert space_of(design, laid(design)).sheets == 1


def test_the_own_shape_keeps_its_numbers_and_others_have_the_usual(design_file):
    design = read_design(design_file("hut-charger", {"winding.span": 0.8, "winding.leg": "spiral"}))
    spans = {c.winding.shape: c.winding.span for c in candidates(design, space_of(design, laid(design)))}
    assert spans == dict.fromkeys(NAMED_SHAPES, 1.0) | {"zigzag": 0.8}
    assert {c.winding.leg for c in candidates(design, space_of(design, laid(design)))} == {"spiral"}


def test_all_are_filled_and_in_series(design_file):
    changes = {"winding.rounds": 8, "winding.parallel": 2, "winding.belt_deg": 60}
    design = read_design(design_file("hut-charger", changes))
    for candidate in candidates(design, space_of(design, laid(design))):
        winding = candidate.winding
        assert (winding.rounds, winding.parallel, winding.belt_rad) == (None, 1, None)


def test_the_own_one_is_marked(hut):
    (own,) = [c for c in candidates(hut, space_of(hut, laid(hut))) if c.own]
    assert (own.name, own.winding.phases, own.winding.belts) == ("zigzag", 3, 1)


@pytest.fixture
def path_design(design_file, tmp_path, hut):
    """A serpentine of two sheets as a path of the user's own."""
    flat = with_layers(hut, 2)
    one = lay(dataclasses.replace(flat.winding, rounds=2, phases=1), 8, hut.wire)
    write_paths(tmp_path / "own.csv", one.pieces)
    gone = dict.fromkeys(("inner_radius_mm", "outer_radius_mm", "rounds", "layers"))
    keys = gone | {"shape": "path", "file": "own.csv", "phases": 1}
    return read_design(design_file("hut-charger", {f"winding.{key}": value for key, value in keys.items()}))


def test_a_design_that_is_a_path_lends_its_space(path_design):
    space = space_of(path_design, laid(path_design))
    assert (space.inner_radius_m, space.outer_radius_m) == pytest.approx((0.053, 0.079))
    assert space.height_m == pytest.approx(0.004)
    assert space.sheets == 2
    asked = candidates(path_design, space)
    assert [c.winding.phases for c in asked if c.winding.shape == "path"] == [1, 2, 3]
    (own,) = [c for c in asked if c.own]
    assert own.name == "own.csv"
    named = next(c for c in asked if c.name == "zigzag")
    assert named.winding.file == ""
    assert math.isclose(named.winding.height_m, 0.004)


def test_path_files_come_on_top(hut):
    asked = candidates(hut, space_of(hut, laid(hut)), (Path("a/x.csv"), Path("y.csv")))
    assert [c.name for c in asked[3 * len(LAYS) :]] == ["x.csv"] * 3 + ["y.csv"] * 3
    assert [c.own for c in asked[3 * len(LAYS) :]] == [False, False, True] * 2


def test_a_path_stands_as_it_is_written(hut):
    winding = path_of(hut, Path("x.csv"))
    assert (winding.shape, winding.rounds, winding.inner_radius_m) == ("path", 1, None)
    assert winding.file == str(Path("x.csv").resolve())
