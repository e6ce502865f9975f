"""Scattered points and many keys: dots are the points, the line is the best that each value allows."""

import numpy as np
import pytest

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
RANGES = ("rotor.gap_mm=6:12", "magnets.thickness_mm=3:8")


def test_dots_have_their_places_and_values(drawn, places, legend):
    view, figure = drawn(*RANGES, count=60, best=[EMF], failed={7})
    axes, (gap, height) = figure.axes[0], view.varied
    (dots,) = (c for c in axes.collections if c.get_gid() == "quantity")
    known = ~view.values(EMF).mask
    assert dots.get_offsets().tolist() == np.column_stack((gap.at, height.at))[known].tolist()
    assert dots.get_array().tolist() == view.values(EMF).compressed().tolist()
    shut = view.status("infeasible")
    assert places(axes, "not-built").tolist() == np.column_stack((gap.at, height.at))[shut].tolist()
    best = view.values(EMF).argmax()
    assert places(axes, "best").tolist() == [[gap.at[best], height.at[best]]]
    assert places(axes, "base").tolist() == [[8.0, 6.0]]
    assert len(places(axes, "failed")) == int(view.status("failed").sum()) == 1
    assert legend(figure) == ["best", "the design as it stands", "cannot be built", "failed"]
    assert figure.axes[1].get_ylabel() == "rms EMF per phase, V per 1000 rpm"


def test_many_points_become_pixels(drawn):
    _, figure = drawn("rotor.gap_mm=8:12", "magnets.thickness_mm=3:8", count=1500)
    (dots,) = (c for c in figure.axes[0].collections if c.get_gid() == "quantity")
    assert dots.get_rasterized()


@pytest.mark.parametrize("count", [4, 80, 700])
def test_dots_are_as_large_as_there_is_room_for(drawn, count):
    _, figure = drawn(*RANGES, "wire.copper_mm=0.4:0.8", count=count)
    (dots,) = (line for line in figure.axes[0].lines if line.get_gid() == "points")
    known = len(dots.get_xdata())
    assert dots.get_markersize() == pytest.approx(min(max(60 / known**0.5, 3), 12))


def test_more_keys_are_a_panel_each(drawn, places):
    view, figure = drawn(
        *RANGES, "wire.copper_mm=0.4:0.8", "rotor.backing=none,ideal", count=80, best=[EMF], failed={3}
    )
    assert [axes.get_xlabel() for axes in figure.axes] == [
        "gap, mm",
        "magnet thickness, mm",
        "bare wire, mm",
        "backing",
    ]
    values = view.values(EMF)
    for axes, one in zip(figure.axes[:3], view.varied, strict=False):
        assert places(axes, "points").tolist() == np.column_stack((one.at, values))[~values.mask].tolist()
        assert places(axes, "best").tolist() == [[one.at[values.argmax()], values.max()]]
        assert places(axes, "failed")[:, 0].tolist() == one.at[view.status("failed")].tolist()
    assert figure.axes[0].get_ylabel() == "rms EMF per phase,\nV per 1000 rpm"


def test_names_keep_their_dots_apart_but_near(drawn, places):
    view, figure = drawn(*RANGES, "rotor.backing=none,ideal", count=40)
    backing = view.varied[2]
    known = ~view.values(FIELD).mask
    across = places(figure.axes[2], "points")[:, 0]
    assert np.all(np.abs(across - backing.at[known]) <= 0.25)
    assert len(np.unique(across)) == known.sum()
    assert [label.get_text() for label in figure.axes[2].get_xticklabels()] == list(backing.names)


def test_a_grid_of_four_keys_shows_the_best_at_each_value(drawn, places, legend):
    grid = ("rotor.gap_mm=7:12:6", "magnets.thickness_mm=3:8:5", "wire.copper_mm=0.4:0.8:5", "winding.layers=2,3,4,5")
    view, figure = drawn(*grid, best=[EMF])
    values = view.values(EMF)
    for axes, one in zip(figure.axes, view.varied, strict=True):
        expected = [(level, values[one.at == level].max()) for level in one.levels]
        assert places(axes, "reach").tolist() == [list(pair) for pair in expected if pair[1] is not np.ma.masked]
    assert legend(figure)[0] == "most at each value"
    assert [label.get_text() for label in figure.axes[3].get_xticklabels()] == ["2", "3", "4", "5"]


def test_without_a_goal_both_ends_are_shown(drawn, places, legend):
    grid = ("rotor.gap_mm=8:12:4", "magnets.thickness_mm=3:8:5", "wire.copper_mm=0.4:0.6:5", "winding.layers=2,3,4,5")
    view, figure = drawn(*grid)
    gap, values = view.varied[0], view.values(FIELD)
    tops = [values[gap.at == level].max() for level in gap.levels]
    lows = [values[gap.at == level].min() for level in gap.levels]
    assert places(figure.axes[0], "reach")[:, 1].tolist() == tops + lows
    assert legend(figure)[0] == "most and least at each value"
    assert "best" not in legend(figure)


def test_no_more_keys_than_can_be_shown(drawn):
    keys = ["rotor.gap_mm", "magnets.thickness_mm", "wire.copper_mm", "winding.layers", "rotor.backing_mm",
            "magnets.temperature_c", "wire.temperature_c", "winding.inner_radius_mm", "winding.outer_radius_mm",
            "winding.clearance_mm", "winding.resin_mm", "winding.start_deg", "load.voltage_v",
            "load.cable_ohm"]  # fmt: skip
    rows = [tuple(keys), *((8.0 + n, *(0.2 + 0.1 * n for _ in keys[1:])) for n in range(3))]
    _, figure = drawn(rows=rows)
    assert len(figure.axes) == 12
    assert "2 more keys vary; they are in results.csv." in figure.get_label()


def test_a_table_of_names_is_dots_over_the_names(drawn, places):
    view, figure = drawn(rows=[("rotor.gap_mm",), (9.0,), ("stack",), (10.0,)])
    (gap,) = view.varied
    assert places(figure.axes[0], "points")[:, 1].tolist() == view.values(FIELD).tolist()
    assert [label.get_text() for label in figure.axes[0].get_xticklabels()] == list(gap.names)
