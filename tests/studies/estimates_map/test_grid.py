"""Machines by ratios: there and back, what fits, and what is refused."""

import dataclasses
import math

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import example_names, example_path
from fieldrun.field.outline import covered_half_angles, mean_radius_m
from fieldrun.generator.machine import read_design
from fieldrun.reference.shares import covered_share
from fieldrun.studies.estimates_map.grid import (
    Axes,
    Point,
    check_axes,
    default_axes,
    largest_share,
    machine_at,
    pattern_of,
    point_of,
)


def pattern(example, steel="ideal"):
    design = read_design(example_path(example))
    return design, pattern_of(design.magnets, design.rotor, design.winding.height_m, steel)


@pytest.mark.parametrize("example", example_names())
def test_the_designs_own_ratios_give_the_design(example):
    design, same = pattern(example, "own")
    point = point_of(same, design.winding.height_m)
    machine = machine_at(same, point)
    sides = [dataclasses.astuple(magnets.outline) for magnets in (machine.magnets, design.magnets)]
    np.testing.assert_allclose(sides[0], sides[1], rtol=1e-9)
    assert machine.magnets.thickness_m == pytest.approx(design.magnets.thickness_m, rel=1e-12)
    assert machine.height_m == pytest.approx(design.winding.height_m, rel=1e-12)
    assert machine.rotor.backing == design.rotor.backing
    assert (machine.rotor.gap_m or 0) == pytest.approx(design.rotor.gap_m or 0, rel=1e-12)


@pytest.mark.parametrize("example", example_names())
def test_a_machine_has_the_ratios_that_were_asked(example):
    _, same = pattern(example)
    point = Point(0.3, 0.2, 0.6)
    machine = machine_at(same, point)
    assert machine.magnets.thickness_m / same.pole_pitch_m == pytest.approx(0.2)
    assert machine.height_m / same.pole_pitch_m == pytest.approx(0.3 * same.height_share)
    assert covered_share(machine.magnets, machine.radius_m) == pytest.approx(0.6, rel=1e-9)
    assert machine.radius_m == mean_radius_m(machine.magnets)


def test_steel_is_made_ideal_or_left():
    design, ideal = pattern("hut-charger")
    assert design.rotor.backing is not None
    assert design.rotor.backing.steel is not None
    assert ideal.rotor.backing is not None
    assert ideal.rotor.backing.steel is None
    assert pattern("hut-charger", "own")[1].rotor.backing == design.rotor.backing
    assert pattern("plank-ring")[1].rotor.backing is None


@pytest.mark.parametrize("example", example_names())
def test_at_the_largest_share_neighbours_touch_and_no_more(example):
    """At every radius two half widths are at most the pitch, and somewhere they are just that."""
    _, same = pattern(example)
    magnets = machine_at(same, Point(0.3, 0.2, largest_share(same.magnets))).magnets
    reach = np.linspace(0.7, 1.3, 20001) * mean_radius_m(magnets)
    half = np.max(covered_half_angles(magnets, reach)[1])
    assert half == pytest.approx(math.pi / (magnets.count * magnets.segments_per_pole), rel=1e-4)


def test_default_lines_hold_the_design():
    design, same = pattern("hut-charger")
    own = point_of(same, design.winding.height_m)
    axes = default_axes(same, own)
    assert axes.shape == (3, 7, 9)
    assert own.share in axes.shares
    assert axes.gaps[0] <= own.gap <= axes.gaps[-1]
    check_axes(axes, same)
    far = Point(1.7, 0.02, 0.3)
    wide = default_axes(same, far)
    assert (wide.gaps[-1], wide.thicknesses[0], wide.shares[0]) == (pytest.approx(1.7), pytest.approx(0.02), 0.3)
    check_axes(wide, same)


def test_points_run_along_gaps_first_and_corners_are_the_ends():
    axes = Axes((0.1, 0.2, 0.3), (0.4, 0.5), (0.6,))
    assert [point.gap for point in axes.points] == [0.1, 0.2, 0.3] * 2
    assert axes.points[3] == Point(0.1, 0.5, 0.6)
    assert [axes.points[k] for k in axes.corners] == [Point(g, t, 0.6) for t in (0.4, 0.5) for g in (0.1, 0.3)]


def test_lines_that_no_machine_can_have_are_refused_all_at_once():
    _, same = pattern("quiet-halbach")
    with pytest.raises(DesignError) as caught:
        check_axes(Axes((), (0.2, 0.1), (0.5, 0.99)), same)
    assert [str(fault) for fault in caught.value.faults] == [
        "gaps: ratios must be above 0; received none",
        "thicknesses: ratios must ascend; received 0.2, 0.1",
        "shares: ratios must be above 0 and at most 0.824979, where neighbours touch; received 0.5, 0.99",
    ]
    for bad in (0.0, -0.1, math.inf, math.nan):
        with pytest.raises(DesignError, match=r"^gaps: ratios must be above 0; received "):
            check_axes(Axes((bad,), (0.2,), (0.5,)), same)
