import dataclasses
import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from fieldrun.outputs.section_mirror import Part, SectionDrawing, whole_pole_pair
from fieldrun.outputs.section_picture import section_picture
from fieldrun.outputs.section_smooth import smooth_inside_parts, triangle_areas
from fieldrun.outputs.style import save_figure

TAU, H, G = 0.026, 0.006, 0.009
K = math.pi / TAU


def a_of(x, z):
    """A = -sin(kx) cosh(k (z - g/2)) / k, a field between two faces: B_z = dA/dx up to sign, even about mid-gap."""
    return -np.sin(K * x) * np.cosh(K * (z - G / 2)) / K


def strength_of(x, z):
    return np.hypot(np.cos(K * x) * np.cosh(K * (z - G / 2)), np.sin(K * x) * np.sinh(K * (z - G / 2)))


def grid(width, top=G / 2, nx=14, nz=20):
    x, z = np.meshgrid(np.linspace(0, width, nx), np.linspace(-H - 0.005, top, nz), indexing="ij")
    number = np.arange(nx * nz).reshape(nx, nz)
    a, b, c, d = (block.ravel() for block in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    triangles = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return np.stack([x.ravel(), z.ravel()], axis=1), triangles


def box(x0, x1, z0, z1):
    return ((x0, z0), (x1, z0), (x1, z1), (x0, z1))


def half_pole(*, per_triangle=False):
    points, triangles = grid(TAU / 2)
    strength = strength_of(*points.T)
    parts = (
        Part("magnet", box(0, 0.010, -H, 0), "magnet up"),
        Part("steel disc", box(0, TAU / 2, -H - 0.005, -H), "steel"),
        Part("gap", box(0, TAU / 2, 0, G / 2), "air"),
    )
    by = strength[triangles].mean(axis=1) if per_triangle else strength
    return SectionDrawing(points, triangles, a_of(*points.T), by, parts)


def test_half_a_pole_becomes_the_field_of_the_whole_pair():
    whole = whole_pole_pair(half_pole(), TAU, G / 2)
    x, z = whole.points_m.T
    assert x.min() == pytest.approx(-TAU / 2)
    assert x.max() == pytest.approx(1.5 * TAU)
    assert z.max() == pytest.approx(G + H + 0.005)
    assert whole.potential_wb_per_m == pytest.approx(a_of(x, z), abs=1e-12)
    assert whole.strength_t == pytest.approx(strength_of(x, z), rel=1e-9, abs=1e-12)


def test_a_whole_pole_closes_with_the_sign_turned():
    points, triangles = grid(TAU)
    lopsided = a_of(*points.T) + 0.001 * np.cos(K * points[:, 0])
    whole = whole_pole_pair(SectionDrawing(points, triangles, lopsided, strength_of(*points.T), ()), TAU)
    x, z = whole.points_m.T
    assert x.min() <= -TAU / 2
    assert x.max() >= 1.5 * TAU
    assert whole.potential_wb_per_m == pytest.approx(a_of(x, z) + 0.001 * np.cos(K * x), abs=1e-12)


def test_magnets_keep_pointing_as_symmetry_demands():
    """Halbach, strong side up: J = (-sin kx, cos kx) below the gap and (+sin kx, cos kx) above it."""
    parts = (
        Part("magnet", box(0, TAU / 4, -H, 0), "magnet up"),
        Part("magnet", box(TAU / 4, TAU / 2, -H, 0), "magnet", math.pi),
    )
    plain = half_pole()
    drawing = SectionDrawing(plain.points_m, plain.triangles, plain.potential_wb_per_m, plain.strength_t, parts)
    for part in whole_pole_pair(drawing, TAU, G / 2).parts:
        x, z = np.mean(part.polygon_m, axis=0)
        body = round(x / (TAU / 2))  # bodies are half a pole pitch wide, so that x lies a quarter body off its centre
        side = -1 if z < G / 2 else 1
        expected = np.array([side * math.sin(body * math.pi / 2), math.cos(body * math.pi / 2)])
        assert [math.cos(part.direction_rad), math.sin(part.direction_rad)] == pytest.approx(expected, abs=1e-9)
        assert part.kind == {1: "magnet up", -1: "magnet down", 0: "magnet"}[round(expected[1])]


def picture(**how):
    return section_picture(half_pole(**how), TAU, G / 2)


@pytest.mark.parametrize("per_triangle", [False, True])
def test_it_draws_with_labels_and_a_stated_range(per_triangle, tmp_path):
    figure = picture(per_triangle=per_triangle)
    svg, png = save_figure(figure, tmp_path, "section", {})
    text = svg.read_text()
    words = "".join(ET.fromstring(text).itertext())  # noqa: S314 our own file
    for word in ("magnet", "steel disc", "gap", "flux density, tesla", "mm along the motion", "mm above the magnets"):
        assert word in words
    assert not re.search(r"\bnan\b|\binf\b", re.sub(r'href="data:image[^"]*"', "", text))
    assert text.count("data:image/png") >= 1
    assert png.stat().st_size > 20_000
    assert re.search(r"flux density from 0 to [\d.]+ T in one pole pair, 52 mm", figure.get_label())


def test_it_is_true_to_scale():
    axes = picture().axes[0]
    assert axes.get_aspect() == 1
    assert axes.get_xlim() == pytest.approx((-13, 39))


def lines_of(figure):
    return next(c for c in figure.axes[0].collections if c.get_gid() == "outlines").get_segments()


def test_no_border_is_drawn_where_a_body_was_mirrored():
    """Two magnets below, two above, steel below and above: whole boxes, with no line on a mirror plane inside them."""
    segments = np.array(lines_of(picture()))
    upright = segments[np.ptp(segments[:, :, 0], axis=1) < 1e-6]
    at = np.unique(np.round(upright[:, 0, 0], 6))
    assert at.tolist() == [-13, -10, 10, 16, 36, 39]


def test_each_body_is_named_once_and_each_magnet_has_its_arrow():
    axes = picture().axes[0]
    names = [text.get_text() for text in axes.texts if text.get_text()]
    assert sorted(names) == ["gap", "magnet", "magnet", "magnet", "magnet", "steel disc", "steel disc"]
    arrows = [text for text in axes.texts if not text.get_text()]
    ups = sorted((round(arrow.xyann[0]), bool(arrow.xy[1] > arrow.xyann[1])) for arrow in arrows)
    assert [up for _, up in ups] == [True, True, False, False]


@pytest.mark.parametrize(("spike_t", "extend"), [(1.0, "neither"), (100.0, "max")])
def test_scale_covers_all_but_the_sharp_corners(spike_t, extend):
    """One triangle in hundreds has 100 T: the scale must not follow it, and must say that it is exceeded."""
    plain = half_pole()
    strength = np.ones(len(plain.triangles))
    strength[0] = spike_t
    drawing = SectionDrawing(plain.points_m, plain.triangles, plain.potential_wb_per_m, strength, plain.parts)
    axes = section_picture(drawing, TAU, G / 2).axes[0]
    image = next(c for c in axes.collections if c.get_gid() == "flux-density")
    assert (image.norm.vmin, image.norm.vmax) == (0, 1)
    assert image.colorbar.extend == extend


def two_bodies():
    """A flat strip of two bodies, 1 T and 2 T, that meet at x = 10 mm; triangles of different sizes."""
    points, triangles = grid(TAU / 2, top=0.0)
    middle = points[triangles].mean(axis=1)
    parts = (
        Part("magnet", box(-1, 0.010, -H, 0.001), "magnet up"),
        Part("gap", box(0.010, 1, -1, 1), "air"),
    )
    inside = (middle[:, 0] < 0.010) & (middle[:, 1] > -H)
    return SectionDrawing(points, triangles, points[:, 0], np.where(inside, 2.0, 1.0), parts), inside


def test_smoothing_keeps_bodies_sharp():
    drawing, inside = two_bodies()
    smooth = smooth_inside_parts(drawing)
    assert smooth.strength_t[smooth.triangles[inside]] == pytest.approx(np.full((inside.sum(), 3), 2.0))
    assert smooth.strength_t[smooth.triangles[~inside]] == pytest.approx(np.full(((~inside).sum(), 3), 1.0))
    assert smooth.points_m[smooth.triangles] == pytest.approx(drawing.points_m[drawing.triangles])
    assert smooth.potential_wb_per_m == pytest.approx(smooth.points_m[:, 0])


def test_smoothing_is_a_mean_weighted_by_area():
    points = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [-3.0, 0.0]])
    triangles = np.array([[0, 1, 2], [0, 2, 3]])
    smooth = smooth_inside_parts(SectionDrawing(points, triangles, np.zeros(4), np.array([1.0, 5.0]), ()))
    assert triangle_areas(points, triangles) == pytest.approx([0.5, 1.5])
    assert smooth.strength_t == pytest.approx([4, 1, 4, 5])


