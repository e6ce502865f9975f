"""A walk from notch to notch: the same conductors as the named shape it describes, and every slip named."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.winding.lay import lay
from fieldrun.winding.notch_list import read_notches
from fieldrun.winding.pieces import ARC, LINE, SPIRAL

P = 8
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)
OWN = Winding("path", 0.060, 0.110, 1, None, 1, 0.005, inner_notches=P, outer_notches=P)
NAMED = Winding("zigzag", 0.060, 0.110, 1, 1, 1, 0.005)
HEAD = "step,end,notch\n"


def walk(stops: list[tuple[str, int]]) -> str:
    return HEAD + "".join(f"{i},{end},{notch}\n" for i, (end, notch) in enumerate(stops, start=1))


def read(tmp_path: Path, text: str, winding: Winding = OWN) -> list[str]:
    file = tmp_path / "walk.csv"
    file.write_text(text, encoding="utf-8")
    pieces, faults = read_notches(file, winding, (0.004, 0.006))
    assert (pieces is None) == bool(faults)
    return [str(replace(fault, file="walk.csv" if fault.line else "")) for fault in faults]


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_in_and_out_by_turns_is_a_zigzag(tmp_path: Path, leg: str) -> None:
    """Inner notches at 0, 45, ... and outer ones half way: with 2 p outer notches, every second one from the second."""
    stops = [stop for k in range(P) for stop in (("in", k + 1), ("out", 2 * k + 2))]
    (tmp_path / "walk.csv").write_text(walk(stops), encoding="utf-8")
    own = replace(OWN, leg=leg, outer_notches=2 * P, file="walk.csv", start_rad=-math.pi / P / 2)
    found, named = lay(own, P, WIRE, tmp_path), lay(replace(NAMED, leg=leg), P, WIRE)
    np.testing.assert_array_equal(found.pieces.kind, named.pieces.kind)
    np.testing.assert_allclose(found.pieces.start, named.pieces.start, atol=1e-14)
    np.testing.assert_allclose(found.pieces.end, named.pieces.end, atol=1e-14)
    assert found.rounds_per_phase == 1
    assert found.thickness_m == pytest.approx(named.thickness_m)


def test_steps_along_one_end_are_arcs_the_short_way_round(tmp_path: Path) -> None:
    (tmp_path / "walk.csv").write_text(walk([("in", 1), ("out", 1), ("out", 8), ("in", 8)]), encoding="utf-8")
    pieces, _ = read_notches(tmp_path / "walk.csv", OWN, (0.004, 0.006))
    assert pieces is not None
    assert pieces.kind.tolist() == [LINE, ARC, LINE, ARC]
    np.testing.assert_allclose(pieces.end[:, 1] - pieces.start[:, 1], [0, -math.pi / 4, 0, math.pi / 4], atol=1e-15)
    # out-leg above, in-leg below, the change along the arcs
    assert pieces.start[:, 2].tolist() == [0.006, 0.006, 0.004, 0.004]


def test_the_walk_returns_by_itself_and_may_say_so(tmp_path: Path) -> None:
    stops = [("in", 1), ("out", 1), ("out", 2), ("in", 2)]
    both = []
    for given in (stops, [*stops, stops[0]]):
        (tmp_path / "walk.csv").write_text(walk(given), encoding="utf-8")
        both.append(read_notches(tmp_path / "walk.csv", OWN, (0.004, 0.006))[0])
    assert both[0] is not None
    assert both[1] is not None
    np.testing.assert_array_equal(both[0].end, both[1].end)


def test_spiral_legs_on_request(tmp_path: Path) -> None:
    (tmp_path / "walk.csv").write_text(walk([("in", 1), ("out", 2)]), encoding="utf-8")
    pieces, _ = read_notches(tmp_path / "walk.csv", replace(OWN, leg="spiral"), (0.004, 0.006))
    assert pieces is not None
    assert set(pieces.kind) == {SPIRAL, LINE}  # lines: the steps from sheet to sheet at the tips


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        (walk([("in", 1)]), ["walk.csv:2: notch: a walk needs at least two notches"]),
        (walk([("in", 9), ("out", 1)]), ['walk.csv:2: notch: must be a whole number from 1 to 8; received "9"']),
        (HEAD + "1,inside,1\n2,out,1\n", ['walk.csv:2: end: must be "in" or "out"; received "inside"']),
        (
            HEAD + "1,in,1\n3,out,1\n",
            ["walk.csv:3: step: steps count 1, 2, 3 ...; this must be 2; received 3"],
        ),
        (
            walk([("in", 1), ("in", 5), ("out", 5), ("out", 1)]),
            [
                f"walk.csv:{line}: notch: from {way} is half a turn and has no short way round; name one between"
                for line, way in ((2, "in 1 to in 5"), (4, "out 5 to out 1"))
            ],
        ),
        (
            walk([("in", 1), ("out", 1), ("out", 1), ("in", 2)]),
            ["walk.csv:3: notch: from out 1 to out 1 leads nowhere; leave one of the two rows out"],
        ),
        (
            walk([("in", 1), ("out", 3)]),
            [
                f'walk.csv:{line}: notch: from {way} degrees: the straight leg would cross the hub; try leg = "spiral"'
                for line, way in ((2, "in 1 to out 3 turns 90"), (3, "out 3 to in 1 turns -90"))
            ],
        ),
        (
            "step,end,hole\n1,in,1\n",
            [
                'walk.csv:1: unknown column "hole"; the columns are step,end,notch',
                "walk.csv:1: column notch is missing",
            ],
        ),
    ],
)
def test_faults_come_with_their_line(tmp_path: Path, text: str, faults: list[str]) -> None:
    assert read(tmp_path, text) == faults


@pytest.mark.parametrize("key", ["inner_radius_m", "outer_radius_m", "inner_notches", "outer_notches"])
def test_a_notch_list_needs_its_circles(tmp_path: Path, key: str) -> None:
    found = read(tmp_path, walk([("in", 1), ("out", 1)]), replace(OWN, **{key: None}))
    assert found == [
        f"winding.{key.replace('_m', '_mm') if key.endswith('_m') else key}: missing; a notch list needs it"
    ]
