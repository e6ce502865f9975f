"""A board's edge: closed strokes that follow each other, half a kerf on the waste side."""

import math
from collections.abc import Callable
from itertools import pairwise

import pytest

from fieldrun.design.model import Design
from fieldrun.generator.machine import read_design
from fieldrun.winding.former import Former, former_of
from fieldrun.winding.former_outline import Outline, Round, Stroke, outline_of
from fieldrun.winding.lay import lay

BOARDS = {
    "open notches": {},
    "closed slots": {"rotor.spins": "coil"},
    "pins": {"former.ends": "pins"},
    "diamond": {"winding.shape": "diamond"},
    "full comb": {"former.comb": "all", "winding.rounds": 8},
}


@pytest.fixture
def board(design_file: Callable) -> Callable[..., tuple[Design, Former]]:
    def made(changes: dict) -> tuple[Design, Former]:
        design = read_design(design_file("hut-charger", changes))
        return design, former_of(design, lay(design.winding, design.magnets.pole_pairs, design.wire))

    return made


def area(contour: Round | tuple[Stroke, ...]) -> float:
    """Enclosed area: Green's theorem, for every arc the circle's segment beyond its chord."""
    if isinstance(contour, Round):
        return math.pi * contour.radius**2
    total = 0.0
    for stroke in contour:
        (x0, y0), (x1, y1) = stroke.start, stroke.end
        total += (x0 * y1 - x1 * y0) / 2
        if stroke.centre is not None:
            cx, cy = stroke.centre
            turn = math.atan2(y1 - cy, x1 - cx) - math.atan2(y0 - cy, x0 - cx)
            turn = turn % (2 * math.pi) if stroke.left else -(-turn % (2 * math.pi))
            total += math.dist(stroke.start, stroke.centre) ** 2 * (turn - math.sin(turn)) / 2
    return total


def net(outline: Outline) -> float:
    return area(outline.edge) - sum(abs(area(hole)) for hole in outline.holes)


@pytest.mark.parametrize("case", BOARDS)
@pytest.mark.parametrize("kerf", [False, True])
def test_strokes_follow_each_other_and_close(case: str, kerf: bool, board: Callable) -> None:
    _, former = board(BOARDS[case] | {"former.kerf_mm": 0.2})
    outline = outline_of(former, kerf=kerf)
    for contour in (outline.edge, *outline.holes):
        if not isinstance(contour, Round):
            for a, b in pairwise([*contour, contour[0]]):
                assert math.dist(a.end, b.start) < 1e-12
            for stroke in contour:
                if stroke.centre is not None:
                    assert math.dist(stroke.start, stroke.centre) == pytest.approx(math.dist(stroke.end, stroke.centre))


@pytest.mark.parametrize("case", ["open notches", "closed slots", "pins", "diamond"])
def test_every_station_is_the_centre_of_a_round_end(case: str, board: Callable) -> None:
    _, former = board(BOARDS[case])
    outline = outline_of(former, kerf=True)
    centres = {stroke.centre for c in (outline.edge, *outline.holes) if not isinstance(c, Round) for stroke in c}
    centres |= {hole.centre for hole in outline.holes if isinstance(hole, Round)}
    for station in former.stations:
        assert any(math.dist(station.xy_m, centre) < 1e-12 for centre in centres if centre)


def test_area_of_an_open_board_in_closed_form(board: Callable) -> None:
    """Ring less, for each notch, half a circle, a strip to where its walls meet the rim, and the rim's small cap."""
    _, former = board({})
    h, big, small = former.notch_m / 2, former.outer_radius_m, former.hub_radius_m

    def cap(radius: float) -> float:
        half = math.asin(h / radius)
        return radius**2 * (half - math.sin(half) * math.cos(half))

    outer = math.pi * h**2 / 2 + 2 * h * (math.sqrt(big**2 - h**2) - 0.079) + cap(big)
    inner = math.pi * h**2 / 2 + 2 * h * (0.053 - math.sqrt(small**2 - h**2)) - cap(small)
    ring = math.pi * (big**2 - small**2)
    assert net(outline_of(former, kerf=False)) == pytest.approx(ring - 24 * (outer + inner), rel=1e-12)


@pytest.mark.parametrize("case", BOARDS)
def test_kerf_moves_every_line_into_the_waste(case: str, board: Callable) -> None:
    """The saw takes half a kerf off what is left of its line: area grows by kerf/2 times the edge, to first order."""
    kerf = 1e-6
    _, exact = board(BOARDS[case])
    _, cut = board(BOARDS[case] | {"former.kerf_mm": kerf / 1e-3})
    before, after = outline_of(exact, kerf=True), outline_of(cut, kerf=True)
    edge = sum(length(contour) for contour in (before.edge, *before.holes))
    assert net(after) - net(before) == pytest.approx(kerf / 2 * edge, rel=2e-3)
    assert net(outline_of(cut, kerf=False)) == net(before)


def length(contour: Round | tuple[Stroke, ...]) -> float:
    if isinstance(contour, Round):
        return 2 * math.pi * contour.radius
    total = 0.0
    for stroke in contour:
        if stroke.centre is None:
            total += math.dist(stroke.start, stroke.end)
            continue
        (cx, cy), radius = stroke.centre, math.dist(stroke.start, stroke.centre)
        first, last = (math.atan2(y - cy, x - cx) for x, y in (stroke.start, stroke.end))
        total += radius * ((last - first if stroke.left else first - last) % (2 * math.pi))
    return total
