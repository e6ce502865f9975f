"""Bars of named values: as long as the figures."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.outputs.sweep_pictures.bars import bars_picture
from fieldrun.outputs.sweep_pictures.view import view_of

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
SHAPES = "winding.shape=serpentine,zigzag,diamond"


def bars(axes):
    return [patch for patch in axes.patches if patch.get_gid() == "bar"]


def texts(axes):
    return [text.get_text() for text in axes.texts]


def test_bars_are_the_values(drawn, places, legend):
    view, figure = drawn(SHAPES, best=[EMF])
    for axes, key in zip(figure.axes, view.quantities, strict=True):
        assert [bar.get_width() for bar in bars(axes)] == view.values(key).tolist()
        assert [label.get_text() for label in axes.get_yticklabels()] == ["serpentine", "zigzag", "diamond"]
        assert texts(axes) == [f"{value:.3g}" for value in view.values(key)]
    assert places(figure.axes[0], "best").tolist() == [[view.values(EMF)[2], 2.0]]
    assert places(figure.axes[0], "base").tolist() == [[view.values(EMF)[1] / 2, 1.0]]
    assert legend(figure) == ["best", "the design as it stands"]


def test_a_second_key_is_bars_beside_each_other(drawn, legend):
    view, figure = drawn(SHAPES, "rotor.backing=none,ideal", failed={2})
    axes = figure.axes[0]
    values = view.values(FIELD)
    assert [bar.get_width() for bar in bars(axes)] == values.compressed().tolist()
    middles = [bar.get_y() + bar.get_height() / 2 for bar in bars(axes)]
    assert middles == pytest.approx(
        [n + side for n in range(3) for side in (-0.195, 0.195) if (n, side) != (1, -0.195)]
    )
    assert "× failed" in texts(axes)
    assert len({bar.get_facecolor() for bar in bars(axes)}) == 2
    assert legend(figure) == ["none", "ideal", "failed"]


def test_a_name_that_cannot_be_built_says_so(view_for):
    view = view_for("rotor.backing=none,ideal", "winding.layers=4,9")
    axes = bars_picture(view, *view.varied).axes[0]
    assert texts(axes).count("cannot be built") == 2
    assert [bar.get_width() for bar in bars(axes)] == view.values(FIELD).compressed().tolist()


def test_bars_of_losses_reach_to_the_left(view_for):
    sweep = view_for(SHAPES).sweep
    turned = replace(sweep, rows=tuple(replace(row, picked=tuple(-x for x in row.picked)) for row in sweep.rows))
    view = view_of(turned, view_for(SHAPES).choice)
    axes = bars_picture(view, view.varied[0], None).axes[0]
    assert np.all(np.array([bar.get_width() for bar in bars(axes)]) < 0)
    assert axes.get_xlim()[0] < view.values(FIELD).min()
    assert axes.get_xlim()[1] > 0
