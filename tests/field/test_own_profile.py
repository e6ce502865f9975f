"""The profile of a magnet drawn as a section: what it is, what it is refused for, and how it is cut into steps."""

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.own_profile import Piece, grouped, mean_half_width_m, profile_of
from fieldrun.field.section import Region, Section, rectangle, section_at
from tests.sections import structured_mesh

R, H = 0.066, 0.006
TAU = math.pi * R / 8
HALF = 0.35 * TAU
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, H, 1.3, 1.05, 7500.0)
STEEL = Rotor(1, 0.009, Plate(steel_curve("mild steel"), 0.004), Plate(steel_curve("mild steel"), 0.002), 0.05, 0.08)
HALF_POLE, WHOLE_POLE = section_at(ARCS, STEEL, R), section_at(ARCS, STEEL, R, "full pole")


def with_magnets(section: Section, *magnets: Region) -> Section:
    others = [region for region in section.regions if not any(region.remanence_t)]
    return replace(section, regions=(*magnets, *others))


def magnet(section: Section, x0: float, x1: float, low: float = -H, high: float = 0.0) -> Region:
    like = next(region for region in section.regions if region.name == "magnet_up")
    return replace(like, polygon_m=rectangle(x0, x1, low, high))


def south(x0: float, x1: float) -> Region:
    like = next(region for region in WHOLE_POLE.regions if region.name == "magnet_down")
    return replace(like, polygon_m=rectangle(x0, x1, -H, 0))


def profile(section: Section) -> tuple[Piece, ...]:
    return profile_of(section, structured_mesh(section), H)


def test_a_plain_magnet_is_one_piece() -> None:
    for section in (HALF_POLE, WHOLE_POLE):
        (piece,) = profile(section)
        assert (piece.low_m, piece.high_m) == (-H, 0.0)
        assert (piece.lower_m, piece.upper_m) == pytest.approx((HALF, HALF), rel=1e-12)


def test_a_stack_is_a_piece_for_each_of_its_magnets() -> None:
    stack = with_magnets(HALF_POLE, magnet(HALF_POLE, 0, 0.008, -H, -0.002), magnet(HALF_POLE, 0, 0.005, -0.002))
    assert profile(stack) == (Piece(-H, -0.002, 0.008, 0.008), Piece(-0.002, 0.0, 0.005, 0.005))


def test_a_step_of_no_height_is_none() -> None:
    polygon = ((0, -H), (0.008, -H), (0.008, -1e-13), (0.005, 0.0), (0.0, 0.0))
    sliver = with_magnets(HALF_POLE, replace(magnet(HALF_POLE, 0, 0.008), polygon_m=polygon))
    mesh = structured_mesh(with_magnets(HALF_POLE, magnet(HALF_POLE, 0, 0.008)))
    assert profile_of(sliver, mesh, H) == (Piece(-H, 0.0, 0.008, 0.008),)


def test_slants_have_a_width_at_either_end() -> None:
    polygon = ((0, -H), (0.007, -H), (0.008, -0.002), (0.005, 0.0), (0.0, 0.0))
    plain = with_magnets(HALF_POLE, magnet(HALF_POLE, 0, 0.008))
    tapered = with_magnets(HALF_POLE, replace(plain.regions[0], polygon_m=polygon))
    lean = np.array([0.0075 * 0.004, 0.0065 * 0.002]).sum() / (0.008 * H)  # of the plain magnet's area
    mesh = structured_mesh(plain)
    scaled = SectionMesh(mesh.mesh.scaled((math.sqrt(lean), math.sqrt(lean))), mesh.region)
    found = profile_of(tapered, scaled, H)
    assert found == (Piece(-H, -0.002, 0.007, 0.008), Piece(-0.002, 0.0, 0.008, 0.005))


def test_a_whole_pole_shows_both_neighbours() -> None:
    def both(up: float, down: float) -> Section:
        return with_magnets(WHOLE_POLE, magnet(WHOLE_POLE, 0, up), south(TAU - down, TAU))

    (piece,) = profile(both(0.008, 0.008))
    assert piece.lower_m == pytest.approx(0.008)
    assert profile(both(0.008, 0.007)) == ()  # no axis of symmetry


