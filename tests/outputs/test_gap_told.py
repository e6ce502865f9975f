"""The gap as a sum: what fills it and what it costs, in figures that add up."""

import dataclasses

import pytest

from fieldrun.outputs.gap_told import gap_rows
from fieldrun.outputs.result_file import result_dict
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.summary import table_rows


def test_a_stack_is_its_parts(bundled):
    """Four sheets of 0.94 mm and one millimetre on either side."""
    halbach = bundled("quiet-halbach")
    ((label, value, remark),) = gap_rows(halbach)
    thick = halbach.lay.thickness_m * 1000
    assert (label, value) == ("gap", plain(thick + 2, "mm"))
    cost = plain(-100 * halbach.emf_change_per_gap_m / 1000, "%")
    assert remark == (
        f"{plain(thick, 'mm')} of winding, 1 mm of air on each side; each millimetre of gap costs {cost} of the volts"
    )


def test_resin_counts_as_winding(answered):
    halbach = answered("quiet-halbach", {"winding.resin_mm": 0.5})
    assert gap_rows(halbach)[0][2].startswith(f"{plain(halbach.lay.thickness_m * 1000 + 0.5, 'mm')} of winding, 1 mm")


def test_a_winding_away_from_the_middle_has_two_sorts_of_air(answered):
    hut = answered("hut-charger", {"winding.height_mm": 3.8})
    thick = hut.lay.thickness_m * 1000
    below, above = 3.8 - thick / 2, 8 - 3.8 - thick / 2
    words = f"{plain(thick, 'mm')} of winding, {plain(below, 'mm')} of air below and {plain(above, 'mm')} above; each"
    assert gap_rows(hut)[0][2].startswith(words)


def test_over_one_bare_face_there_is_nothing_to_tell(bundled):
    assert gap_rows(bundled("plank-ring")) == []
    assert "change_per_gap_mm_percent" not in result_dict(bundled("plank-ring"))["emf"]


@pytest.mark.parametrize(
    ("change", "words"), [(-34.0, "costs 3.4 % of the volts"), (2.0, "adds 0.2 % of the volts"), (None, "each side")]
)
def test_costs_and_gains(bundled, change, words):
    hut = dataclasses.replace(bundled("hut-charger"), emf_change_per_gap_m=change)
    assert gap_rows(hut)[0][2].endswith(words)


def test_it_stands_in_the_table_and_the_file(bundled):
    hut = bundled("hut-charger")
    assert gap_rows(hut)[0] in table_rows(hut, result_dict(hut)["field"])
    told = result_dict(hut)["emf"]["change_per_gap_mm_percent"]
    assert told == pytest.approx(hut.emf_change_per_gap_m / 10)
    assert -12 < told < -5
