"""A bundle twisted at home: arithmetic that can be done on the bench, and laws that hold for any bench."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.making import Cutting
from fieldrun.design.model import Winding
from fieldrun.design.wire import lay_factor, litz_wire, solid_wire
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import lengths
from fieldrun.winding.twisting import Joint, twisting

P = 8
BARE = Cutting(tail_m=0.0, spare=0.0)
WINDING = Winding("zigzag", 0.053, 0.079, 3, 14, 2, 0.004)


def bundle(bench_m=6.0, **keys):
    return litz_wire(0.2e-3, 12, lay_m=0.014, bench_m=bench_m, **keys)


def plan(bench_m=6.0, winding=WINDING, cutting=BARE):
    wire = bundle(bench_m)
    return twisting(lay(winding, P, wire), winding, wire, cutting)


def round_m(winding=WINDING):
    laid = lay(winding, P, bundle())
    return float(lengths(laid.pieces).sum()) / 3 / laid.rounds_per_phase


def test_a_piece_by_hand():
    """Twelve strands of 0.2 mm, 0.226 over the enamel, make a bundle of 1.27 sqrt 12 x 0.226 = 0.994 mm.

    The outermost runs sqrt(1 + (pi 0.994 / 14)^2) = 1.0246 times as far as the bundle, all of them 1.0123 times.
    """
    found = plan()
    assert found.piece_m == pytest.approx(6 / 1.0123, rel=1e-4)
    assert found.drill_turns == 423  # 5.927 m of 14 mm
    assert (found.passes, found.bench_m) == (12, 6.0)
    assert found.wire_per_piece_m == pytest.approx(72)


def test_strands_keep_their_length_when_twisted():
    found = plan()
    assert found.piece_m * lay_factor(bundle().overall_diameter_m, 0.014) == pytest.approx(6.0)


def test_tails_and_spare():
    plain, cut = plan(), plan(cutting=Cutting(0.2, 0.1))
    assert plain.usable_m == plain.piece_m == cut.piece_m
    assert cut.usable_m == pytest.approx(plain.usable_m - 0.4)
    assert cut.wire_per_piece_m == pytest.approx(1.1 * plain.wire_per_piece_m)


def test_a_serving_does_not_count_among_the_strands():
    served, winding = bundle(serving_m=0.1e-3), replace(WINDING, rounds=12)
    assert served.overall_diameter_m > bundle().overall_diameter_m
    assert twisting(lay(winding, P, served), winding, served, BARE).piece_m == pytest.approx(plan().piece_m)


@pytest.mark.parametrize(("rounds", "after"), [(14.5, []), (7.01, [7]), (6.99, [6, 12]), (1.5, [*range(1, 14)])])
def test_pieces_are_joined_after_whole_rounds(rounds, after):
    found = plan(rounds * round_m() * bundle().length_factor)
    assert found.joints == tuple(Joint(done, 0) for done in after)
    assert found.pieces_per_phase == len(after) + 1
    assert found.rounds_per_piece == min(math.floor(rounds), 14)
    assert found.wire_m == pytest.approx(3 * found.pieces_per_phase * found.wire_per_piece_m)
    assert not found.joints_in_legs


def test_a_piece_that_is_just_long_enough_is_enough():
    found = plan(7 * round_m() * bundle().length_factor)
    assert (found.rounds_per_piece, found.pieces_per_phase) == (7, 2)


def test_short_pieces_are_joined_after_turns():
    found = plan(0.4 * round_m() * bundle().length_factor)  # 3.2 turns of 8
    assert found.rounds_per_piece == 0
    assert found.joints[:4] == (Joint(0, 3), Joint(0, 6), Joint(1, 1), Joint(1, 4))
    assert found.pieces_per_phase == math.ceil(14 * 8 / 3)
    assert not found.joints_in_legs


def test_a_bench_of_less_than_a_turn_is_told():
    turn = round_m() / 8
    found = plan(0.9 * turn * bundle().length_factor)
    assert found.joints_in_legs
    assert found.joints == ()
    assert found.pieces_per_phase == math.ceil(14 * 8 / 0.9)


def test_the_pieces_of_a_path_are_joined_after_its_rounds(tmp_path):
    rows = "1,53,0,4,line\n1,79,11.25,4,line\n1,79,33.75,4,line\n1,53,45,4,line\n1,53,0,4,\n"
    file = tmp_path / "path.csv"
    file.write_text("loop,r_mm,theta_deg,z_mm,edge\n" + rows)
    path = Winding("path", None, None, 3, 6, 1, 0.0, file=str(file), step_rad=math.radians(1))
    wire = bundle(0.1)
    laid = lay(path, P, wire)
    phase = float(lengths(laid.pieces).sum()) / 3
    found = twisting(laid, path, replace(wire, bench_m=phase * wire.length_factor), BARE)
    assert found.pieces_per_phase == 1
    assert found.rounds_per_piece == laid.rounds_per_phase


@pytest.mark.parametrize("wire", [solid_wire(0.5e-3), litz_wire(0.2e-3, 12, lay_m=0.014), litz_wire(0.2e-3, 12)])
def test_nothing_is_planned_without_a_bench(wire):
    assert twisting(lay(WINDING, P, wire), WINDING, wire, BARE) is None


def test_tails_that_eat_the_piece_are_refused():
    with pytest.raises(ValueError, match=r"leaves nothing between two tails of 0.15 m"):
        plan(0.3, cutting=Cutting())


@settings(derandomize=True, max_examples=60, deadline=None)
@given(bench=st.floats(0.5, 60), tail=st.floats(0, 0.2))
def test_pieces_hold_the_phase_and_none_of_them_is_needless(bench, tail):
    found = plan(bench, cutting=Cutting(tail, 0.05))
    ends = [0.0, *(joint.rounds + joint.turns / P for joint in found.joints), 14.0]
    longest = max(b - a for a, b in pairwise(ends)) * round_m()
    assert found.joints_in_legs or longest <= found.usable_m * (1 + 1e-8)
    assert found.pieces_per_phase * found.usable_m >= 14 * round_m() * (1 - 1e-8)
    assert found.joints_in_legs or found.pieces_per_phase == len(found.joints) + 1
