"""The small things that every stage leans on: faults, frozen arrays, heights of sheets, units."""

import pickle

import numpy as np
import pytest

from fieldrun.design.arrays import frozen_array
from fieldrun.design.errors import DesignError, Fault, FieldrunError, MissingError, SolveError
from fieldrun.design.nearest import nearest, one_of
from fieldrun.design.ranges import RANGES, Range
from fieldrun.design.stack import (
    CROSSED_SHAPES,
    FLAT_SHAPES,
    NAMED_SHAPES,
    sheet_heights_m,
    sheets_per_layer,
    wound_thickness_m,
)
from fieldrun.design.units import DEGREE, KRPM, RPM, metres


def test_faults_leave_out_what_is_not_known() -> None:
    assert str(Fault("a.b", "text", "f.toml", 7)) == "f.toml:7: a.b: text"
    assert str(Fault("a.b", "text", "f.toml")) == "f.toml: a.b: text"
    assert str(Fault("", "text", "f.toml", 7)) == "f.toml:7: text"
    assert str(Fault("a.b", "text")) == "a.b: text"


def test_errors_carry_every_fault_through_a_process_boundary() -> None:
    error = DesignError([Fault("a", "x"), Fault("b", "y", "f", 2)])
    assert str(error) == "a: x\nf:2: b: y"
    assert pickle.loads(pickle.dumps(error)).faults == error.faults  # noqa: S301
    codes = {kind: kind.exit_code for kind in (FieldrunError, DesignError, MissingError, SolveError)}
    assert list(codes.values()) == [1, 2, 4, 1]


def test_frozen_arrays_are_copies_that_nobody_can_change() -> None:
    source = np.array([1.0, 2.0])
    frozen = frozen_array(source)
    source[0] = 5
    assert frozen.tolist() == [1, 2]
    with pytest.raises(ValueError, match="read-only"):
        frozen[0] = 3
    for bad in (np.nan, np.inf):
        with pytest.raises(FloatingPointError):
            frozen_array([1, bad])


def test_sheets_lie_about_the_middle_and_a_former_parts_them() -> None:
    assert [sheets_per_layer(shape) for shape in NAMED_SHAPES] == [1] * len(FLAT_SHAPES) + [2] * len(CROSSED_SHAPES)
    assert sheet_heights_m(3, 2.0, 0.0, 10.0) == (8, 10, 12)
    assert sheet_heights_m(2, 2.0, 6.0, 10.0) == (6, 14)
    assert wound_thickness_m(2, 2.0, 6.0) == 10


def test_units() -> None:
    speeds = [KRPM, 60 * RPM]
    assert speeds == pytest.approx([104.7198, 360 * DEGREE], rel=1e-6)
    assert metres(9) == 0.009


def test_words() -> None:
    assert nearest("thicknes_mm", ["thickness_mm", "count"]) == "thickness_mm"
    assert nearest("xyz", ["thickness_mm"]) is None
    assert (one_of(["a"]), one_of([1, 2, "b"])) == ('"a"', '1, 2 or "b"')


@pytest.mark.parametrize("key", RANGES)
def test_limits_themselves_are_plausible_and_what_lies_beyond_is_not(key: str) -> None:
    limits = RANGES[key]
    assert limits.fault("x", limits.low) is None
    assert limits.fault("x", limits.high) is None
    assert limits.fault("x", limits.high * 1.01 + 1e-6)
    assert limits.fault("x", limits.low - 1e-6 - abs(limits.low) * 0.01)


def test_a_range_says_what_it_must_be_what_came_and_what_to_try() -> None:
    limits = Range(1, 10, "thin", "thick", ((1000, "metres"),), "mm")
    assert (
        limits.fault("a_mm", 0.005)
        == "0.005 mm is thin: is this metres? write a_mm = 5; it must lie between 1 and 10 mm"
    )
    assert limits.fault("a_mm", 0.5) == "0.5 mm is thin; it must lie between 1 and 10 mm"
    assert limits.fault("a_mm", 11) == "11 mm is thick; it must lie between 1 and 10 mm"
    assert limits.fault("a_mm", -1) == "must be above 0; received -1"
