"""One deviating machine: only what deviates differs, and no magnet grows into its neighbour."""

import dataclasses
import math

import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate
from fieldrun.design.read import read_design
from fieldrun.studies.deviations import (
    as_drawn,
    room_m,
    smallest_side_m,
    with_circle,
    with_gap,
    with_remanence,
    with_sides,
    with_thickness,
)

HUT, PLANK, QUIET = (read_design(example_path(name)) for name in ("hut-charger", "plank-ring", "quiet-halbach"))
DEVIATIONS = (with_remanence, with_gap, with_sides, with_thickness, with_circle)


def magnets(outline, count=16, **keys):
    return Magnets(outline, count, 0.006, 1.3, 1.05, 7500.0, **keys)


def changed(before, after):
    """Names of the fields that differ."""
    return {f.name for f in dataclasses.fields(before) if getattr(before, f.name) != getattr(after, f.name)}


@pytest.mark.parametrize("design", [HUT, PLANK, QUIET], ids=lambda design: design.name)
@pytest.mark.parametrize("deviate", DEVIATIONS)
def test_no_deviation_is_the_machine_as_drawn(design, deviate):
    assert deviate(design, 0.0) == as_drawn(design)


def test_a_mesh_of_ones_own_gives_way_to_the_plain_outline():
    own = dataclasses.replace(HUT, magnets=dataclasses.replace(HUT.magnets, section_mesh="own.msh"))
    for deviate in DEVIATIONS:
        assert deviate(own, 0.0) == as_drawn(HUT)


def test_each_deviation_touches_its_own_size_alone():
    assert changed(HUT.magnets, with_remanence(HUT, 0.02).magnets) == {"remanence_t"}
    assert with_remanence(HUT, 0.02).magnets.remanence_t == pytest.approx(1.02 * HUT.magnets.remanence_t)
    assert changed(HUT.magnets, with_thickness(HUT, 1e-4).magnets) == {"thickness_m"}
    assert with_thickness(HUT, 1e-4).magnets.thickness_m == pytest.approx(0.0061)
    assert with_sides(HUT, 1e-4).magnets.outline == Disc(pytest.approx(0.0201), HUT.magnets.outline.pitch_radius_m)
    assert with_circle(HUT, 1e-4).magnets.outline == Disc(0.02, pytest.approx(0.0661))
    for deviate in (with_remanence, with_thickness, with_sides, with_circle):
        built = deviate(HUT, 1e-4)
        assert (built.rotor, built.lift_m) == (HUT.rotor, 0.0)


def test_between_two_faces_the_winding_stays_in_the_middle():
    built = with_gap(HUT, 4e-4)
    assert changed(HUT.rotor, built.rotor) == {"gap_m"}
    assert built.rotor.gap_m == pytest.approx(HUT.rotor.gap_m + 4e-4)
    assert built.lift_m == pytest.approx(2e-4)
    assert built.magnets == HUT.magnets


def test_under_a_plate_it_stays_above_the_magnets():
    plated = dataclasses.replace(HUT, rotor=dataclasses.replace(HUT.rotor, faces=1, return_plate=Plate(None)))
    built = with_gap(plated, -4e-4)
    assert built.rotor.gap_m == pytest.approx(HUT.rotor.gap_m - 4e-4)
    assert built.lift_m == 0.0


def test_over_one_open_face_the_winding_itself_is_off():
    built = with_gap(PLANK, 4e-4)
    assert built.rotor == PLANK.rotor
    assert built.lift_m == 4e-4


def test_a_block_grows_both_ways_and_an_arc_at_all_its_sides():
    block = dataclasses.replace(HUT, magnets=magnets(Block(0.02, 0.015, 0.066)))
    assert with_sides(block, 1e-4).magnets.outline == Block(pytest.approx(0.0201), pytest.approx(0.0151), 0.066)
    arc = dataclasses.replace(HUT, magnets=magnets(Arc(0.05, 0.07, 0.8)))
    grown = with_sides(arc, 1e-4).magnets.outline
    assert (grown.inner_radius_m, grown.outer_radius_m) == pytest.approx((0.04995, 0.07005))
    pitch = math.pi * 0.06 / 8
    assert grown.share * pitch == pytest.approx(0.8 * pitch + 1e-4)


def test_an_arc_keeps_its_width_on_a_larger_circle():
    arc = dataclasses.replace(HUT, magnets=magnets(Arc(0.05, 0.07, 0.8)))
    moved = with_circle(arc, 1e-3).magnets.outline
    assert (moved.inner_radius_m, moved.outer_radius_m) == pytest.approx((0.051, 0.071))
    assert moved.share * 0.061 == pytest.approx(0.8 * 0.060)


@pytest.mark.parametrize(
    ("outline", "room"),
    [
        (Disc(0.02, 0.066), 2 * 0.066 * math.sin(math.pi / 16)),
        (Block(0.02, 0.015, 0.066), 2 * 0.056 * math.tan(math.pi / 16)),
        (Arc(0.05, 0.07, 0.8), math.pi * 0.06 / 8),
    ],
)
def test_magnets_grow_until_they_touch(outline, room):
    design = dataclasses.replace(HUT, magnets=magnets(outline))
    assert room_m(design.magnets) == pytest.approx(room)
    grown = with_sides(design, 0.02).magnets.outline
    width = {
        Disc: lambda o: o.diameter_m,
        Block: lambda o: o.tangential_m,
        Arc: lambda o: o.share * math.pi * 0.06 / 8,
    }[type(grown)](grown)
    assert width == pytest.approx(room)


def test_touching_magnets_cannot_grow_but_may_be_smaller():
    full = dataclasses.replace(HUT, magnets=magnets(Arc(0.05, 0.07, 1.0)))
    assert with_sides(full, 1e-4).magnets.outline.share == 1.0
    assert with_sides(full, -1e-4).magnets.outline.share < 1.0
    assert with_circle(full, -1e-4).magnets.outline.share == 1.0


def test_two_blocks_have_room_without_end():
    assert room_m(magnets(Block(0.02, 0.015, 0.066), count=2)) == math.inf


@pytest.mark.parametrize(
    ("outline", "side"),
    [
        (Disc(0.02, 0.066), 0.006),
        (Disc(0.004, 0.066), 0.004),
        (Block(0.02, 0.003, 0.066), 0.003),
        (Block(0.002, 0.03, 0.066), 0.002),
        (Arc(0.05, 0.052, 0.8), 0.002),
        (Arc(0.05, 0.07, 0.1), 0.1 * math.pi * 0.06 / 8),
    ],
)
def test_the_smallest_side(outline, side):
    assert smallest_side_m(magnets(outline)) == pytest.approx(side)
