"""Free stretches of a level, for every way a polygon can meet it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.field.level_cuts import free_stretches
from fieldrun.field.section import Region, Section, rectangle

BOX = {"pole_pitch_m": 2.0, "width": "half pole", "bottom_m": -2.0, "top_m": 1.0, "bottom": "open", "top": "open"}


def section(*polygons: tuple[tuple[float, float], ...]) -> Section:
    return Section(**BOX, regions=tuple(Region("magnet_up", p) for p in polygons), upper_line_m=None)


def length(stretches: list[tuple[float, float]]) -> float:
    return sum(b - a for a, b in stretches)


@pytest.mark.parametrize(
    ("polygon", "blocked"),
    [
        (rectangle(0.2, 0.6, -1, 0), 0.0),  # the level runs along its top
        (rectangle(0.2, 0.6, 0, 0.5), 0.0),  # along its foot
        (rectangle(0.2, 0.6, -1, 0.5), 0.4),  # through it
        (rectangle(0.2, 0.6, -1, -0.5), 0.0),  # above it
        (((0.2, -1), (0.6, -1), (0.4, 0)), 0.0),  # touches a tip
        (((0.2, -1), (0.6, -1), (0.4, 1)), 0.2),  # cuts a triangle halfway up
        (((0, -1), (0.8, -1), (0.8, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)), 0.5),  # a step at the level
    ],
)
def test_what_a_polygon_blocks(polygon: tuple[tuple[float, float], ...], blocked: float) -> None:
    assert length(free_stretches(section(polygon), 0.0)) == pytest.approx(1 - blocked, abs=1e-12)


def test_between_two_regions_that_touch_there_the_level_is_free() -> None:
    stacked = section(rectangle(0.1, 0.5, -1, 0), rectangle(0.1, 0.5, 0, 0.5))
    assert length(free_stretches(stacked, 0.0)) == pytest.approx(1.0)


@given(
    left=st.floats(0.01, 0.4), width=st.floats(0.05, 0.5), foot=st.floats(-1.5, -0.01), head=st.floats(0.01, 0.9)
)  # fmt: skip
@settings(derandomize=True, max_examples=50, deadline=None)
def test_a_rectangle_across_the_level_blocks_its_width(left: float, width: float, foot: float, head: float) -> None:
    found = free_stretches(section(rectangle(left, left + width, foot, head)), 0.0)
    assert length(found) == pytest.approx(1 - width, abs=1e-12)
    assert all(b <= left or a >= left + width for a, b in found)
