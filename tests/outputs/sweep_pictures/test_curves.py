"""Curves over one number: what is drawn is what was found."""

import numpy as np
import pytest

from fieldrun.outputs.sweep_pictures.marks import GROUP_MARKERS, MOST_GROUPS

FIELD, EMF, OHM = "field.b1_mean_radius_t", "emf.rms_v_per_krpm", "circuit.resistance_hot_ohm"
GAPS = "rotor.gap_mm=6:12:25"


def test_a_curve_is_the_column_with_gaps(drawn, places):
    view, figure = drawn(GAPS, best=[EMF], failed={17})
    assert [axes.get_title(loc="left") for axes in figure.axes] == [
        "rms EMF per phase", "fundamental field at mean radius"
    ]  # fmt: skip
    for axes, key in zip(figure.axes, view.quantities, strict=True):
        found = places(axes, "curve-0")
        column = view.values(key)
        assert found[:, 0].tolist() == view.varied[0].at.tolist()
        assert np.array_equal(np.isnan(found[:, 1]), column.mask)
        assert found[~column.mask, 1].tolist() == column.compressed().tolist()
        assert axes.get_xlabel() == "gap, mm"
    assert figure.axes[0].get_ylabel() == "V per 1000 rpm"


def test_marks_stand_where_they_belong(drawn, places, legend):
    view, figure = drawn(GAPS, best=[EMF], failed={17})
    axes, volts = figure.axes[0], view.values(EMF)
    assert places(axes, "best").tolist() == [[view.varied[0].at[volts.argmax()], volts.max()]]
    assert places(axes, "base")[:, 0].tolist() == [8.0, 8.0]
    assert places(axes, "failed")[:, 0].tolist() == [view.varied[0].at[17]]
    assert legend(figure) == ["best", "the design as it stands", "cannot be built", "failed"]


def test_what_cannot_be_built_is_hatched_half_way_to_its_neighbour(drawn):
    view, figure = drawn(GAPS)
    shut = view.varied[0].at[view.status("infeasible")]
    spans = [patch for patch in figure.axes[0].patches if patch.get_gid() == "not-built"]
    edges = sorted((patch.get_x(), patch.get_x() + patch.get_width()) for patch in spans)
    assert edges[0][0] == 6.0
    assert edges[-1][1] == pytest.approx(shut.max() + 0.125)
    assert len(edges) == len(shut)
    assert all(patch.get_hatch() for patch in spans)


def test_groups_have_curves_of_their_own(drawn, places, legend):
    view, figure = drawn(GAPS, "rotor.backing=none,mild steel,ideal", best=[EMF])
    gap, backing = view.varied
    for number, name in enumerate(backing.names):
        here = backing.at == number
        found = places(figure.axes[0], f"curve-{number}")
        known = ~np.isnan(found[:, 1])
        assert found[known, 1].tolist() == view.values(EMF)[here].compressed().tolist()
        assert legend(figure)[number] == name
    lines = [line for line in figure.axes[0].lines if str(line.get_gid()).startswith("curve")]
    assert [line.get_marker() for line in lines] == list(GROUP_MARKERS[:3])
    assert len({line.get_color() for line in lines}) == 3
    assert gap.base == 8.0


def test_a_gap_that_some_group_allows_is_not_hatched(drawn):
    _, figure = drawn("rotor.gap_mm=6,8,12", "wire.copper_mm=0.4,0.8", best=[EMF])
    assert [patch.get_x() for patch in figure.axes[0].patches if patch.get_gid() == "not-built"] == []


def test_two_groups_are_curves_in_panels_of_one_scale(drawn, places):
    view, figure = drawn(GAPS, "rotor.backing=none,ideal", "winding.shape=serpentine,zigzag,diamond", best=[EMF])
    assert [axes.get_title(loc="left") for axes in figure.axes] == ["none", "ideal"]
    assert len({axes.get_ylim() for axes in figure.axes}) == 1
    _, backing, shape = view.varied
    found = places(figure.axes[1], "curve-2")
    here = (backing.at == 1) & (shape.at == 2)
    assert found[~np.isnan(found[:, 1]), 1].tolist() == view.values(EMF)[here].compressed().tolist()
    assert [len(places(axes, "best")) for axes in figure.axes] == [0, 1]


def test_scattered_points_are_not_joined(drawn, places):
    view, figure = drawn("rotor.gap_mm=8:12", count=30, best=[EMF])
    (line,) = (line for line in figure.axes[0].lines if line.get_gid() == "curve-0")
    assert line.get_linestyle() == "None"
    order = np.argsort(view.varied[0].at)
    assert places(figure.axes[0], "curve-0")[:, 0].tolist() == view.varied[0].at[order].tolist()


def test_more_names_than_colours_become_another_picture(drawn):
    heights = ",".join(str(3 + n / 2) for n in range(MOST_GROUPS + 1))
    _, figure = drawn("rotor.gap_mm=8,9", f"magnets.thickness_mm={heights}")
    assert [str(line.get_gid()) for line in figure.axes[0].lines if line.get_gid()][:1] == ["curve-0"]
    rows = [("rotor.gap_mm", "rotor.backing"), *((8.0 + n, "ideal" if n % 2 else "none") for n in range(4))]
    _, figure = drawn(rows=rows)
    assert len(figure.axes) == 2
