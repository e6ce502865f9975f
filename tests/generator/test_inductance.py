"""Inductance of whole windings: against a sum over points that knows nothing of combs and closed forms, and by laws."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Disc, Magnets, Plate, Rotor, SteelCurve, Winding, Wire
from fieldrun.design.wire import litz_wire
from fieldrun.generator.inductance import Inductance, copper_radius_m, inductance, neumann_matrix
from fieldrun.generator.inductance_remarks import LEFT_OUT, TAKEN, inductance_assumptions, inductance_warnings
from fieldrun.generator.mirrors import NO_STEEL, Plates, images, plates_of
from fieldrun.winding import neumann_sum
from fieldrun.winding.lay import lay
from fieldrun.winding.path_file import read_paths, write_paths
from fieldrun.winding.pieces import Pieces, lengths, points_along
from fieldrun.winding.sampling import selected

P = 4
WIRE = Wire("solid", 0.9e-3, 1, 1.0e-3)
BASE = Winding("zigzag", 0.05, 0.08, 3, 1, 1, 0.006)
MAGNETS = Magnets(Disc(0.02, 0.065), 2 * P, 0.006, 1.3, 1.05, 7500.0)
STEEL = Plate(SteelCurve("mild", (0.0, 1.0), (0.0, 100.0)), 0.006)
ROTOR = Rotor(2, 0.012, STEEL, None, 0.045, 0.085)
MU0_4PI = 1e-7


def points(pieces, step):
    """Fine points along conductors: xyz (k, 3) and steps (k, 3)."""
    rough = xyz(points_along(pieces, np.tile(np.linspace(0, 1, 9), (pieces.count, 1))))
    counts = np.maximum(2, np.ceil(np.linalg.norm(np.diff(rough, axis=1), axis=2).sum(axis=1) / step).astype(int))
    parts = []
    for count in np.unique(counts):
        alike = selected(pieces, np.flatnonzero(counts == count))
        ends = xyz(points_along(alike, np.tile(np.linspace(0, 1, count + 1), (alike.count, 1))))
        parts.append((((ends[:, 1:] + ends[:, :-1]) / 2).reshape(-1, 3), np.diff(ends, axis=1).reshape(-1, 3)))
    return tuple(np.concatenate(part) for part in zip(*parts, strict=True))


def xyz(polar):
    radius, angle, height = np.moveaxis(polar, -1, 0)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=-1)


def by_points(a, b, step, guard=0.0):
    """Neumann's integral as a double sum over points [m]; `guard` keeps a wire off itself."""
    (p, dp), (q, dq) = points(a, step), points(b, step)
    total = 0.0
    for rows in np.array_split(np.arange(len(p)), max(1, len(p) * len(q) // 2_000_000)):
        square = np.sum((p[rows, None] - q) ** 2, axis=2)
        total += np.sum((dp[rows] @ dq.T) / np.sqrt(square + guard**2))
    return total


def first_pair(pieces):
    """The pieces over one pair of poles; every other pair must hold the same ones, turned."""
    turn = 2 * np.pi / P
    middle = (pieces.start[:, 1] + pieces.end[:, 1]) / 2 - 0.0123  # no piece lies on a border
    cell = np.floor(middle % (2 * np.pi) / turn)
    ends = np.column_stack([pieces.kind, pieces.start, pieces.end])
    ends[:, [2, 5]] = np.column_stack([middle % turn, pieces.end[:, 1] - pieces.start[:, 1]])
    cells = [ends[cell == k] for k in range(P)]
    first, *others = [part[np.lexsort(np.round(part, 7).T)] for part in cells]
    assert all(np.allclose(other, first, rtol=0, atol=1e-9) for other in others)
    return selected(pieces, np.flatnonzero(cell == 0))


def by_pair(a, b, step, guard=0.0):
    """`by_points` of windings that repeat in every pair of poles: the first pair of one with the whole other."""
    return P * by_points(first_pair(a), b, step, guard)


def phase(pieces, number):
    return selected(pieces, np.flatnonzero(pieces.phase == number))


def moved(pieces, by):
    return Pieces(pieces.kind, pieces.start + by, pieces.end + by, pieces.phase, pieces.loop)


def mirrored(pieces, sign, shift):
    lifted = [np.column_stack([part[:, :2], sign * part[:, 2] + shift]) for part in (pieces.start, pieces.end)]
    return Pieces(pieces.kind, *lifted, pieces.phase, pieces.loop)


SHAPES = [
    BASE,
    replace(BASE, rounds=4, layers=2),
    replace(BASE, leg="spiral"),
    replace(BASE, span=0.5, rounds=2, belts=2),
    replace(BASE, shape="serpentine"),
    replace(BASE, shape="rhomboid"),
    replace(BASE, shape="diamond"),
    replace(BASE, shape="hexagon", phases=2),
]


@pytest.mark.parametrize("winding", SHAPES, ids=lambda w: f"{w.shape}-{w.leg}-{w.rounds}")
def test_mutual_inductance_is_the_sum_over_points(winding):
    """Phases are lifted apart, because arcs are drawn on one circle, where points would fall on each other."""
    laid = lay(winding, P, WIRE).pieces
    pieces = moved(laid, 4e-3 * laid.phase[:, None] * [0, 0, 1])
    found = neumann_matrix(pieces, WIRE, winding.phases, P)
    wanted = by_pair(phase(pieces, 0), phase(pieces, 1), 0.7e-3)
    assert found[0, 1] == pytest.approx(wanted, rel=2e-3, abs=5e-4 * found[0, 0])


def test_mutual_inductance_in_one_sheet_is_the_sum_over_points():
    pieces = lay(SHAPES[1], P, WIRE).pieces
    wanted = by_pair(phase(pieces, 0), phase(pieces, 1), 0.3e-3)
    assert neumann_matrix(pieces, WIRE, 3, P)[0, 1] == pytest.approx(wanted, rel=5e-3)


@pytest.mark.parametrize("winding", SHAPES[:2], ids=["one round", "four rounds"])
def test_self_inductance_is_the_sum_over_points_a_mean_distance_apart(winding):
    """Points of one wire are taken a exp(-1/4) apart, the mean distance within its round section."""
    pieces = phase(lay(winding, P, WIRE).pieces, 0)
    found = neumann_matrix(pieces, WIRE, 1, P)[0, 0]
    guard = copper_radius_m(WIRE) * np.exp(-1 / 4)
    # wires some diameters apart feel next to nothing of the guard, which shows in every pair: 0.3 % of a round's own
    alone = [selected(pieces, np.flatnonzero(pieces.loop == number)) for number in np.unique(pieces.loop)]
    own = sum(by_pair(loop, loop, guard / 3, guard) for loop in alone)
    others = sum(by_pair(a, b, 0.4e-3) for a in alone for b in alone if a is not b)
    assert found == pytest.approx(own + others, rel=0.01)


@pytest.mark.parametrize("mirrors", [(0.0,), (0.014,), (-0.006, 0.018)])
@pytest.mark.parametrize("winding", [replace(BASE, rounds=2, layers=2), SHAPES[4]], ids=["zigzag", "serpentine"])
def test_images_thinned_out_are_the_images_one_by_one(winding, mirrors):
    pieces = lay(winding, P, WIRE).pieces
    plates = Plates(mirrors)
    found = neumann_matrix(pieces, WIRE, 3, P, plates) - neumann_matrix(pieces, WIRE, 3, P)
    row = images(plates, 0.006, 5.0)  # what lies beyond makes 0.02 %
    for other in (0, 1):
        wanted = sum(
            by_pair(phase(pieces, 0), mirrored(phase(pieces, other), image.sign, image.shift_m), coarse(image))
            for image in row
        )
        assert found[0, other] == pytest.approx(wanted, rel=2e-3, abs=5e-4 * found[0, 0])


def coarse(image):
    """Points so dense as a wire so far away can tell."""
    return max(2.5e-3, abs(image.sign * 0.006 + image.shift_m - 0.006) / 40)


@pytest.mark.parametrize("winding", SHAPES, ids=lambda w: f"{w.shape}-{w.leg}-{w.rounds}")
@pytest.mark.parametrize("rotor", [ROTOR, replace(ROTOR, backing=None)], ids=["steel", "air"])
def test_the_matrix_is_symmetric_and_energy_positive(winding, rotor):
    found = inductance(lay(winding, P, WIRE), WIRE, winding, MAGNETS, rotor)
    assert found.matrix_h == pytest.approx(found.matrix_h.T, rel=1e-12)
    assert np.linalg.eigvalsh(found.matrix_h).min() > 0


def uneven(pieces):
    """No phase is the turn of another any more, and nothing repeats: a millionth of a radian here and there."""
    return moved(pieces, 1e-6 * np.sin(np.arange(pieces.count) * 1.7)[:, None] * [0, 1, 0])


@pytest.mark.parametrize("plates", [NO_STEEL, Plates((-0.006, 0.018))], ids=["air", "steel"])
def test_turned_copies_only_save_time(plates):
    pieces = lay(SHAPES[4], P, WIRE).pieces
    quick, slow = (neumann_matrix(p, WIRE, 3, P, plates) for p in (pieces, uneven(pieces)))
    assert slow == pytest.approx(quick, rel=2e-3)
    assert not np.array_equal(slow, quick)


def test_a_winding_turned_as_a_whole_is_the_same():
    pieces = lay(SHAPES[1], P, WIRE).pieces
    turned = moved(pieces, np.array([0, 1.1, 0]))
    plates = plates_of(MAGNETS, ROTOR)
    wanted = neumann_matrix(pieces, WIRE, 3, P, plates)
    assert neumann_matrix(turned, WIRE, 3, P, plates) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("winding", [SHAPES[1], SHAPES[4]], ids=["zigzag", "serpentine"])
def test_a_winding_read_back_from_its_file_is_the_same(winding, tmp_path):
    pieces, plates = lay(winding, P, WIRE).pieces, plates_of(MAGNETS, ROTOR)
    write_paths(tmp_path / "paths.csv", pieces)
    again, faults = read_paths(tmp_path / "paths.csv", 3)
    assert faults == []
    wanted = neumann_matrix(pieces, WIRE, 3, P, plates)
    assert neumann_matrix(again.pieces, WIRE, 3, P, plates) == pytest.approx(wanted, rel=1e-9)


def test_pieces_of_no_length_are_nothing():
    pieces = lay(BASE, P, WIRE).pieces
    stub = Pieces(
        *(
            np.insert(getattr(pieces, n), 1, getattr(pieces, n)[0], axis=0)
            for n in ("kind", "start", "end", "phase", "loop")
        )
    )
    end = stub.end.copy()
    end[1] = stub.start[1]
    stub = Pieces(stub.kind, stub.start, end, stub.phase, stub.loop)
    assert neumann_matrix(stub, WIRE, 3, P) == pytest.approx(neumann_matrix(pieces, WIRE, 3, P), rel=1e-12)


def test_running_a_phase_backwards_changes_the_sign_of_its_coupling_only():
    pieces = lay(SHAPES[1], P, WIRE).pieces
    back = pieces.phase == 1
    start, end = (np.where(back[:, None], x, y) for x, y in ((pieces.end, pieces.start), (pieces.start, pieces.end)))
    reversed_ = Pieces(pieces.kind, start, end, pieces.phase, pieces.loop)
    plates = plates_of(MAGNETS, ROTOR)
    signs = np.array([1, -1, 1])
    wanted = neumann_matrix(pieces, WIRE, 3, P, plates) * np.outer(signs, signs)
    assert neumann_matrix(reversed_, WIRE, 3, P, plates) == pytest.approx(wanted, rel=1e-6)


def test_twice_as_large_has_twice_the_inductance():
    def larger(winding, wire, rotor, magnets, factor):
        lengths = {"inner_radius_m": 0.05, "outer_radius_m": 0.08, "height_m": 0.006}
        winding = replace(winding, **{name: factor * value for name, value in lengths.items()})
        wire = replace(wire, strand_diameter_m=factor * 0.9e-3, overall_diameter_m=factor * 1.0e-3)
        steel = {
            "gap_m": factor * 0.012,
            "steel_inner_radius_m": factor * 0.045,
            "steel_outer_radius_m": factor * 0.085,
        }
        rotor = replace(rotor, **steel, backing=replace(STEEL, thickness_m=factor * 0.006))
        magnets = replace(magnets, thickness_m=factor * 0.006)
        return inductance(lay(winding, P, wire), wire, winding, magnets, rotor).matrix_h

    one, two = (larger(SHAPES[1], WIRE, ROTOR, MAGNETS, factor) for factor in (1.0, 2.0))
    assert two == pytest.approx(2 * one, rel=1e-3)  # images are taken on a grid of lifts in metres


def test_turns_on_top_of_each_other_grow_with_their_square():
    """Among themselves a little less, because each further turn lies a wire's diameter off."""
    one = lay(BASE, P, WIRE).pieces
    ten = Pieces(*(np.concatenate([getattr(one, n)] * 10) for n in ("kind", "start", "end", "phase", "loop")))
    single, many = (neumann_matrix(pieces, WIRE, 3, P, plates_of(MAGNETS, ROTOR)) for pieces in (one, ten))
    assert many[0, 1] == pytest.approx(100 * single[0, 1], rel=1e-9)
    beside = 2 * np.log(WIRE.overall_diameter_m / (copper_radius_m(WIRE) * np.exp(-1 / 4)))  # per metre and pair
    length = float(np.sum(lengths(phase(one, 0))))
    assert many[0, 0] == pytest.approx(100 * single[0, 0] - 90 * length * beside, rel=0.01)


def test_groups_in_parallel_and_strands_in_series():
    laid, litz = lay(SHAPES[1], P, WIRE), replace(WIRE, kind="litz", strands=7, strand_diameter_m=0.4e-3)
    plain = inductance(laid, litz, SHAPES[1], MAGNETS, ROTOR).matrix_h
    halved = inductance(laid, litz, replace(SHAPES[1], parallel=2), MAGNETS, ROTOR).matrix_h
    series = inductance(laid, replace(litz, strands_in_series=7), SHAPES[1], MAGNETS, ROTOR).matrix_h
    assert halved == pytest.approx(plain / 4, rel=1e-12)
    assert series == pytest.approx(49 * plain, rel=1e-12)


def test_copper_of_a_bundle_lies_within_its_circle_without_the_serving():
    bare, served = (litz_wire(0.1e-3, 35, serving_m=serving) for serving in (0.0, 0.2e-3))
    assert copper_radius_m(WIRE) == 0.45e-3
    assert copper_radius_m(bare) == pytest.approx(bare.overall_diameter_m / 2)
    assert copper_radius_m(served) == pytest.approx(copper_radius_m(bare))


def test_steel_raises_what_phases_see_and_never_lowers_it():
    laid = lay(SHAPES[1], P, WIRE)
    air, steel, endless = (
        inductance(laid, WIRE, SHAPES[1], MAGNETS, replace(ROTOR, backing=plate))
        for plate in (None, STEEL, Plate(None))
    )
    assert air.balanced_h < steel.balanced_h
    assert air.common_h < steel.common_h < endless.common_h
    # currents that add up to nothing do not run round the shaft: where the discs end is nothing to them
    assert steel.balanced_h == pytest.approx(endless.balanced_h, rel=1e-9)


def test_what_a_phase_shows_in_company():
    three = Inductance(np.array([[5.0, 2, 2], [2, 5, 2], [2, 2, 5]]))
    assert (three.self_h, three.mutual_h, three.balanced_h, three.common_h) == (5, 2, 3, 9)
    # eigenvalues of the matrix: currents that add up to nothing, and currents that are all the same
    assert np.linalg.eigvalsh(three.matrix_h) == pytest.approx([3, 3, 9])
    two = Inductance(np.array([[5.0, 1], [1, 5]]))
    assert (two.self_h, two.mutual_h, two.balanced_h, two.common_h) == (5, 1, 5, 6)
    one = Inductance(np.array([[5.0]]))
    assert (one.self_h, one.mutual_h, one.balanced_h, one.common_h) == (5, None, 5, 5)


def test_two_phases_a_quarter_apart_do_not_couple_if_every_pole_has_its_opposite():
    """Turned by a pole pitch such a winding is itself run backwards: half of that must couple as minus half of it."""
    winding = replace(BASE, phases=2, rounds=2, belts=2)
    found = inductance(lay(winding, P, WIRE), WIRE, winding, MAGNETS, ROTOR)
    assert abs(found.mutual_h) < 1e-6 * found.self_h


def test_a_winding_too_large_and_irregular_has_none(monkeypatch):
    monkeypatch.setattr(neumann_sum, "PAIRS_AT_MOST", 1000)
    laid = lay(SHAPES[1], P, WIRE)
    assert inductance(uneven(laid.pieces), WIRE, SHAPES[1], MAGNETS, ROTOR) is None
    (remark,) = inductance_warnings(None)
    assert (remark.code, remark.text) == ("no-inductance", LEFT_OUT)
    assert inductance_assumptions(None) == ()
    some = Inductance(np.eye(1))
    assert inductance_warnings(some) == ()
    assert inductance_assumptions(some) == (TAKEN,)
