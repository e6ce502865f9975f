"""Faults of [former] that show before a winding is laid, and the former that a sound one asks for."""

from collections.abc import Callable

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.making import FormerPlan
from fieldrun.design.read import read_design

FAULTS = {
    "kerf over a notch": (
        {"former.notch_mm": 0.8, "former.kerf_mm": 0.8},
        "former.kerf_mm: must be below notch_mm = 0.8: a cut as wide as a notch makes a wider one; received 0.8",
    ),
    "hub hole over the ends": (
        {"former.hub_hole_mm": 106},
        "former.hub_hole_mm: must be below 106 mm, the diameter of the winding's inner ends; received 106",
    ),
    "board of two thicknesses": (
        {"former.thickness_mm": 3.5, "winding.former_in_gap_mm": 2, "winding.layers": 1},
        (
            "former.thickness_mm: the board stays in the gap and is winding.former_in_gap_mm = 2 thick; received 3.5; "
            "leave one of the two out"
        ),
    ),
    "unknown ends": ({"former.ends": "nails"}, 'former.ends: must be "notches" or "pins"; received "nails"'),
    "unknown key": ({"former.hub_mm": 8}, "former.hub_mm: unknown key; did you mean hub_hole_mm?"),
}


@pytest.mark.parametrize("case", FAULTS)
def test_what_a_former_may_not_ask_for(case: str, design_file: Callable) -> None:
    changes, text = FAULTS[case]
    with pytest.raises(DesignError) as caught:
        read_design(design_file("hut-charger", changes))
    assert [str(fault).partition(": ")[2] for fault in caught.value.faults] == [text]


def test_no_former_is_a_usual_one(design_file: Callable) -> None:
    assert read_design(design_file("hut-charger")).former == FormerPlan()
    assert read_design(design_file("hut-charger", {"former.kerf_mm": 0.0})).former == FormerPlan()


def test_a_former_of_its_own(design_file: Callable) -> None:
    keys = {"notch_mm": 1.5, "ends": "pins", "comb": "all", "clearance_mm": 0.3, "kerf_mm": 0.1, "hub_hole_mm": 10}
    keys |= {"rim_mm": 9, "thickness_mm": 3, "sheet": "Letter"}
    read = read_design(design_file("hut-charger", {f"former.{key}": value for key, value in keys.items()}))
    assert read.former == FormerPlan(0.0015, "pins", "all", 0.0003, 0.0001, 0.01, 0.009, 0.003, "Letter")
