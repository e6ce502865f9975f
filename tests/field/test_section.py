"""What is drawn for a machine: heights, sides, and magnets that point where they should."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.section import AIR_BEHIND, Section, polygon_area, section_at

R, H, GAP = 0.066, 0.006, 0.009
TAU = math.pi * R / 8
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, H, 1.3, 1.05, 7500.0)
SHEET, THIN, IDEAL = Plate(steel_curve("mild steel"), 0.004), Plate(steel_curve("DC01"), 0.002), Plate(None)
OPEN = Rotor(1, None, None, None, 0.04, 0.09)


def box(polygon: tuple[tuple[float, float], ...]) -> tuple[float, ...]:
    x, z = zip(*polygon, strict=True)
    return min(x), max(x), min(z), max(z)


# rotor, (bottom, its kind), (top, its kind), upper line
LAYOUTS = [
    (OPEN, (-H - AIR_BEHIND * TAU, "open"), (AIR_BEHIND * TAU, "open"), None),
    (replace(OPEN, backing=IDEAL), (-H, "normal"), (AIR_BEHIND * TAU, "open"), None),
    (replace(OPEN, backing=SHEET), (-H - 0.004 - AIR_BEHIND * TAU, "open"), (AIR_BEHIND * TAU, "open"), None),
    (Rotor(2, GAP, IDEAL, None, 0, 1), (-H, "normal"), (GAP / 2, "normal"), GAP / 2),
    (Rotor(2, GAP, None, None, 0, 1), (-H - AIR_BEHIND * TAU, "open"), (GAP / 2, "normal"), GAP / 2),
    (Rotor(1, GAP, IDEAL, IDEAL, 0, 1), (-H, "normal"), (GAP, "normal"), GAP),
    (Rotor(1, GAP, None, THIN, 0, 1), (-H - AIR_BEHIND * TAU, "open"), (GAP + 0.002 + AIR_BEHIND * TAU, "open"), GAP),
]


@pytest.mark.parametrize(("rotor", "low", "high", "line"), LAYOUTS)
def test_heights_and_sides(rotor: Rotor, low: tuple[float, str], high: tuple[float, str], line: float | None) -> None:
    section = section_at(ARCS, rotor, R)
    assert (section.bottom_m, section.top_m) == pytest.approx((low[0], high[0]))
    assert (section.bottom, section.top) == (low[1], high[1])
    assert section.upper_line_m == line
    assert section.mirrored == (rotor.faces == 2)
    assert section.width_m == pytest.approx(TAU / 2)


def test_plates_lie_behind_magnets_and_gap() -> None:
    section = section_at(ARCS, Rotor(1, GAP, SHEET, THIN, 0, 1), R)
    backing, plate = (r for r in section.regions if r.steel)
    assert (backing.name, plate.name) == ("backing", "return plate")
    assert box(backing.polygon_m) == pytest.approx((0, TAU / 2, -H - 0.004, -H))
    assert box(plate.polygon_m) == pytest.approx((0, TAU / 2, GAP, GAP + 0.002))
    assert (backing.steel, plate.steel) == (SHEET.steel, THIN.steel)


def test_an_alternating_whole_pole_is_half_a_north_and_half_a_south() -> None:
    north, south = section_at(ARCS, OPEN, R, "full pole").regions
    assert (north.name, south.name) == ("magnet_up", "magnet_down")
    assert box(north.polygon_m) == pytest.approx((0, 0.35 * TAU, -H, 0))
    assert box(south.polygon_m) == pytest.approx((0.65 * TAU, TAU, -H, 0))
    assert (north.remanence_t, south.remanence_t) == ((0, 1.3), (0, -1.3))
    assert north.permeability == south.permeability == 1.05


@pytest.mark.parametrize("segments", [2, 3, 4, 5])
def test_halbach_bodies_turn_step_by_step_with_the_strong_side_up(segments: int) -> None:
    halbach = replace(ARCS, pattern="halbach", segments_per_pole=segments, outline=Arc(0.056, 0.076, 1.0))
    regions = sorted(section_at(halbach, OPEN, R, "full pole").regions, key=lambda r: box(r.polygon_m)[0])
    assert len(regions) == segments + 1
    middles = np.arange(segments + 1) / segments * TAU
    for region, middle in zip(regions, middles, strict=True):
        x0, x1, _, _ = box(region.polygon_m)
        assert x0 <= middle <= x1 or math.isclose(middle, x0) or math.isclose(middle, x1)
        phase = math.pi * middle / TAU
        assert region.remanence_t == pytest.approx((-1.3 * math.sin(phase), 1.3 * math.cos(phase)), abs=1e-12)


def test_round_magnets_are_widest_at_their_middle_and_gone_at_their_ends() -> None:
    discs = Magnets(Disc(0.020, R), 16, H, 1.3, 1.05, 7500.0)
    widths = [magnet_width(section_at(discs, OPEN, r)) for r in (0.0561, 0.060, R, 0.072, 0.0759)]
    assert widths[0] < widths[1] < widths[2] > widths[3] > widths[4] > 0
    assert widths[2] == pytest.approx(2 * R * math.asin(0.010 / 2 / R))
    assert magnet_width(section_at(discs, OPEN, 0.0559)) == 0


def magnet_width(section: Section) -> float:
    return sum(x1 - x0 for r in section.regions for x0, x1, _, _ in [box(r.polygon_m)])


def test_beyond_a_blocks_outer_side_only_its_corners_are_left() -> None:
    blocks = Magnets(Block(0.020, 0.024, R), 16, H, 1.3, 1.05, 7500.0)
    (corner,) = section_at(blocks, OPEN, 0.0765).regions
    x0, x1, _, _ = box(corner.polygon_m)
    assert x0 == pytest.approx(0.0765 * math.acos(0.076 / 0.0765))
    assert x1 == pytest.approx(0.0765 * math.asin(0.012 / 0.0765))


@pytest.mark.parametrize(("share", "count", "right"), [(0.99995, 1, 0.5), (0.9997, 1, 0.49985), (1.0, 1, 0.5)])
def test_slivers_of_air_are_closed(share: float, count: int, right: float) -> None:
    regions = section_at(replace(ARCS, outline=Arc(0.056, 0.076, share)), OPEN, R).regions
    assert len(regions) == count
    assert box(regions[0].polygon_m)[1] == pytest.approx(right * TAU)


def test_slivers_of_magnet_are_left_out() -> None:
    assert section_at(replace(ARCS, outline=Arc(0.056, 0.076, 5e-5)), OPEN, R).regions == ()


def test_area_of_a_polygon_whichever_way_round():
    """A square of 4 with a notch of 1 x 1 cut from its corner, moved off the origin."""
    corners = tuple((x + 7.0, z - 3.0) for x, z in ((0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)))
    assert polygon_area(corners) == pytest.approx(3.0, rel=1e-14)
    assert polygon_area(corners[::-1]) == pytest.approx(3.0, rel=1e-14)
