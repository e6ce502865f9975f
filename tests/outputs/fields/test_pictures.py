"""Pictures show the numbers they are given: colours, curves and bars are read back from the figures."""

import dataclasses
import math

import numpy as np
import pytest

from fieldrun.design.model import Disc
from fieldrun.field.ring_view import ring_view
from fieldrun.field.slabs import Slab
from fieldrun.outputs.fields.asked import Asked, Places, places_of
from fieldrun.outputs.fields.bars import harmonics_of, harmonics_picture
from fieldrun.outputs.fields.cuts import cuts_of, cuts_picture, shown_radii
from fieldrun.outputs.fields.field_set import field_set
from fieldrun.outputs.fields.figures import draw_all
from fieldrun.outputs.fields.gap_map import gap_map, shown_heights
from fieldrun.outputs.fields.radial_cut import radial_cut

MINUS = "\N{MINUS SIGN}"


@pytest.fixture(scope="module")
def fields(hut):
    return field_set(hut, Asked())


def texts(figure):
    return [text.get_text() for text in figure.texts]


def test_the_map_has_a_panel_for_each_height_and_tells_its_range(hut, fields):
    figure = gap_map(fields.map_grid, hut.design.magnets, fields.winding_m, 0.8)
    panel, scale = figure.axes
    assert panel.get_title(loc="left") == "4 mm above the lower magnets"
    assert any(f"scale from {MINUS}0.8 to +0.8 T" in text for text in texts(figure))
    assert panel.get_xlim() == pytest.approx((-11.25, 33.75))
    low, high = panel.get_ylim()
    assert low < 53
    assert high > 79
    assert [text.get_text() for text in panel.texts] == ["N", "S"]
    assert scale.get_ylim() == pytest.approx((-0.8, 0.8))


def test_outlines_on_the_map_are_the_magnets(hut, fields):
    panel = gap_map(fields.map_grid, hut.design.magnets, fields.winding_m, 0.8).axes[0]
    lines = [np.array(line.get_data()) for line in panel.lines if len(line.get_xdata()) > 100]
    assert len(lines) >= 4  # ground and line of two poles at least
    for theta, r in lines:
        pole = 22.5 * round(float(theta.mean()) / 22.5)
        angle = np.radians(theta - pole)
        distance = np.hypot(r * np.cos(angle) - 66, r * np.sin(angle))
        assert distance == pytest.approx(10, abs=1e-5)
        assert (theta[0], r[0]) == (theta[-1], r[-1])


@pytest.mark.parametrize(("shape", "area"), [("block", 25.0 * 10.0), ("arc", math.pi / 12 * 0.85 * (70**2 - 45**2))])
def test_outlines_of_blocks_and_arcs_close_around_their_area(shape, area, plank, answered):
    result = plank if shape == "arc" else answered("quiet-halbach")
    panel = gap_map(field_set(result, Asked()).map_grid, result.design.magnets, (0.05, 0.07), 1.0).axes[0]
    theta, r = next(np.array(line.get_data()) for line in panel.lines if abs(np.mean(line.get_xdata())) < 0.1)
    angle = np.radians(theta)
    # area inside a closed line in polar coordinates: half the integral of r^2 dtheta
    steps = np.diff(angle) * (r[1:] ** 2 + r[:-1] ** 2) / 2
    assert abs(steps.sum()) / 2 == pytest.approx(area, rel=2e-3)


def test_of_many_heights_three_are_shown():
    assert shown_heights(np.arange(2.0)) == [0, 1]
    assert shown_heights(np.arange(9.0)) == [0, 4, 8]
    assert shown_radii(np.arange(2.0)) == [0, 1]
    assert shown_radii(np.arange(9.0)) == [2, 4, 6]


def test_cuts_are_the_field(hut, fields):
    figure = cuts_picture(fields.cuts, 0.8)
    over_angle, over_radius, over_height = figure.axes
    for name, curve in zip((59, 66, 73), over_angle.lines[:3], strict=True):
        assert curve.get_label() == f"{name} mm"
        x, y = curve.get_data()
        assert y == pytest.approx(hut.field_at(name / 1e3, np.radians(x), 0.004)[2])
    x, y = over_radius.lines[1].get_data()
    assert y == pytest.approx(hut.field_at(x / 1e3, 0.0, 0.004)[2])
    x, y = over_height.lines[1].get_data()
    assert (x[0], x[-1]) == pytest.approx((0, 8))
    assert y == pytest.approx(hut.field_at(0.066, 0.0, x / 1e3)[2])
    assert over_angle.get_ylim() == (-0.8, 0.8)
    assert over_height.get_ylim() == (0, 0.8)


def test_places_near_faces_are_shaded(hut, plank, fields):
    assert np.array(fields.cuts.unsure_m) == pytest.approx(np.array([[0, 0.001], [0.007, 0.008]]))
    open_cuts = cuts_of(plank, places_of(plank, Asked()), np.array([0.044, 0.071]))
    assert np.array(open_cuts.unsure_m) == pytest.approx(np.array([[0, 0.001]]))
    assert open_cuts.over_height.places[-1] == pytest.approx(2 * 1e3 * plank.lay.sheet_heights_m[-1])


def test_over_height_the_scale_may_be_its_own(plank):
    places = Places(np.array([0.057]), np.array([0.0]), np.array([0.04]))
    cuts = cuts_of(plank, places, np.array([0.044, 0.071]))
    figure = cuts_picture(cuts, 0.01, 0.4)
    assert any("scales to 0.01 and, over height, 0.4 T" in text for text in texts(figure))
    assert [axes.get_ylim()[1] for axes in figure.axes] == [0.01, 0.01, 0.4]
    assert cuts.over_angle.places[-1] == pytest.approx(60)  # one angle is asked: a pole pair is shown