REFUSED: dict[str, Callable[[], Section]] = {
    "two bodies side by side": lambda: with_magnets(
        HALF_POLE, magnet(HALF_POLE, 0, 0.003), magnet(HALF_POLE, 0.005, 0.009)
    ),
    "hollow in the middle": lambda: with_magnets(HALF_POLE, magnet(HALF_POLE, 0.002, 0.009)),
    "air between two layers": lambda: with_magnets(
        HALF_POLE, magnet(HALF_POLE, 0, 0.008, -H, -0.004), magnet(HALF_POLE, 0, 0.008, -0.003)
    ),
    "a south pole in half a pole": lambda: with_magnets(
        HALF_POLE,
        magnet(HALF_POLE, 0, 0.008),
        south(0.009, TAU / 2),
    ),
    "no south pole in a whole one": lambda: with_magnets(WHOLE_POLE, magnet(WHOLE_POLE, 0, 0.008)),
    "a magnet on its side": lambda: with_magnets(
        HALF_POLE,
        magnet(HALF_POLE, 0, 0.008),
        replace(magnet(HALF_POLE, 0.010, TAU / 2), name="magnet_90", remanence_t=(1.3, 0.0)),
    ),
    "no magnet": lambda: with_magnets(HALF_POLE),
    "a foot above the backing": lambda: with_magnets(HALF_POLE, magnet(HALF_POLE, 0, 0.008, -0.005)),
    "a shoe": lambda: replace(
        with_magnets(HALF_POLE, magnet(HALF_POLE, 0, 0.008, -H, -0.001)),
        regions=(
            magnet(HALF_POLE, 0, 0.008, -H, -0.001),
            *HALF_POLE.regions[1:],
            replace(HALF_POLE.regions[1], polygon_m=rectangle(0, 0.008, -0.001, 0)),
        ),
    ),
    "a rib of steel between the magnets": lambda: replace(
        HALF_POLE,
        regions=(*HALF_POLE.regions, replace(HALF_POLE.regions[1], polygon_m=rectangle(0.0115, TAU / 2, -H, -0.003))),
    ),
    "a return plate with a slot": lambda: replace(
        HALF_POLE,
        regions=(*HALF_POLE.regions[:2], replace(HALF_POLE.regions[2], polygon_m=rectangle(0, 0.010, 0.009, 0.011))),
    ),
}


def test_the_machine_of_the_refusals_has_what_they_change() -> None:
    assert [region.name for region in HALF_POLE.regions] == ["magnet_up", "backing", "return plate"]
    assert len(profile(HALF_POLE)) == 1


@pytest.mark.parametrize("name", REFUSED)
def test_what_has_no_profile(name: str) -> None:
    assert profile(REFUSED[name]()) == ()


def test_a_magnet_with_a_hole_has_none() -> None:
    mesh = structured_mesh(HALF_POLE)
    x, z = mesh.mesh.p[:, mesh.mesh.t].mean(axis=1)
    hole = (mesh.region == 0) & (np.hypot(x - HALF / 2, z + H / 2) < 0.0015)
    assert np.any(hole)
    assert profile_of(HALF_POLE, SectionMesh(mesh.mesh, np.where(hole, -1, mesh.region)), H) == ()


def test_steps_of_a_slant_are_even_and_leave_the_straight_part_alone() -> None:
    straight, slant = Piece(-6.0, -2.0, 10.0, 10.0), Piece(-2.0, 0.0, 10.0, 8.0)
    groups = grouped((straight, slant), 0.5)
    assert [len(group) for group in groups] == [1] * 5
    assert groups[0] == [straight]
    assert [mean_half_width_m(group) for group in groups[1:]] == pytest.approx([9.75, 9.25, 8.75, 8.25])


HALVES = st.lists(st.floats(0.1, 10), min_size=2, max_size=12)


@settings(derandomize=True, max_examples=60)
@given(HALVES, st.floats(0.05, 3))
def test_steps_keep_area_and_hold_the_width(halves: list[float], step: float) -> None:
    pieces = tuple(Piece(k, k + 1, a, b) for k, (a, b) in enumerate(pairwise(halves)))
    groups = grouped(pieces, step)
    assert groups[0][0].low_m == 0
    assert groups[-1][-1].high_m == len(pieces)
    assert all(one[-1].high_m == pytest.approx(other[0].low_m) for one, other in pairwise(groups))
    area = sum(mean_half_width_m(group) * (group[-1].high_m - group[0].low_m) for group in groups)
    assert area == pytest.approx(sum((piece.lower_m + piece.upper_m) / 2 for piece in pieces))
    for group in groups:
        ends = [half for piece in group for half in (piece.lower_m, piece.upper_m)]
        assert np.ptp(ends) <= step * (1 + 1e-9)
