"""Designs made from one file opened once are those that the file, written with the same values, says."""

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_path
from fieldrun.generator.machine import open_design, read_design, vary_design

SOUND = (
    {},
    {"rotor.gap_mm": 9.25},
    {"rotor.gap_mm": "stack", "wire.copper_mm": 0.5},
    {"rotor.backing": "none", "winding.shape": "diamond"},
    {"magnets.pitch_diameter_mm": 134, "tolerance.gap_mm": 0.1},
    {"load.kind": "resistor", "load.resistance_ohm": 3.0, "load.voltage_v": None},
    {"wind": None, "load": None},
)

FAULTY = (
    {"rotor.gap_mm": 2.0},
    {"magnets.count": 15},
    {"winding.span": 3.0, "wire.copper_mm": 99.0},
    {"wind.start_torque_coefficient": 0.0},
)


@pytest.fixture(scope="module")
def template():
    return open_design(example_path("hut-charger"))


@pytest.mark.parametrize("changes", SOUND, ids=str)
def test_a_varied_design_is_the_design_that_is_read(template, changes):
    assert vary_design(template, changes) == read_design(example_path("hut-charger"), changes)


@pytest.mark.parametrize("changes", SOUND, ids=str)
def test_a_varied_design_is_the_design_that_is_written(template, changes, design_file):
    written = read_design(design_file("hut-charger", changes, "hut-charger"))
    varied = vary_design(template, changes)
    assert (varied.magnets, varied.rotor, varied.winding) == (written.magnets, written.rotor, written.winding)
    assert varied.written == written.written


@pytest.mark.parametrize("changes", FAULTY, ids=str)
def test_the_same_faults_are_told(template, changes):
    with pytest.raises(DesignError) as varied:
        vary_design(template, changes)
    with pytest.raises(DesignError) as read:
        read_design(example_path("hut-charger"), changes)
    assert varied.value.faults == read.value.faults
    assert len(varied.value.faults) >= 1


def test_the_file_is_read_once_and_left_as_it_was(template):
    before = dict(template.raw["rotor"])
    vary_design(template, {"rotor.gap_mm": 12.0})
    assert template.raw["rotor"] == before


def test_text_may_be_given_in_the_files_place(tmp_path):
    """A worker elsewhere has the text; names of files in it still count from the file's folder."""
    path = example_path("hut-charger")
    elsewhere = tmp_path / path.name
    assert vary_design(open_design(elsewhere, path.read_text())) == read_design(path)