def test_values_per_point_are_left_alone():
    drawing = half_pole()
    assert smooth_inside_parts(drawing) is drawing


def test_flux_between_two_lines_is_said():
    largest = np.abs(half_pole().potential_wb_per_m).max()
    step = 2 * largest / 24 * 1000
    said = next(text.get_text() for text in picture().texts if "Between two lines" in text.get_text())
    assert float(re.search(r"([\d.]+) mWb", said)[1]) == pytest.approx(step, rel=5e-3)


def test_how_a_flat_section_differs_from_the_table_is_said():
    figure = section_picture(half_pole(), TAU, G / 2, 0.066)
    said = [text.get_text() for text in figure.texts]
    flat = "Flat section at the mean radius of 66 mm, magnets as if endless along it: "
    assert f"{flat}steel and gap may read higher than in the table." in said
    bare = half_pole()
    wooden = dataclasses.replace(bare, parts=tuple(part for part in bare.parts if part.kind != "steel"))
    said = [text.get_text() for text in section_picture(wooden, TAU, G / 2, 0.066).texts]
    assert f"{flat}the field may read other than in the table." in said


def test_a_short_arrow_has_a_small_head():
    """Its head takes half of it at most, whatever the scale: 16 pt heads were longer than arrows of few poles."""
    for width in (1, 8):
        drawing = half_pole()
        points = drawing.points_m * [width, 1]
        parts = tuple(
            dataclasses.replace(part, polygon_m=tuple((width * x, z) for x, z in part.polygon_m))
            for part in drawing.parts
        )
        figure = section_picture(dataclasses.replace(drawing, points_m=points, parts=parts), width * TAU, G / 2)
        axes = figure.axes[0]
        axes.apply_aspect()
        for arrow in (text for text in axes.texts if not text.get_text()):
            ends = axes.transData.transform([arrow.xy, arrow.xyann]) * 72 / figure.dpi
            length = float(np.hypot(*np.diff(ends, axis=0)[0]))
            assert 1.1 * arrow.arrow_patch.get_mutation_scale() <= 0.5 * length + 1e-9


def test_no_field_draws_no_lines(tmp_path):
    plain = half_pole()
    nothing = SectionDrawing(
        plain.points_m, plain.triangles, 0 * plain.potential_wb_per_m, 0 * plain.strength_t, plain.parts
    )
    figure = section_picture(nothing, TAU, G / 2)
    assert any("No flux" in text.get_text() for text in figure.texts)
    save_figure(figure, tmp_path, "none", {})


def test_the_same_section_gives_the_same_bytes(tmp_path):
    first, second = (save_figure(picture(), tmp_path / name, "s", {}) for name in "ab")
    assert first[0].read_bytes() == second[0].read_bytes()
