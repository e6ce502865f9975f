"""Steps: every millimetre of wire once, each from where the last one ended."""

import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from fieldrun.design.stack import CROSSED_SHAPES
from fieldrun.generator.machine import read_design
from fieldrun.winding.former import former_of
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import lengths
from fieldrun.winding.shapes import SHAPES
from fieldrun.winding.steps import Step, steps_of


@pytest.fixture
def walked(design_file: Callable) -> Callable:
    def made(changes: dict) -> tuple:
        design = read_design(design_file("hut-charger", changes))
        laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
        former = former_of(design, laid)
        return laid, former, list(steps_of(former, laid))

    return made


CASES = [(shape, 1) for shape in SHAPES] + [(shape, 2) for shape in CROSSED_SHAPES]


@pytest.mark.parametrize(("shape", "belts"), CASES)
def test_steps_add_up_to_the_wire_and_links_to_the_links(shape: str, belts: int, walked: Callable) -> None:
    laid, former, steps = walked({"winding.shape": shape, "winding.belts": belts})
    wire = math.fsum(step.length_m for step in steps if step.way != "link")
    assert wire == pytest.approx(math.fsum(lengths(laid.pieces)), rel=1e-12)
    links = math.fsum(step.length_m for step in steps if step.way == "link")
    assert links == pytest.approx(math.fsum(former.loops.link_m), rel=1e-12)


@pytest.mark.parametrize("shape", ["zigzag", "diamond"])
def test_each_step_starts_where_the_wire_is(shape: str, walked: Callable) -> None:
    _, former, steps = walked({"winding.shape": shape})
    for phase in range(3):
        own = [step for step in steps if former.loops.phase[step.loop] == phase]
        assert all(a.end == b.start for a, b in pairwise(own))
        assert {step.start.phase for step in own} == {phase}


def ways(steps: list[Step], count: int) -> list[str]:
    return [step.way for step in steps[:count]]


def test_ways_and_sheets_of_a_zigzag(walked: Callable) -> None:
    _, _, steps = walked({})
    assert ways(steps, 4) == ["outward", "inward", "outward", "inward"]
    assert [step.sheet for step in steps[:4]] == [2, 1, 2, 1]
    assert steps[16].way == "link"
    assert [step.sheet for step in steps if step.loop == 33][1:3] == [4, 3]


def test_ways_of_a_serpentine(walked: Callable) -> None:
    _, _, steps = walked({"winding.shape": "serpentine"})
    assert ways(steps, 4) == ["outward", "along the outer end", "inward", "along the inner end"]
    assert [step.sheet for step in steps[:4]] == [1, None, 1, None]


def test_ways_of_a_hexagon(walked: Callable) -> None:
    _, _, steps = walked({"winding.shape": "hexagon"})
    assert ways(steps, 6) == ["outward"] * 3 + ["inward"] * 3


def test_ways_between_pins_at_one_radius(walked: Callable, tmp_path: Path) -> None:
    """An arc half way out leads across from pin to pin: 66 mm times 5 degrees."""
    corners = [(53, 0, "line"), (66, 0, "arc"), (66, 5, "line"), (79, 5, "arc"), (79, 15, "line"), (53, 15, "arc")]
    rows = "".join(f"1,{r},{theta},4.5,{edge}\n" for r, theta, edge in corners)
    (tmp_path / "bent.csv").write_text(f"loop,r_mm,theta_deg,z_mm,edge\n{rows}1,53,0,4.5,\n")
    changes = {"winding.shape": "path", "winding.file": "bent.csv", "winding.phases": 1}
    keys = ("layers", "inner_radius_mm", "outer_radius_mm", "rounds")
    _, _, steps = walked(changes | {f"winding.{key}": None for key in keys})
    assert ways(steps, 6) == ["outward", "across", "outward", "along the outer end", "inward", "along the inner end"]
    assert steps[1].length_m == pytest.approx(0.066 * math.radians(5), rel=1e-12)
    assert steps[1].sheet is None