def test_bars_are_the_harmonics(hut, fields):
    found = harmonics_of(hut, places_of(hut, Asked()))
    assert found.orders.tolist() == [1, 3, 5, 7, 9, 11, 13, 15]
    theta = 2 * math.pi / 8 * np.arange(256) / 256
    axial = hut.field_at(0.066, theta, 0.004)[2]
    third = 2 * np.mean(axial * np.cos(3 * 8 * theta))
    assert found.b_z_t[1, 1] == pytest.approx(third, abs=1e-9)
    axes = harmonics_picture(found).axes[0]
    bars = [bar for bar in axes.patches if bar.get_width() > 0]
    assert len(bars) == 24
    third_bar = bars[8 + 1]
    assert third_bar.get_height() == pytest.approx(100 * abs(third) / found.b_z_t[1, 0])
    assert third_bar.get_facecolor() == (1, 1, 1, 1)  # hollow: against the main wave
    assert bars[8].get_facecolor() != (1, 1, 1, 1)
    labels = [text.get_text() for text in axes.get_legend().get_texts()]
    assert labels[1] == "66 mm: main wave 0.722 T"


def box_around(patch):
    """Left, low, width and height of a polygon."""
    corners = patch.get_xy()
    return (*corners.min(axis=0), *np.ptp(corners, axis=0))


def test_a_magnet_of_slabs_has_one_outline(hut):
    magnets, rotor = hut.design.magnets, hut.design.rotor
    foot, top = Slab(-0.006, -0.002, magnets.outline), Slab(-0.002, 0.0, Disc(0.016, 0.066))
    axes = radial_cut(ring_view(magnets, rotor, (foot, top)), rotor, hut.lay, 1.6).axes[0]
    lower = axes.patches[0].get_xy()[:-1]
    wanted = [(76, -6), (76, -2), (74, -2), (74, 0), (58, 0), (58, -2), (56, -2), (56, -6)]
    assert lower == pytest.approx(np.array(wanted))
    upper = axes.patches[1].get_xy()[:-1]
    assert sorted(map(tuple, upper.round(6))) == sorted((x, 8.0 - z) for x, z in wanted)
    assert [text.get_text() for text in axes.texts] == ["magnet", "magnet", "steel", "steel"]


def test_the_cut_along_the_radius_shows_flux_steel_and_winding(hut, fields):
    axes, scale = radial_cut(fields.view, hut.design.rotor, hut.lay, 1.6).axes
    boxes = [box_around(patch) for patch in axes.patches]
    wanted = [(56, -6, 20, 6), (56, 8, 20, 6), (50, -12, 32, 6), (50, 14, 32, 6)]
    assert np.array(boxes[:4]) == pytest.approx(np.array(wanted), abs=1e-6)
    x, _, width, height = boxes[4]
    assert (x, width, height) == pytest.approx((53, 26, 1e3 * hut.lay.thickness_m))
    mesh = next(one for one in axes.collections if one.get_gid() == "flux-density")
    assert mesh.get_clim() == (0, 1.6)
    assert 1.0 < mesh.get_array().max() < 1.4
    arrows = next(one for one in axes.collections if hasattr(one, "U"))
    assert np.hypot(arrows.U, arrows.V) == pytest.approx(1)
    places = np.column_stack([arrows.X, arrows.Y])
    over_magnet = (np.abs(places[:, 0] - 66) < 8) & (places[:, 1] > 0) & (places[:, 1] < 8)
    known = hut.field_at(places[over_magnet, 0] / 1e3, 0.0, places[over_magnet, 1] / 1e3)[[0, 2]]
    known /= np.linalg.norm(known, axis=0)
    assert np.stack([arrows.U, arrows.V])[:, over_magnet] == pytest.approx(known, abs=0.05)
    assert scale.get_ylabel() == "flux density, tesla"


def test_the_cut_along_the_radius_of_blocks_and_arcs(plank, answered):
    for result, ends in ((plank, (45, 25)), (answered("quiet-halbach"), (57.5, 25))):
        view = ring_view(result.design.magnets, result.design.rotor)
        axes = radial_cut(view, result.design.rotor, result.lay, 1.0).axes[0]
        x, _, width, _ = box_around(axes.patches[0])
        assert (x, width) == pytest.approx(ends)
        assert len(axes.patches) == 1 + result.design.rotor.faces  # magnets and winding: no steel
        low, high = axes.get_ylim()
        assert low < -1e3 * result.design.magnets.thickness_m
        assert high > 1e3 * result.lay.sheet_heights_m.max()


def test_a_field_that_is_none_has_no_bars(hut, fields):
    none = dataclasses.replace(fields.harmonics, b_z_t=np.zeros_like(fields.harmonics.b_z_t))
    bars = [bar for bar in harmonics_picture(none).axes[0].patches if bar.get_width() > 0]
    assert all(bar.get_height() == 0 for bar in bars)


@pytest.mark.slow
def test_all_pictures_of_two_designs(hut, wider, tmp_path):
    draw_all(field_set(hut, Asked(), wider), tmp_path)
    stems = {"section", "section-other", "radial", "gap", "cuts", "harmonics", "difference"}
    assert {path.name for path in tmp_path.iterdir()} == {
        f"field-{s}.{e}" for s in stems for e in ("svg", "png", "pdf")
    }
    svg = (tmp_path / "field-difference.svg").read_text(encoding="utf-8")
    assert "hut-charger less hut-charger" in svg  # the fixture's second design bears the same name
    assert f"other_hash: {wider.design_hash}" in svg
    assert wider.design_hash in (tmp_path / "field-section-other.svg").read_text(encoding="utf-8")
