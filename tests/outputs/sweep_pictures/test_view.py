"""What a picture shows, before anything is drawn."""

import numpy as np
import pytest

from fieldrun.outputs.sweep_pictures.draw import why_no_picture
from fieldrun.outputs.sweep_pictures.view import axes_and_groups

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"


def keys(varied):
    return [one.key for one in varied]


def test_the_first_goal_is_drawn_first_else_the_first_pick(view_for):
    both = ("rotor.gap_mm=8:12:5", "wire.copper_mm=0.4,0.5")
    assert view_for(*both).quantities == (FIELD, EMF, OHM)
    assert view_for(*both, best=[OHM]).quantities == (OHM, FIELD, EMF)
    assert view_for(*both, best=[EMF, OHM]).drawn == EMF


def test_what_is_the_same_everywhere_is_left_out_unless_asked_for(view_for):
    view = view_for("rotor.gap_mm=8:12:5")
    assert (view.quantities, view.constant) == ((FIELD, EMF), (OHM,))
    assert view_for("rotor.gap_mm=8:12:5", best=[OHM]).drawn == OHM


def test_keys_with_one_value_do_not_vary(view_for):
    view = view_for("rotor.gap_mm=8:12:5", "rotor.backing=ideal")
    assert keys(view.varied) == ["rotor.gap_mm"]


def test_where_the_design_stands(view_for):
    view = view_for("rotor.gap_mm=8:12:5", "rotor.backing=none,mild steel", "magnets.pitch_diameter_mm=120,140")
    assert [one.base for one in view.varied] == [8.0, 1.0, 132.0]
    assert view_for("rotor.backing=none,ideal").varied[0].base is None
    assert view_for("wire.awg=20,22").varied[0].base is None


def test_a_table_with_gaps_takes_the_designs_own_value(view_for):
    rows = (("rotor.gap_mm", "rotor.backing"), (9.0, "none"), (None, "ideal"), (10.0, None))
    gap, backing = view_for(rows=rows).varied
    assert gap.at.tolist() == [9.0, 8.0, 10.0]
    assert [backing.names[int(at)] for at in backing.at] == ["none", "ideal", "mild steel"]


def test_numbers_among_words_are_names(view_for):
    rows = (("rotor.gap_mm",), (9.0,), ("stack",))
    (gap,) = view_for(rows=rows).varied
    assert gap.names == ("9", "stack")


def test_few_numbers_are_groups_beside_another_axis(view_for):
    view = view_for("rotor.gap_mm=8:12:5", "winding.layers=2,4", "rotor.backing=none,ideal")
    axes, groups = axes_and_groups(view)
    assert (keys(axes), keys(groups)) == (["rotor.gap_mm"], ["rotor.backing", "winding.layers"])
    alone = view_for("winding.layers=2,4")
    assert keys(axes_and_groups(alone)[0]) == ["winding.layers"]


@pytest.mark.parametrize(
    ("ranges", "given", "why"),
    [
        (("rotor.gap_mm=2,3",), {}, "no point has a number to draw"),
        (("rotor.gap_mm=9,10",), {"failed": {0, 1}}, "no point has a number to draw"),
        (("rotor.gap_mm=9",), {}, "every point is the same"),
        (("rotor.gap_mm=9,10",), {}, ""),
    ],
)
def test_why_nothing_is_drawn(view_for, ranges, given, why):
    assert why_no_picture(view_for(*ranges, **given)) == why


def test_values_are_the_sweeps(view_for):
    view = view_for("rotor.gap_mm=6:12:4", failed={3})
    assert view.values(EMF).mask.tolist() == [True, False, False, True]
    assert np.array_equal(view.status("infeasible"), [True, False, False, False])
