"""What a maker states about the spread of parts, and faults that later stages find, told by their line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design, Tolerance
from fieldrun.design.read import told_by_line

Reader = Callable[[dict[str, str]], Design]
Writer = Callable[[dict[str, str]], Path]

WIRE = "copper_mm = 0.5"


@pytest.mark.parametrize("table", ["", "[tolerance]"])
def test_usual_tolerances_hold_where_none_are_stated(table: str, design: Reader) -> None:
    assert design({WIRE: f"{WIRE}\n{table}"}).tolerance == Tolerance(0.02, 0.3e-3, 0.1e-3, 0.3e-3)


def test_stated_ones_are_taken_in_si_and_belong_to_the_design(design: Reader) -> None:
    stated = "[tolerance]\nremanence_percent = 1.5\ngap_mm = 0\nmagnet_mm = 0.05\nplacement_mm = 1"
    read = design({WIRE: f"{WIRE}\n{stated}"})
    assert read.tolerance == Tolerance(0.015, 0.0, 0.05e-3, 1e-3)
    assert '"placement_mm": 1' in read.written


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("gap_mm = -1", "tolerance.gap_mm: must be at least 0; received -1"),
        ("remanence_percent = 60", "tolerance.remanence_percent: 60 is too large; it must lie between 0 and 50"),
        ("magnet_mm = 100", "tolerance.magnet_mm: 100 mm is too large: is this micrometres? write magnet_mm = 0.1; "),
    ],
)
def test_slips_are_refused(line: str, message: str, messages: Callable[[dict[str, str]], list[str]]) -> None:
    (told,) = messages({WIRE: f"{WIRE}\n[tolerance]\n{line}"})
    assert message in told


def test_faults_found_after_reading_get_file_and_line(spoilt: Writer) -> None:
    path = spoilt({WIRE: f"{WIRE}\n[tolerance]\ngap_mm = 3"})
    line = path.read_text(encoding="utf-8").splitlines().index("gap_mm = 3") + 1
    late = [Fault("tolerance.gap_mm", "too large"), Fault("rotor.gap_mm", "too small"), Fault("x.y", "odd", "f.csv", 3)]
    with pytest.raises(DesignError) as caught, told_by_line(path):
        raise DesignError(late)
    told = [str(fault) for fault in caught.value.faults]
    assert told[1] == f"hut.toml:{line}: tolerance.gap_mm: too large"
    assert told[0] == "hut.toml:13: rotor.gap_mm: too small"
    assert told[2] == "f.csv:3: x.y: odd"


def test_a_key_that_is_not_written_is_told_at_the_top(spoilt: Writer) -> None:
    with pytest.raises(DesignError, match=r"^hut\.toml:1: tolerance\.gap_mm: too large$"), told_by_line(spoilt({})):
        raise DesignError([Fault("tolerance.gap_mm", "too large")])
