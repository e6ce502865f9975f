"""The front of two goals: all points, those that none betters, and the numbers of the table."""

import numpy as np

from fieldrun.outputs.sweep_best_told import listed_points, point_told
from fieldrun.outputs.sweep_pictures.pareto import pareto_picture

EMF, OHM = "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
KEYS = ("rotor.gap_mm=7:12:6", "magnets.thickness_mm=3:8:6", "wire.copper_mm=0.4:0.8:30")


def test_front_and_points(view_for, places):
    view = view_for(*KEYS, best=[EMF, OHM], failed={5})
    (axes,) = pareto_picture(view).axes
    volts, ohms = view.values(EMF), view.values(OHM)
    assert places(axes, "points").tolist() == np.column_stack((volts, ohms))[~volts.mask].tolist()
    assert places(axes, "front").tolist() == [[volts[n], ohms[n]] for n in view.choice.pareto]
    assert axes.get_xlabel() == "rms EMF per phase, V per 1000 rpm  (more is better)"
    assert axes.get_ylabel() == "warm resistance per phase, ohm  (less is better)"


def test_numbers_are_those_of_the_table(view_for):
    view = view_for(*KEYS, best=[EMF, OHM])
    figure = pareto_picture(view)
    listed = listed_points(view.choice)
    assert len(listed) == 12 < len(view.choice.pareto)
    texts = figure.axes[0].texts
    assert [text.get_text() for text in texts] == [str(n) for n in range(1, 13)]
    assert [text.xy for text in texts] == [(view.values(EMF)[n], view.values(OHM)[n]) for n in listed]
    for number, place in enumerate(listed, start=1):
        assert f"{number}  {point_told(view.sweep, view.sweep.rows[place])}" in figure.get_label()
