"""Bundles of end arcs, counted by hand where that can be done."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.winding.ends import end_bundles
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, Pieces

WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
BASE = Winding("serpentine", 0.060, 0.110, 1, None, 2, 0.005)


def arcs(*spans: tuple[float, float]) -> Pieces:
    start = np.array([[0.05, a, 0.0] for a, _ in spans])
    end = np.array([[0.05, b, 0.0] for _, b in spans])
    count = np.arange(len(spans))
    return Pieces(np.full(len(spans), ARC), start, end, 0 * count, count)


@pytest.mark.parametrize(
    ("spans", "wires"),
    [
        ([(0.0, 1.0), (2.0, 3.0)], 1),
        ([(0.0, 1.0), (1.0, 2.0)], 1),
        ([(0.0, 1.0), (0.5, 2.0), (0.7, 0.6)], 3),
        ([(-0.5, 0.5), (0.2, 0.4)], 2),
        ([(6.0, 7.0), (0.1, 0.3)], 2),
        ([(7.0, 6.0), (0.1, 0.3), (2.0, 2.1)], 2),
        ([(0.0, 4 * math.pi), (1.0, 2.0)], 3),
    ],
)
def test_most_arcs_that_pass_one_angle(spans: list[tuple[float, float]], wires: int) -> None:
    assert end_bundles(arcs(*spans), 0.001)[0].wires == wires


@pytest.mark.parametrize(("wires", "rows"), [(1, 1), (4, 2), (5, 3), (9, 3), (10, 4)])
def test_a_bundle_is_as_high_as_it_is_wide(wires: int, rows: int) -> None:
    bundle = end_bundles(arcs(*[(0.0, 1.0)] * wires), 0.001)[0]
    assert bundle.height_m == pytest.approx(rows * 0.001)


def test_one_phase_of_a_serpentine_passes_every_arc_of_its_belt_together() -> None:
    laid = lay(BASE, 8, WIRE)
    assert [bundle.radius_m for bundle in laid.end_bundles] == [0.060, 0.110]
    assert [bundle.wires for bundle in laid.end_bundles] == [laid.rounds_per_phase] * 2


def test_three_phases_of_a_serpentine_overlap_two_by_two_at_least() -> None:
    laid = lay(replace(BASE, phases=3), 8, WIRE)
    assert laid.end_bundle is not None
    # each phase's arcs cover half of each circle, turned by a third of the whole
    assert laid.end_bundle.wires == 2 * laid.rounds_per_phase


@pytest.mark.parametrize("shape", ["zigzag", "diamond", "hexagon"])
def test_shapes_with_tips_have_no_bundle(shape: str) -> None:
    laid = lay(replace(BASE, shape=shape), 8, WIRE)
    assert laid.end_bundles == ()
    assert laid.end_bundle is None


def test_a_zigzag_with_arcs_has_bundles_that_thin_out_with_its_span() -> None:
    wide, narrow = (lay(replace(BASE, shape="zigzag", span=s, phases=3), 8, WIRE) for s in (0.9, 0.4))
    assert wide.end_bundle is not None
    assert narrow.end_bundle is not None
    assert wide.end_bundle.wires / wide.rounds_per_phase < narrow.end_bundle.wires / narrow.rounds_per_phase
