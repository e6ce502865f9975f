"""Paths of the user's own: every fault with its line, and the round trip of what fieldrun writes itself."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import MOST_FAULTS, read_paths, write_paths
from fieldrun.winding.pieces import ARC, EDGE_NAMES, LINE, SPIRAL, Pieces

HEAD = "loop,phase,r_mm,theta_deg,z_mm,edge\n"
BARE = "loop,r_mm,theta_deg,z_mm,edge\n"
TURN = "1,60,0,4,line\n1,110,0,4,arc\n1,110,20,4,spiral\n1,60,25,4,arc\n1,60,0,4,\n"


def read(tmp_path: Path, text: str, phases: int = 1) -> list[str]:
    file = tmp_path / "own.csv"
    file.write_text(text, encoding="utf-8")
    found, faults = read_paths(file, phases)
    assert (found is None) == bool(faults)
    assert all(fault.file == str(file) for fault in faults if fault.line)
    return [str(replace(fault, file="own.csv" if fault.line else "")) for fault in faults]


def test_a_turn_is_read_as_written(tmp_path: Path) -> None:
    file = tmp_path / "own.csv"
    file.write_text(BARE + TURN, encoding="utf-8")
    found, faults = read_paths(file, 3)
    assert faults == []
    assert found is not None
    assert not found.phased
    assert found.pieces.kind.tolist() == [LINE, ARC, SPIRAL, ARC]
    np.testing.assert_allclose(found.pieces.start[2], [0.110, math.radians(20), 0.004], rtol=1e-15)
    np.testing.assert_allclose(found.pieces.end[2], [0.060, math.radians(25), 0.004], rtol=1e-15)
    assert set(found.pieces.phase) == {0}
    assert set(found.pieces.loop) == {0}


def test_a_loop_may_close_whole_turns_apart(tmp_path: Path) -> None:
    assert read(tmp_path, BARE + "1,60,0,4,arc\n1,60,200,4,arc\n1,60,720,4,\n") == []


def test_an_excess_of_spaces_and_a_byte_order_mark_do_no_harm(tmp_path: Path) -> None:
    assert read(tmp_path, "\ufeff" + BARE + TURN.replace(",", " , ")) == []


@pytest.mark.parametrize(
    ("rows", "fault"),
    [
        ("1,60,0,4,line\n", "2: loop: loop 1 has a single corner; it must return to its first one"),
        (
            "1,60,0,4,line\n1,110,0,4,arc\n1,110,20,4,line\n",
            "4: edge: loop 1 does not end: its last row must be its first corner again, with an empty edge",
        ),
        (
            "1,60,0,4,line\n1,110,0,4,line\n1,60.5,3,5,\n",
            "4: loop: loop 1 is not closed: it ends 0.5 mm in radius, 3 degrees, 1 mm in height from its first corner",
        ),
        (
            "1,60,0,4,line\n1,110,0.4,4,line\n1,60,6.2831853,4,\n",
            (
                "4: loop: loop 1 is not closed: it ends 6.283 degrees from its first corner; "
                "is theta_deg in radians? it is in degrees"
            ),
        ),
        (
            "1,60,0,4,line\n1,110,0,4,\n1,60,0,4,\n",
            "3: edge: empty in the middle of a loop; only its last row, the first corner again, has no edge",
        ),
        ("1,60,0,4,line\n1,nan,0,4,line\n1,60,0,4,\n", '3: r_mm: must be a finite number; received "nan"'),
        (
            "1,60,0,4,line\n1,110,east,4,line\n1,60,0,4,\n",
            '3: theta_deg: must be a number such as 54.5; received "east"',
        ),
        ("1,60,0,4,line\n1,-110,0,4,line\n1,60,0,4,\n", '3: r_mm: must be above 0; received "-110"'),
        ("1,60,0,4,line\n1,0,0,4,line\n1,60,0,4,\n", '3: r_mm: must be above 0; received "0"'),
        (
            "1,60,0,4,lines\n1,110,0,4,line\n1,60,0,4,\n",
            '2: edge: must be "line", "arc" or "spiral", probably line, or empty where a loop ends; received "lines"',
        ),
        (
            "1,60,0,4,freehand\n1,110,0,4,line\n1,60,0,4,\n",
            '2: edge: must be "line", "arc" or "spiral", or empty where a loop ends; received "freehand"',
        ),
        ("one,60,0,4,line\n", '2: loop: must be a whole number from 1; received "one"'),
        (
            "1,60,0,4,arc\n1,110,0,4,line\n1,60,0,4,\n",
            "2: edge: an arc keeps its radius; it goes from 60 to 110 mm, is it a spiral?",
        ),
        (
            "1,60,350,4,line\n1,110,5,4,arc\n1,110,355,4,line\n1,60,350,4,\n",
            (
                "3: theta_deg: the line from line 2 turns -345 degrees, and a straight line turns less than half a "
                "turn; angles are never wrapped: is it 365?"
            ),
        ),
        (
            "1,60,0,4,line\n1,110,0,4,spiral\n1,60,7200,4,\n",
            (
                "4: theta_deg: the spiral from line 3 turns 7200 degrees; one edge goes round ten times at most, put "
                "corners between"
            ),
        ),
        (
            "1,60,0,4,line\n1,110,0,4,arc\n1,110,99999999999999999999,4,line\n1,60,0,4,\n",
            '4: theta_deg: must be within 1000000 degrees of zero; received "99999999999999999999"',
        ),
        (
            "1,60,0,4,line\n1,110,180,4,arc\n1,110,0,4,line\n1,60,0,4,\n",
            "3: theta_deg: the line from line 2 passes through the axis: it turns 180 degrees",
        ),
        (
            "1,60,0,4,line\n1,110,179,4,arc\n1,110,0,4,line\n1,60,0,4,\n",
            "3: theta_deg: the line from line 2 passes 0.678 mm from the axis, inside any shaft",
        ),
        (
            "1,60,0,4,line\n1,60,0,4,line\n1,110,0,4,line\n1,60,0,4,\n",
            "2: edge: leads to the same corner again; leave one of the two rows out",
        ),
        (
            "1,0.06,0,4,line\n1,0.11,0,4,arc\n1,0.11,9,4,line\n1,0.06,0,4,\n",
            "2: r_mm: 0.06 mm is inside any shaft; is it in metres? write 60 (and 3 more rows like it)",
        ),
        (
            (
                "1,60,0,4,line\n1,110,0,4,line\n1,60,0,4,\n2,60,5,4,line\n2,110,5,4,line\n2,60,5,4,\n"
                "1,60,9,4,line\n1,110,9,4,line\n1,60,9,4,\n"
            ),
            "8: loop: loop 1 was there before; the rows of a loop stand together",
        ),
    ],
)
def test_faults_come_with_their_line(tmp_path: Path, rows: str, fault: str) -> None:
    assert read(tmp_path, BARE + rows) == [f"own.csv:{fault}"]


def test_all_faults_come_at_once_in_the_order_of_the_lines(tmp_path: Path) -> None:
    text = HEAD + "1,1,60,0,4,lime\n1,1,110,0,x,arc\n2,2,60,0,4,line\n2,2,110,200,4,line\n2,2,61,0,4,\n3,9,0,0,4,line\n"
    places = [":".join(fault.split(":")[1:3]) for fault in read(tmp_path, text, 3)]
    assert places == ["2: edge", "3: z_mm", "5: theta_deg", "6: theta_deg", "6: loop", "7: phase", "7: r_mm"]


@pytest.mark.parametrize(
    ("rows", "phases", "fault"),
    [
        (
            "1,1,60,0,4,line\n1,2,110,0,4,line\n1,1,60,0,4,\n",
            1,
            'own.csv:3: phase: must be a whole number from 1 to 1; received "2"',
        ),
        (
            "1,1,60,0,4,line\n1,2,110,0,4,line\n1,1,60,0,4,\n",
            2,
            "own.csv:3: phase: loop 1 began in phase 1; received 2",
        ),
        (
            "1,1,60,0,4,line\n1,1,110,0,4,line\n1,1,60,0,4,\n",
            2,
            "phase: phase 2 has no loop, and the design has 2 phases",
        ),
    ],
)
def test_faults_of_phases(tmp_path: Path, rows: str, phases: int, fault: str) -> None:
    assert fault in read(tmp_path, HEAD + rows, phases)


def test_a_file_that_is_wrong_as_a_whole_is_not_told_to_the_end(tmp_path: Path) -> None:
    faults = read(tmp_path, BARE + "1,60,0,4,curve\n" * 100)
    assert len(faults) == MOST_FAULTS + 1
    assert faults[-1] == f"and {100 - MOST_FAULTS} more faults like these"


def test_a_file_is_read_never_run(tmp_path: Path) -> None:
    faults = read(tmp_path, BARE + '1,__import__("os").getcwd(),0,4,line\n')
    assert len(faults) == 1
    assert "r_mm: must be a number" in faults[0]


def same(one: Pieces, other: Pieces) -> None:
    for name in ("kind", "phase", "loop"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    np.testing.assert_allclose(one.start, other.start, rtol=1e-13, atol=1e-15)
    np.testing.assert_allclose(one.end, other.end, rtol=1e-13, atol=1e-15)


@pytest.mark.parametrize("leg", ["chord", "spiral"])
@pytest.mark.parametrize("shape", NAMED_SHAPES)
def test_what_a_run_writes_is_read_back_as_the_same_conductors(tmp_path: Path, shape: str, leg: str) -> None:
    wire = Wire("solid", 0.8e-3, 1, 0.86e-3)
    winding = Winding(
        shape, 0.060, 0.110, 3, None, 2, 0.005, leg=leg, start_rad=0.2, span=0.9 if shape == "zigzag" else 1
    )
    laid = lay(winding, 8, wire)
    write_paths(tmp_path / "paths.csv", laid.pieces, ["version 1", "design abc"])
    assert (tmp_path / "paths.csv").read_text(encoding="utf-8").startswith("# version 1\n# design abc\n" + HEAD)
    own = Winding("path", None, None, 3, None, 1, 0.0, file=str(tmp_path / "paths.csv"))
    again = lay(own, 8, wire)
    same(again.pieces, laid.pieces)
    assert again.rounds_per_phase == laid.rounds_per_phase
    assert again.sheets == laid.sheets
    assert again.thickness_m == pytest.approx(laid.thickness_m, rel=1e-12)
    assert [b.wires for b in again.end_bundles] == [b.wires for b in laid.end_bundles]


@st.composite
def loops(draw: st.DrawFn) -> Pieces:
    """One to three closed loops of random corners, joined by random kinds of edges."""
    rows: list[tuple[int, list[float], list[float], int]] = []
    for loop in range(draw(st.integers(1, 3))):
        corners = draw(
            st.lists(st.tuples(st.floats(0.01, 0.3), st.floats(-9, 9), st.floats(0, 0.02)), min_size=2, max_size=6)
        )
        for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
            kinds = [SPIRAL] + [LINE] * (abs(end[1] - start[1]) < 2.5) + [ARC] * (start[0] == end[0])
            rows.append((draw(st.sampled_from(kinds)), list(start), list(end), loop))
    kind, start, end, loop = zip(*rows, strict=True)
    return Pieces(np.array(kind), np.array(start), np.array(end), np.zeros(len(kind)), np.array(loop))


@settings(derandomize=True, max_examples=40, deadline=None)
@given(loops())
def test_any_closed_loops_survive_the_round_trip(tmp_path_factory: pytest.TempPathFactory, pieces: Pieces) -> None:
    near = np.all(np.abs(pieces.start - pieces.end) < 1e-9, axis=1)
    standing = np.all(pieces.start == pieces.end, axis=1)
    assume(np.array_equal(near, standing))  # between the two the file's digits decide
    file = tmp_path_factory.getbasetemp() / "loops.csv"
    write_paths(file, pieces)
    found, faults = read_paths(file, 1)
    if np.any(standing):
        assert found is None
        assert all("leads to the same corner" in fault.text for fault in faults)
    else:
        assert found is not None, [str(fault) for fault in faults]
        same(found.pieces, pieces)


def test_edges_are_spelt_as_in_the_file() -> None:
    assert [EDGE_NAMES[kind] for kind in (LINE, ARC, SPIRAL)] == ["line", "arc", "spiral"]
