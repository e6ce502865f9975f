"""The board: sizes by rule, every reason why it cannot be made, and what a spinning or wrapped winding changes."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.generator.machine import read_design
from fieldrun.winding.former import Former, former_of
from fieldrun.winding.former_checks import nearest_m
from fieldrun.winding.former_land import corner_land_m, least_land_m
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces
from fieldrun.winding.stations import Station

WIRE = 0.679e-3  # largest diameter over the enamel of 0.63 mm, grade 1 (IEC 60317-0-1, from memory)


@pytest.fixture
def former(design_file: Callable) -> Callable[..., Former]:
    def made(changes: dict | None = None, example: str = "hut-charger") -> Former:
        design = read_design(design_file(example, changes))
        return former_of(design, lay(design.winding, design.magnets.pole_pairs, design.wire))

    return made


def test_a_notch_is_as_wide_as_its_bundle_and_a_little(former: Callable) -> None:
    """Four layers pass a notch of a first round: two by two wires."""
    assert former().notch_m == pytest.approx(2 * WIRE + 0.2e-3)
    assert former({"former.clearance_mm": 0.5}).notch_m == pytest.approx(2 * WIRE + 0.5e-3)
    assert former({"winding.layers": 1}).notch_m == pytest.approx(WIRE + 0.2e-3)
    assert former({"former.notch_mm": 3}).notch_m == 0.003
    assert former({"former.comb": "all", "winding.rounds": 8}).notch_m == pytest.approx(WIRE + 0.2e-3)


def test_board_and_hole_reach_a_rim_beyond_the_ends(former: Callable) -> None:
    board = former()
    assert (board.outer_radius_m, board.hub_radius_m) == pytest.approx((0.085, 0.047))
    assert board.opens
    wide = former({"former.rim_mm": 10})
    assert (wide.outer_radius_m, wide.hub_radius_m) == pytest.approx((0.089, 0.043))
    assert former({"former.hub_hole_mm": 20}).hub_radius_m == 0.01
    assert not former({"former.hub_hole_mm": 20}).opens


def test_the_middle_is_kept_for_a_winding_that_spins_and_for_pins(former: Callable) -> None:
    for changes in ({"rotor.spins": "coil"}, {"former.ends": "pins"}):
        board = former(changes)
        assert board.hub_radius_m == 0.004
        assert not board.opens
    assert former({"rotor.spins": "coil"}).keeps_disc
    assert not former().keeps_disc


def test_a_wrapped_winding_goes_through_the_middle_once_for_every_inner_tip(former: Callable) -> None:
    wrapped = former({"winding.layers": 1, "winding.former_in_gap_mm": 2})
    assert wrapped.stays
    assert wrapped.thickness_m == 0.002
    assert wrapped.hub_passes == 3 * 11 * 8
    assert former().hub_passes == 0


def test_wire_is_threaded_only_through_closed_slots(former: Callable) -> None:
    wrapped = {"winding.layers": 1, "winding.former_in_gap_mm": 2}
    assert not former(wrapped).threaded
    assert former(wrapped | {"rotor.spins": "coil"}).threaded
    assert not former(wrapped | {"former.ends": "pins"}).threaded
    assert not former({"rotor.spins": "coil"}).threaded


def test_pins_of_a_diamond_stand_between_its_ends(former: Callable) -> None:
    board = former(example="quiet-halbach")
    assert len(board.of_kind("corner")) == 3 * 16
    assert board.pin_m == 0.002
    pins = former({"former.ends": "pins", "former.notch_mm": 1.2}, "quiet-halbach")
    assert pins.pin_m == pins.notch_m == 0.0012


FAULTS = {
    "kerf": (
        {"former.kerf_mm": 3},
        "former.kerf_mm: a cut 3 mm wide makes no notch of 1.56 mm; try a finer blade or a wider notch_mm",
    ),
    "kerf over pins": (
        {"former.kerf_mm": 2, "former.ends": "pins"},
        "former.kerf_mm: a cut 2 mm wide makes no pin's hole of 2 mm; try a finer blade or a wider notch_mm",
    ),
    "hub": (
        {"former.hub_hole_mm": 104},
        "former.hub_hole_mm: a hole of 104 mm leaves no wood at the inner ends; must be at most 103 mm",
    ),
    "rim": ({"former.rim_mm": 1}, "former.rim_mm: must be at least 1.56 mm, the width of the notches; received 1"),
    "touching": (
        {"former.notch_mm": 13, "former.rim_mm": 14},
        (
            "former.notch_mm: notches of 13 mm at the inner ends would touch: 2.86 mm are missing between them; "
            'try ends = "pins" or notch_mm below 10.1'
        ),
    ),
    "full comb": (
        {"former.comb": "all", "former.ends": "pins"},
        (
            "former.comb: pins of 2 mm at the inner ends would touch: 0.779 mm are missing between them; "
            'try fewer: comb = "first round" or notch_mm below 1.23'
        ),
    ),
}


@pytest.mark.parametrize("case", FAULTS)
def test_a_board_that_cannot_be_made_says_why(case: str, former: Callable) -> None:
    changes, text = FAULTS[case]
    with pytest.raises(DesignError) as caught:
        former(changes)
    assert text in str(caught.value).splitlines()


def test_pins_between_the_ends_may_not_reach_a_notch(former: Callable) -> None:
    """Corners on 54.3 mm and 0.5625 degrees to both sides: 2 x 54.3 sin 0.5625 = 1.066 mm apart."""
    changes = {"winding.shape": "hexagon", "winding.span": 0.05, "winding.straight_share": 0.9}
    with pytest.raises(DesignError) as caught:
        former(changes)
    assert str(caught.value) == (
        "former.notch_mm: pins of 2 mm between the ends would touch: 0.944 mm are missing between them; try "
        'ends = "pins" with notch_mm below 1.07'
    )


def test_wood_at_corners_by_hand() -> None:
    """Pins 3 apart, and one of them 2 from an end."""
    places = [(10.0, "corner"), (13.0, "corner"), (15.0, "outer")]
    stations = tuple(Station(0, i + 1, radius, 0.0, kind, 1) for i, (radius, kind) in enumerate(places))
    assert corner_land_m(stations, 1.0, 0.5) == pytest.approx(2 - 0.75)
    assert corner_land_m(stations[:2], 1.0, 0.5) == pytest.approx(2)
    assert corner_land_m(stations[1:], 1.0, 0.5) == pytest.approx(2 - 0.75)
    assert corner_land_m(stations[2:], 1.0, 0.5) is None


def test_a_wire_across_the_hub_cannot_be_formed_on_a_flat_board(former: Callable, tmp_path) -> None:
    """A straight piece over a third of the ring: 53 mm cos 60 = 26.5 mm from the axis."""
    text = "loop,r_mm,theta_deg,z_mm,edge\n1,53,0,4,line\n1,79,11,4,arc\n1,79,130,4,line\n1,53,120,4,line\n1,53,0,4,\n"
    (tmp_path / "own.csv").write_text(text)
    changes = {"winding.shape": "path", "winding.file": "own.csv", "winding.rounds": 1, "winding.layers": None}
    changes |= {"winding.inner_radius_mm": None, "winding.outer_radius_mm": None, "winding.phases": 1}
    with pytest.raises(DesignError) as caught:
        former(changes)
    assert str(caught.value) == (
        "winding.file: a piece from 53 to 53 mm runs 26.5 mm from the axis and would cross the hub hole of 94 mm: it "
        "cannot be formed on a flat board; try a smaller former.hub_hole_mm, or corners that lead round the hub"
    )
    assert former(changes | {"former.hub_hole_mm": 8}).hub_radius_m == 0.004


def test_the_nearest_point_of_a_piece() -> None:
    """A chord of 120 degrees at radius 1 passes at 1/2, one of 20 degrees at cos 10; others at their lesser radius."""
    turn = np.radians([120.0, 20.0, 90.0, 90.0, 0.0])
    start = np.stack([np.ones(5), np.zeros(5), np.zeros(5)], axis=1)
    end = np.stack([[1.0, 1.0, 1.0, 2.0, 3.0], turn, np.zeros(5)], axis=1)
    zeros = np.zeros(5, int)
    pieces = Pieces(np.array([LINE, LINE, ARC, SPIRAL, LINE]), start, end, zeros, zeros)
    assert nearest_m(pieces) == pytest.approx([0.5, math.cos(math.radians(10)), 1, 1, 1])


def test_wood_between_slots_against_its_area() -> None:
    """Two radial walls 90 degrees apart, each 1 beside its radius, meet at r = sqrt 2; beyond they part as 2 r sin."""
    stations = tuple(Station(0, i + 1, 5.0, i * math.pi / 2, "outer", 1) for i in range(4))
    assert least_land_m(stations, "outer", 2.0, math.sqrt(2)) == pytest.approx(0, abs=1e-12)
    corner = math.hypot(*(np.array([math.sqrt(24), 1.0]) - np.array([1.0, math.sqrt(24)])))
    assert least_land_m(stations, "outer", 2.0, 5.0) == pytest.approx(corner)
    assert least_land_m(stations, "outer", 2.0, None) == pytest.approx(5 * math.sqrt(2) - 2)
    assert least_land_m(stations[:1], "outer", 2.0, None) is None
