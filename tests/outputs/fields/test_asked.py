"""What a user writes as places: values or ranges, told by option where wrong; sensible places where nothing is."""

import math

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.generator.machine import middle_height_m
from fieldrun.outputs.fields.asked import Asked, asked_of, places_of


def test_values_and_ranges_in_millimetres_and_degrees():
    asked = asked_of("60:70:3", "0, 11.25", "2")
    assert asked.radii_m == pytest.approx((0.060, 0.065, 0.070))
    assert asked.angles_rad == pytest.approx((0, math.pi / 16))
    assert asked.heights_m == pytest.approx((0.002,))
    assert asked_of(None, "-10:10:5", None).angles_rad == pytest.approx(np.radians([-10, -5, 0, 5, 10]))


HOW = "write values such as 2,4,6 or START:STOP:COUNT such as 0:45:91"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("60:70", f"a range has three parts; {HOW}"),
        ("sixty", f"must be numbers; {HOW}"),
        ("", f"must be numbers; {HOW}"),
        ("1,,2", f"must be numbers; {HOW}"),
        ("nan", f"must be finite numbers; {HOW}"),
        ("60:70:1", "COUNT must be a whole number from 2 to 20000"),
        ("60:70:2.5", "COUNT must be a whole number from 2 to 20000"),
        ("60:70:1e9", "COUNT must be a whole number from 2 to 20000"),
        ("70:60:3", "must rise from each value to the next"),
        ("2,2", "must rise from each value to the next"),
    ],
)
def test_what_is_wrong_is_told(text, said):
    with pytest.raises(DesignError) as caught:
        asked_of(text, None, None)
    assert [str(fault) for fault in caught.value.faults] == [f'--radii: {said}; received "{text}"']


def test_all_that_is_wrong_is_told_at_once():
    with pytest.raises(DesignError) as caught:
        asked_of("a", "b", "c")
    assert [fault.key for fault in caught.value.faults] == ["--radii", "--angles", "--heights"]


def test_where_nothing_is_asked_stand_winding_pole_pair_and_copper(hut):
    places = places_of(hut, Asked())
    assert places.radii_m[[0, -1]] == pytest.approx([0.053, 0.079])
    assert places.angles_rad[[0, -1]] == pytest.approx([0, 2 * math.pi / 8])
    assert places.heights_m == pytest.approx([middle_height_m(hut.lay)])
    kept = places_of(hut, Asked(heights_m=(0.001, 0.002)))
    assert kept.heights_m.tolist() == [0.001, 0.002]
    assert kept.radii_m.tolist() == places.radii_m.tolist()
