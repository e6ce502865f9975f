"""Tolerances that leave no machine are refused with their key, its line, and the most that there is room for."""

import math

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_names, example_path
from fieldrun.generator.machine import read_design
from fieldrun.studies.tolerance_checks import check_tolerance, gap_room_m, too_much


@pytest.fixture
def told(design_file):
    """The faults of a bundled design with keys changed, as text."""

    def read(example, changes):
        path = design_file(example, changes)
        try:
            check_tolerance(read_design(path), path)
        except DesignError as error:
            return [str(fault).partition("varied.toml:")[2] for fault in error.faults]
        return []

    return read


@pytest.mark.parametrize("name", example_names())
def test_bundled_designs_can_be_built_to_usual_tolerances(name):
    assert list(too_much(read_design(example_path(name)))) == []


def test_every_impossible_tolerance_at_once_each_with_its_line(told):
    lines = told("hut-charger", {f"tolerance.{key}_mm": 20 for key in ("gap", "magnet", "placement")})
    assert [line.split(": ")[1] for line in lines] == [
        "tolerance.gap_mm",
        "tolerance.magnet_mm",
        "tolerance.placement_mm",
    ]
    numbers = [int(line.split(":")[0]) for line in lines]
    assert numbers == list(range(numbers[0], numbers[0] + 3))


def test_magnets_without_strength(told):
    (line,) = told("hut-charger", {"tolerance.remanence_percent": 40})
    assert line.endswith(
        "tolerance.remanence_percent: 40 % is no tolerance: 1 magnet in 700 would have no strength left; must be below "
        "33; usual is 2"
    )
    assert told("hut-charger", {"tolerance.remanence_percent": 33}) == []


def test_magnets_without_size(told):
    (line,) = told("hut-charger", {"tolerance.magnet_mm": 2.5})
    assert line.endswith(
        "tolerance.magnet_mm: 1 magnet in 700 would be 7.5 mm smaller than drawn, and its shortest side is 6.00 mm; "
        "must be at most 2; received 2.5; usual is 0.1"
    )
    assert told("hut-charger", {"tolerance.magnet_mm": 2}) == []


def test_magnets_in_each_others_places(told):
    """16 on a circle of 66 mm: neighbours' places begin 66 sin(180/16 deg) = 12.876 mm away."""
    most = math.floor(66 * math.sin(math.pi / 16) / 3 * 100) / 100
    (line,) = told("hut-charger", {"tolerance.placement_mm": 5})
    assert line.endswith(
        "tolerance.placement_mm: 1 magnet in 700 would lie 15 mm off, nearer to its neighbour's place or the shaft; "
        f"must be at most {most:g}; received 5; usual is 0.3"
    )
    assert told("hut-charger", {"tolerance.placement_mm": most}) == []


def test_magnets_across_the_shaft(told):
    """Two arcs from 10 to 70 mm: their middle stands at 40 mm, 10 mm of which are free towards the shaft."""
    changes = {"magnets.count": 2, "magnets.inner_radius_mm": 10, "tolerance.placement_mm": 3.4}
    few = {"winding.inner_radius_mm": 46, "winding.leg": "spiral"}
    (line,) = told("plank-ring", changes | few)
    assert "must be at most 3.33; received 3.4" in line
    assert told("plank-ring", changes | few | {"tolerance.placement_mm": 3.33}) == []


@pytest.mark.parametrize(
    ("example", "changes", "share"),
    [
        ("hut-charger", {}, 2.0),
        ("hut-charger", {"rotor.faces": 1, "rotor.return_plate": "ideal"}, 1.0),
        ("plank-ring", {}, 1.0),
    ],
    ids=["two faces share it", "the plate comes down", "the winding itself"],
)
def test_copper_that_would_touch(design_file, told, example, changes, share):
    room = gap_room_m(read_design(design_file(example, changes)))
    clearance = 1.0 if example == "plank-ring" else (8 - 5.43) / 2
    assert room * 1e3 == pytest.approx(share * clearance, abs=0.01)
    most = math.floor(room * 1e3 / 2 * 100 + 1e-6) / 100
    (line,) = told(example, changes | {"tolerance.gap_mm": most + 0.02})
    assert line.endswith(
        f"tolerance.gap_mm: in 1 machine of 40 the winding would touch: it has {room * 1e3:.2f} mm to spare; must be "
        f"at most {most:g}; received {most + 0.02:g}, or give the winding more room"
    )
    assert told(example, changes | {"tolerance.gap_mm": most}) == []


def test_a_winding_that_fills_the_gap_needs_a_sure_one(told):
    tight = {"rotor.gap_mm": "stack", "winding.clearance_mm": 0}
    assert told("hut-charger", tight | {"tolerance.gap_mm": 0.3})[0].split(": ")[1] == "tolerance.gap_mm"
    assert told("hut-charger", tight | {"tolerance.gap_mm": 0}) == []


@pytest.mark.parametrize("table", [{}, {"tolerance.magnet_mm": 0.1}])
def test_a_usual_tolerance_that_nobody_wrote_has_no_line_and_no_key(design_file, table):
    path = design_file("hut-charger", {"rotor.gap_mm": "stack", "winding.clearance_mm": 0} | table)
    with pytest.raises(DesignError) as caught:
        check_tolerance(read_design(path), path)
    assert str(caught.value) == (
        f"{path}: the usual tolerance of 0.3 mm on the gap is too much here: in 1 machine of 40 the winding would "
        "touch: it has 0.00 mm to spare; write [tolerance] gap_mm = 0"
    )


def test_a_usual_tolerance_names_the_most_that_there_is_room_for(design_file):
    """Two clearances of 0.1 mm are all the room; two standard deviations must fit."""
    path = design_file("hut-charger", {"rotor.gap_mm": "stack", "winding.clearance_mm": 0.1})
    room = gap_room_m(read_design(path)) * 1e3
    assert room == pytest.approx(0.2)
    with pytest.raises(DesignError, match=r"0\.20 mm to spare; write \[tolerance\] gap_mm = 0\.1 or less$"):
        check_tolerance(read_design(path), path)
