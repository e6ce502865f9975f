"""Filled contours over two numbers: the field drawn is the column, the hatched part is what cannot be built."""

import numpy as np
import pytest
from matplotlib.path import Path as Outline

from fieldrun.outputs.sweep_pictures.colour import colour_scale

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
GAPS, HEIGHTS, WIRES = "rotor.gap_mm=7:12:11", "magnets.thickness_mm=3:8:21", "wire.copper_mm=0.4:0.8:5"


def sets(axes, gid):
    return [collection for collection in axes.collections if collection.get_gid() == gid]


def band_at(contours, x, y):
    """Which bands of a contour set hold a point."""
    return [n for n, path in enumerate(contours.get_paths()) if len(path) and _inside(path, x, y)]


def _inside(path, x, y):
    polygons = path.to_polygons()
    return sum(Outline(polygon).contains_point((x, y)) for polygon in polygons) % 2 == 1


def test_every_point_lies_in_the_band_of_its_value(drawn):
    view, figure = drawn(GAPS, HEIGHTS, best=[EMF])
    (contours,) = sets(figure.axes[0], "quantity")
    gap, height = view.varied
    values, levels = view.values(EMF), contours.levels
    checked = 0
    inner = (gap.at > gap.levels[2]) & (gap.at < 12) & (height.at > 3) & (height.at < 8)
    for place in np.flatnonzero(inner & ~values.mask):
        value = float(values[place])
        if np.min(np.abs(levels - value)) < 0.02 * (levels[1] - levels[0]):
            continue
        assert band_at(contours, gap.at[place], height.at[place]) == [int(np.searchsorted(levels, value)) - 1]
        checked += 1
    assert checked > 100


def test_the_bar_and_the_words_state_the_whole_range(drawn):
    view, figure = drawn(GAPS, HEIGHTS, best=[EMF])
    bar = figure.axes[-1]
    values = view.values(EMF)
    assert bar.get_ylabel() == "rms EMF per phase, V per 1000 rpm"
    assert bar.get_ylim()[0] <= values.min() < values.max() <= bar.get_ylim()[1]
    assert f"Colour runs from {values.min():.3g} to {values.max():.3g} V per 1000 rpm." in figure.get_label()


def test_what_cannot_be_built_is_hatched_and_nothing_else(drawn):
    view, figure = drawn("rotor.gap_mm=7:12:11", "wire.copper_mm=0.4:0.8:9")
    axes = figure.axes[0]
    (shut,), (filled,) = sets(axes, "not-built"), sets(axes, "quantity")
    assert shut.hatches == ["////"]
    gap, wire = view.varied
    middle = [(x + 0.25, y + 0.025) for x, y in zip(gap.at, wire.at, strict=True) if x < 12 and y < 0.8]
    rows = {(round(x, 3), round(y, 3)): row.status for x, y, row in zip(gap.at, wire.at, view.sweep.rows, strict=True)}
    seen = set()
    for x, y in middle:
        corners = {rows[round(x + dx, 3), round(y + dy, 3)] for dx in (-0.25, 0.25) for dy in (-0.025, 0.025)}
        if len(corners) == 1:
            seen |= corners
            assert bool(band_at(shut, x, y)) == (corners == {"infeasible"})
            assert bool(band_at(filled, x, y)) == (corners == {"ok"})
    assert seen == {"ok", "infeasible"}


def test_marks(drawn, places, legend):
    view, figure = drawn(GAPS, HEIGHTS, best=[EMF], failed={100, 170})
    axes, (gap, height) = figure.axes[0], view.varied
    best = view.values(EMF).argmax()
    assert places(axes, "best").tolist() == [[gap.at[best], height.at[best]]]
    assert places(axes, "base").tolist() == [[8.0, 6.0]]
    assert places(axes, "failed").tolist() == [[gap.at[n], height.at[n]] for n in (100, 170)]
    assert legend(figure) == ["best", "the design as it stands", "cannot be built", "failed", "no answer"]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("gap, mm", "magnet thickness, mm")


def test_values_listed_in_any_order_stand_in_order(drawn):
    there, figure = drawn("rotor.gap_mm=8,9,10,11", "magnets.thickness_mm=3,4,5,6")
    back, other = drawn("rotor.gap_mm=11,9,8,10", "magnets.thickness_mm=6,4,3,5")
    assert there.values(FIELD).max() == back.values(FIELD).max()
    one, two = (sets(each.axes[0], "quantity")[0] for each in (figure, other))
    assert all(np.array_equal(a.vertices, b.vertices) for a, b in zip(one.get_paths(), two.get_paths(), strict=True))


def test_a_third_number_makes_panels_of_one_scale(drawn, places):
    view, figure = drawn(GAPS, HEIGHTS, WIRES, best=[EMF])
    panels = figure.axes[:-1]
    assert [axes.get_title(loc="left") for axes in panels] == [f"bare wire {0.4 + n / 10:g} mm" for n in range(5)]
    norms = {(c.norm.vmin, c.norm.vmax) for axes in panels for c in sets(axes, "quantity")}
    assert len(norms) == 1
    best = view.choice.best[0].index
    at = view.varied[2].levels.tolist().index(view.varied[2].at[best])
    assert [len(places(axes, "best")) for axes in panels] == [int(n == at) for n in range(5)]


def test_names_make_panels_and_the_design_stands_in_its_own(drawn, places, legend):
    _, figure = drawn(GAPS, HEIGHTS, "rotor.backing=none,mild steel,ideal")
    assert [axes.get_title(loc="left") for axes in figure.axes[:-1]] == ["none", "mild steel", "ideal"]
    assert [len(places(axes, "base")) for axes in figure.axes[:-1]] == [0, 1, 0]
    assert "the design as it stands" in legend(figure)
    _, figure = drawn(GAPS, HEIGHTS, "rotor.backing=none,ideal")
    assert "the design as it stands" not in legend(figure)


def test_too_many_values_of_a_third_key_are_thinned_and_said(drawn):
    _, figure = drawn("rotor.gap_mm=8:12:21", HEIGHTS, "wire.copper_mm=0.4:0.6:20")
    assert len(figure.axes) == 9 + 1
    assert "9 of 20 values of bare wire are drawn; all are in results.csv." in figure.get_label()


def test_points_that_no_contour_reaches_are_dots_in_colour(drawn):
    _, figure = drawn("rotor.gap_mm=8,9,10,11", "magnets.thickness_mm=3,4,5,6", failed={1, 4, 5})
    (alone,) = sets(figure.axes[0], "alone")
    assert alone.get_offsets().tolist() == [[8.0, 3.0]]


def test_the_same_everywhere_is_told_and_dotted(drawn):
    _, figure = drawn("rotor.gap_mm=8,9,10,11", "magnets.thickness_mm=3,4,5,6", best=[OHM])
    (dots,) = sets(figure.axes[0], "alone")
    assert len(dots.get_offsets()) == 16
    assert "It is 8 ohm everywhere." in figure.get_label()


@pytest.mark.parametrize("values", [[3.0, 3.0], [0.0, 0.0], [-5.0, 7.0], [1e-9, 2e-9]])
def test_a_scale_takes_in_its_values(values):
    scale = colour_scale(np.ma.masked_array([*values, 99.0], [False, False, True]))
    assert (scale.least, scale.most) == (min(values), max(values))
    assert scale.steps[0] <= scale.least <= scale.most <= scale.steps[-1]
    assert scale.steps[0] < scale.steps[-1]
