"""Corners of the named shapes, against the design's own list; and the limits in which shapes turn into each other."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fieldrun.design.model import Winding
from fieldrun.design.shapes import SHAPE_NUMBERS
from fieldrun.design.stack import CROSSED_SHAPES, NAMED_SHAPES
from fieldrun.winding.pieces import ARC, LINE, SPIRAL
from fieldrun.winding.shapes import SHAPES, Ring, ring_of
from fieldrun.winding.turn import passes_its_foot, raised, turn_edges

R1, R2, P = 0.060, 0.110, 8
TAU = math.pi / P
RM = (R1 + R2) / 2
BASE = Winding("serpentine", R1, R2, 1, 1, 1, 0.005)


def corners(shape: str, **keys: object) -> list[tuple[float, float, str, str]]:
    winding = replace(BASE, shape=shape, **keys)
    return [(c.radius_m, c.theta, c.edge, c.side) for c in SHAPES[shape].draw(Ring(R1, R2, TAU), winding)]


def test_every_named_shape_can_be_drawn_and_nothing_else() -> None:
    assert set(SHAPES) == set(NAMED_SHAPES)


def test_serpentine_has_radial_legs_one_pole_pitch_apart() -> None:
    assert corners("serpentine") == [
        (R1, 0.0, "leg", "out"),
        (R2, 0.0, "arc", "end"),
        (R2, TAU, "leg", "in"),
        (R1, TAU, "arc", "end"),
    ]


def test_zigzag_legs_are_centred_on_the_serpentines() -> None:
    h = 0.6 * TAU / 2
    assert corners("zigzag", span=0.6) == [
        (R1, -h, "leg", "out"),
        (R2, h, "arc", "end"),
        (R2, TAU - h, "leg", "in"),
        (R1, TAU + h, "arc", "end"),
    ]


def test_rhomboid_legs_slant_the_same_way() -> None:
    w, h = 0.8 * TAU / 2, 0.3 * TAU / 2
    assert corners("rhomboid", span=0.8, skew=0.3) == [
        (R1, TAU / 2 - w - h, "leg", "out"),
        (R2, TAU / 2 - w + h, "arc", "end"),
        (R2, TAU / 2 + w + h, "leg", "in"),
        (R1, TAU / 2 + w - h, "arc", "end"),
    ]


def test_diamond_is_widest_half_way() -> None:
    w = 0.9 * TAU / 2
    assert corners("diamond", span=0.9) == [
        (R1, TAU / 2, "leg", "out"),
        (RM, TAU / 2 - w, "leg", "out"),
        (R2, TAU / 2, "leg", "in"),
        (RM, TAU / 2 + w, "leg", "in"),
    ]


def test_hexagon_has_a_radial_stretch_of_its_share() -> None:
    w, half = TAU / 2, 0.4 * (R2 - R1) / 2
    assert corners("hexagon", straight_share=0.4) == [
        (R1, TAU / 2, "leg", "out"),
        (RM - half, TAU / 2 - w, "radial", "out"),
        (RM + half, TAU / 2 - w, "leg", "out"),
        (R2, TAU / 2, "leg", "in"),
        (RM + half, TAU / 2 + w, "radial", "in"),
        (RM - half, TAU / 2 + w, "leg", "in"),
    ]


@pytest.mark.parametrize("shape", NAMED_SHAPES)
@pytest.mark.parametrize("key", SHAPE_NUMBERS)
def test_a_shape_is_drawn_by_the_numbers_it_is_said_to_be_and_no_others(shape: str, key: str) -> None:
    changes = corners(shape, **{key: 0.3}) != corners(shape, **{key: 0.6})
    assert changes == (shape in SHAPE_NUMBERS[key])


def test_a_path_has_no_ring_of_its_own() -> None:
    with pytest.raises(ValueError, match='winding shape "path" has no radii'):
        ring_of(replace(BASE, shape="path", inner_radius_m=None, outer_radius_m=None), P)


@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_edges_follow_each_other_round_one_pole_pair(shape: str) -> None:
    edges = turn_edges(replace(BASE, shape=shape, span=0.7), P)
    for edge, following in pairwise(edges):
        assert edge.end == following.start
    home = 0.0 if SHAPES[shape].closed else 2 * TAU
    assert edges[-1].end[0] == edges[0].start[0]
    assert edges[-1].end[1] == pytest.approx(edges[0].start[1] + home, abs=1e-15)


def test_arcs_of_a_zigzag_vanish_at_span_1() -> None:
    assert [edge.kind for edge in turn_edges(replace(BASE, shape="zigzag", span=0.9), P)] == [LINE, ARC, LINE, ARC]
    assert [edge.kind for edge in turn_edges(replace(BASE, shape="zigzag"), P)] == [LINE, LINE]


def test_spiral_legs_are_spirals_but_radial_stretches_stay_straight() -> None:
    kinds = [edge.kind for edge in turn_edges(replace(BASE, shape="hexagon", leg="spiral"), P)]
    assert kinds == [SPIRAL, LINE, SPIRAL, SPIRAL, LINE, SPIRAL]


@pytest.mark.parametrize(("shape", "rises"), [("zigzag", 2), ("diamond", 2), ("hexagon", 2), ("serpentine", 0)])
def test_crossed_sides_change_sheets_by_a_vertical_line_at_each_tip(shape: str, rises: int) -> None:
    edges = turn_edges(replace(BASE, shape=shape), P)
    out, back = (0.002, 0.001) if shape in CROSSED_SHAPES else (0.002, 0.002)
    kind, start, end = raised(edges, out_m=out, in_m=back)
    vertical = np.all(start[:, :2] == end[:, :2], axis=1)
    assert np.count_nonzero(vertical) == rises
    assert np.all(kind[vertical] == LINE)
    np.testing.assert_array_equal(end[:-1], start[1:])
    assert end[-1, 2] == start[0, 2]


def test_crossed_sides_change_sheets_along_the_end_arcs_where_there_are_some() -> None:
    kind, start, end = raised(turn_edges(replace(BASE, shape="zigzag", span=0.5), P), out_m=0.002, in_m=0.001)
    assert kind.tolist() == [LINE, ARC, LINE, ARC]
    assert start[:, 2].tolist() == [0.002, 0.002, 0.001, 0.001]
    assert end[:, 2].tolist() == [0.002, 0.001, 0.001, 0.002]


def test_a_chord_that_dips_inside_its_inner_end_is_seen() -> None:
    few = turn_edges(replace(BASE, shape="zigzag"), 2)
    assert all(passes_its_foot(edge) for edge in few if edge.side != "end")
    assert not any(passes_its_foot(edge) for edge in turn_edges(replace(BASE, shape="zigzag", leg="spiral"), 2))
    assert not any(passes_its_foot(edge) for edge in turn_edges(replace(BASE, shape="zigzag"), P))
