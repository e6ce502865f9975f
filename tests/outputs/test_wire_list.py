"""Wire to cut: lengths add up to the conductor, nothing is short, bundles and bobbins."""

import math
from collections.abc import Callable

import pytest

from fieldrun.generator.impedance import copper_area_m2
from fieldrun.outputs.wire_list import WireList, rounded_up, wire_list
from fieldrun.outputs.wire_list_told import piece_table, wire_notes
from fieldrun.winding.former import former_of

LITZ = {"wire.kind": "litz", "wire.copper_mm": None, "wire.strand_mm": 0.2, "wire.strands": 7, "wire.lay_mm": 12}
BENCH = {"wire.bench_mm": 9000, "former.tail_mm": 200}


@pytest.fixture
def listed(answered: Callable) -> Callable:
    def made(example: str = "plank-ring", changes: dict | None = None) -> tuple:
        result = answered(example, changes or {})
        return result, wire_list(result, former_of(result.design, result.lay))

    return made


def by_phase(wires: WireList, letter: str) -> list:
    return [cut for cut in wires.cuts if cut.phase == letter]


CASES = {
    "serpentine": ("plank-ring", {}),
    "diamond in parallel": ("quiet-halbach", {"winding.parallel": 2, "former.tail_mm": 80, "former.spare_percent": 8}),
    "bundle from a bench": ("plank-ring", LITZ | BENCH),
}


@pytest.mark.parametrize("case", CASES)
def test_cuts_less_tails_spare_and_links_are_the_conductor(case: str, listed: Callable) -> None:
    result, wires = listed(*CASES[case])
    for k, letter in enumerate("ABC"):
        cuts = by_phase(wires, letter)
        bare = math.fsum(cut.cut_m - cut.tails_m - cut.spare_m - cut.links_m for cut in cuts)
        assert bare == pytest.approx(result.impedance.phase_lengths_m[k], rel=1e-9)
        assert math.fsum(cut.conductor_m for cut in cuts) == pytest.approx(bare, rel=1e-9)
        assert all(cut.cut_m <= cut.measured_m < cut.cut_m + 0.1 for cut in cuts)


def test_spare_is_a_share_of_what_is_wound(listed: Callable) -> None:
    _, wires = listed("plank-ring", {"former.spare_percent": 10, "former.tail_mm": 250})
    for cut in wires.cuts:
        assert cut.tails_m == 0.5
        assert cut.spare_m == pytest.approx(0.1 * (cut.conductor_m + cut.links_m))


def test_parallel_wires_are_cut_one_by_one(listed: Callable) -> None:
    _, wires = listed(*CASES["diamond in parallel"])
    assert [(cut.phase, cut.piece) for cut in wires.cuts] == [(letter, n) for letter in "ABC" for n in (1, 2)]
    assert wires.cuts[0].conductor_m == pytest.approx(wires.cuts[1].conductor_m, rel=1e-12)


def test_mass_by_hand_and_rounded_up(listed: Callable) -> None:
    """8890 kg/m3 of drawn copper (IEC 60028, from memory) or near it, in the rounded lengths."""
    result, wires = listed()
    volume = math.fsum(cut.measured_m for cut in wires.cuts) * copper_area_m2(result.design.wire)
    assert 8890 * volume <= wires.copper_kg <= 8960 * volume + 0.01
    assert wires.copper_kg * 100 == pytest.approx(round(wires.copper_kg * 100))


def test_bench_pieces_are_as_long_as_the_bench_makes_them(listed: Callable) -> None:
    result, wires = listed(*CASES["bundle from a bench"])
    plan = result.twisting
    assert wires.strand_passes == plan.passes == 7
    assert len(by_phase(wires, "A")) == plan.pieces_per_phase > 1
    assert {cut.cut_m for cut in wires.cuts} == {plan.piece_m}
    assert wires.wire_m == rounded_up(plan.wire_m, 0.1)
    assert "7 passes of the single wire" in " ".join(wire_notes(result, wires))


def test_the_bobbin_goes_through_the_hole_and_holds_the_longest_piece(listed: Callable) -> None:
    changes = {"winding.layers": 1, "winding.former_in_gap_mm": 2, "former.hub_hole_mm": 94}
    result, wires = listed("hut-charger", changes)
    diameter, width = wires.bobbin.diameter_m, wires.bobbin.width_m
    assert diameter == pytest.approx(0.090)
    wound = max(cut.measured_m for cut in wires.cuts) * result.design.wire.overall_diameter_m**2
    assert width * math.pi / 4 * diameter**2 * (1 - 1 / 9) == pytest.approx(1.15 * wound)
    assert wires.hub_passes == 264
    assert any("264 times in all" in text for text in wire_notes(result, wires))


def test_nothing_goes_through_a_hub_when_wire_stays_on_one_face(listed: Callable) -> None:
    assert listed()[1].bobbin is None


def test_the_table_names_pieces_where_there_are_several(listed: Callable) -> None:
    headings, rows = piece_table(listed()[1])
    assert headings == ("piece", "in the winding", "links", "tails", "spare", "cut")
    assert [row[0] for row in rows] == ["A", "B", "C"]
    assert [row[0] for row in piece_table(listed(*CASES["diamond in parallel"])[1])[1]][:2] == ["A1", "A2"]


@pytest.mark.parametrize(("value", "up"), [(0.1, 0.1), (0.3, 0.3), (0.30001, 0.4), (27.6822, 27.7), (0.0, 0.0)])
def test_rounding_up(value: float, up: float) -> None:
    assert rounded_up(value, 0.1) == up
