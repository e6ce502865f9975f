"""Notches and pins stand where the wire turns, each once, numbered as the winder meets them."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.generator.machine import read_design
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import write_paths
from fieldrun.winding.stations import Corners, corners_of
from fieldrun.winding.walk import loops_of

COUNTS = {  # per phase of 8 pole pairs: (inner, outer, corner), by hand from each shape's corners
    "serpentine": (16, 16, 0),
    "zigzag": (8, 8, 0),
    "rhomboid": (16, 16, 0),
    "diamond": (8, 8, 16),
    "hexagon": (8, 8, 32),
}


@pytest.fixture
def corners(design_file: Callable) -> Callable[..., Corners]:
    def made(changes: dict, *, every_round: bool = False) -> Corners:
        design = read_design(design_file("hut-charger", changes))
        laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
        return corners_of(laid, loops_of(laid, design.winding), every_round=every_round)

    return made


def test_no_shape_is_left_out() -> None:
    assert set(COUNTS) == set(NAMED_SHAPES)


@pytest.mark.parametrize("shape", COUNTS)
def test_every_shape_has_its_own_number_of_places(shape: str, corners: Callable) -> None:
    stations = corners({"winding.shape": shape}).stations
    kinds = [station.kind for station in stations]
    assert tuple(kinds.count(kind) for kind in ("inner", "outer", "corner")) == tuple(3 * n for n in COUNTS[shape])
    labels = [station.label for station in stations]
    assert labels == [f"{letter}{n + 1}" for letter in "ABC" for n in range(sum(COUNTS[shape]))]


@pytest.mark.parametrize("shape", COUNTS)
@pytest.mark.parametrize("every_round", [False, True])
def test_stations_are_vertices_of_the_paths(shape: str, every_round: bool, design_file: Callable) -> None:
    """Each within a nanometre of an end of a piece of its own phase, and no two in one place."""
    design = read_design(design_file("hut-charger", {"winding.shape": shape, "winding.start_deg": 7.3}))
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    found = corners_of(laid, loops_of(laid, design.winding), every_round=every_round).stations
    ends = laid.pieces.start
    xy = np.stack([ends[:, 0] * np.cos(ends[:, 1]), ends[:, 0] * np.sin(ends[:, 1])], axis=1)
    for station in found:
        own = xy[laid.pieces.phase == station.phase]
        assert np.min(np.hypot(*(own - station.xy_m).T)) < 1e-9
    places = np.array([station.xy_m for station in found])
    apart = np.hypot(*(places[:, None] - places[None, :]).transpose(2, 0, 1)) + np.eye(len(places))
    assert apart.min() > 1e-5


def test_wires_of_a_notch_are_its_layers_whatever_way_a_belt_runs(corners: Callable) -> None:
    for changes in ({}, {"winding.belts": 2}, {"winding.shape": "serpentine"}):
        assert {station.wires for station in corners(changes).stations} == {4}


def test_a_full_comb_has_a_place_for_every_round(corners: Callable) -> None:
    first, full = corners({}), corners({}, every_round=True)
    assert len(full.stations) == 11 * len(first.stations)
    assert len(full.piece) == len(first.piece) == 44 * 3 * 16
    assert np.array_equal(np.bincount(full.station), np.full(len(full.stations), 4))


def test_later_rounds_lie_against_the_first_ones_station(corners: Callable, design_file: Callable) -> None:
    design = read_design(design_file("hut-charger"))
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    loops = loops_of(laid, design.winding)
    found = corners({})
    turned = laid.pieces.start[found.piece, 1] - np.array([found.stations[i].angle_rad for i in found.station])
    assert turned == pytest.approx(loops.round[found.loop] * laid.step_rad, abs=1e-12)


def test_the_walk_alternates_between_the_ends_of_a_zigzag(corners: Callable) -> None:
    found = corners({})
    kinds = [found.stations[i].kind for i in found.station[:16]]
    assert kinds == ["inner", "outer"] * 8
    assert [found.stations[i].number for i in found.station[:16]] == list(range(1, 17))


def test_a_path_that_goes_straight_on_needs_nothing_there(design_file: Callable, tmp_path) -> None:
    rows = ["53,0,4,line", "60,0,4,line", "79,0,4,arc", "79,22.5,4,line", "53,22.5,4,arc", "53,0,4,"]
    text = "loop,r_mm,theta_deg,z_mm,edge\n" + "".join(f"1,{row}\n" for row in rows)
    (tmp_path / "own.csv").write_text(text)
    changes = {"winding.shape": "path", "winding.file": "own.csv", "winding.rounds": 1, "winding.layers": None}
    changes |= {"winding.inner_radius_mm": None, "winding.outer_radius_mm": None, "winding.phases": 1}
    design = read_design(design_file("hut-charger", changes))
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    found = corners_of(laid, loops_of(laid, design.winding), every_round=False)
    assert [(s.label, s.kind) for s in found.stations] == [
        ("A1", "inner"),
        ("A2", "outer"),
        ("A3", "outer"),
        ("A4", "inner"),
    ]
    assert found.stations[2].angle_rad == pytest.approx(math.pi / 8)


@pytest.mark.parametrize("shape", COUNTS)
def test_a_winding_written_as_a_path_has_the_same_stations(shape: str, design_file: Callable, tmp_path) -> None:
    plain = read_design(design_file("hut-charger", {"winding.shape": shape, "winding.rounds": 1, "winding.layers": 1}))
    laid = lay(plain.winding, plain.magnets.pole_pairs, plain.wire)
    write_paths(tmp_path / "own.csv", laid.pieces, [])
    changes = {"winding.shape": "path", "winding.file": "own.csv", "winding.rounds": 1, "winding.layers": None}
    changes |= {"winding.inner_radius_mm": None, "winding.outer_radius_mm": None}
    own = read_design(design_file("hut-charger", changes))
    again = lay(own.winding, own.magnets.pole_pairs, own.wire)
    wanted, found = (
        corners_of(one, loops_of(one, design.winding), every_round=False).stations
        for one, design in ((laid, plain), (again, own))
    )
    assert [s.label for s in found] == [s.label for s in wanted]
    assert [s.kind for s in found] == [s.kind for s in wanted]
    assert np.array([s.xy_m for s in found]) == pytest.approx(np.array([s.xy_m for s in wanted]), abs=1e-9)
