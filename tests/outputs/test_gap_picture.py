"""The cut through the gap: everything in it, at its place and to scale."""

import dataclasses
import math

import numpy as np
import pytest
from matplotlib.collections import PatchCollection
from matplotlib.patches import Rectangle

from fieldrun.design.examples import example_path
from fieldrun.design.model import Plate
from fieldrun.design.read import read_design
from fieldrun.outputs.colours import NORTH_FILL, SOUTH_FILL, STEEL_FILL
from fieldrun.outputs.gap_measures import LINE_IN
from fieldrun.outputs.gap_picture import gap_picture
from fieldrun.winding.lay import lay


def drawn(name, clearance_m=None, changes=None, **rotor):
    design = read_design(example_path(name), (), changes)
    turned = dataclasses.replace(design.rotor, **rotor)
    laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
    wanted = design.winding.clearance_m if clearance_m is None else clearance_m
    figure = gap_picture(laid, design.magnets, turned, design.wire.overall_diameter_m, wanted)
    return design, laid, figure


def boxes(figure, colour):
    from matplotlib.colors import to_rgb

    found = [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle)]
    return [box for box in found if np.allclose(box.get_facecolor()[:3], to_rgb(colour))]


def words(figure):
    texts = [*figure.texts, *figure.axes[0].texts]
    return [text.get_text() for text in texts]


def test_layers_of_the_gap_are_measured():
    design, laid, figure = drawn("hut-charger")
    thickness = f"{1e3 * laid.thickness_m:.3g} mm"
    free = f"{1e3 * (design.rotor.gap_m - laid.thickness_m) / 2:.3g} mm"
    assert {f"winding {thickness}", f"free below {free}", f"free above {free}"} <= set(words(figure))
    assert any(text.endswith("gap 8 mm") for text in words(figure))


def test_too_little_air_stands_out():
    weights = {}
    for wanted in (1e-3, 2e-3):
        figure = drawn("hut-charger", wanted)[2]
        weights[wanted] = {t.get_weight() for t in figure.axes[0].texts if t.get_text().startswith("free")}
    assert weights == {1e-3: {"normal"}, 2e-3: {"bold"}}


def test_magnets_and_steel_are_as_thick_as_stated():
    design, _, figure = drawn("hut-charger")
    steel, north = boxes(figure, STEEL_FILL), boxes(figure, NORTH_FILL)
    assert {round(box.get_height(), 9) for box in steel} == {1e3 * design.rotor.backing.thickness_m}
    assert {round(box.get_height(), 9) for box in north} == {1e3 * design.magnets.thickness_m}
    assert sorted({round(box.get_y(), 6) for box in north}) == [-6.0, 8.0]
    # two circles meet: the chord from the pitch circle's middle to either end is the disc's radius
    assert north[0].get_width() == pytest.approx(4 * 66 * math.asin(10 / 2 / 66))


def test_every_wire_of_the_stretch_is_there_once():
    design, laid, figure = drawn("hut-charger")
    axes = figure.axes[0]
    left, right = axes.get_xlim()
    share = (right - left) / (2 * math.pi * 66)
    shown = sum(len(c.get_paths()) for c in axes.collections if isinstance(c, PatchCollection))
    every = 2 * 8 * laid.rounds_per_phase * 3
    assert shown == pytest.approx(share * every, abs=3 * laid.sheets)
    assert laid.sheet_heights_m[0] > design.wire.overall_diameter_m / 2


@pytest.mark.parametrize(
    "rotor",
    [
        {"faces": 1, "gap_m": None},
        {"faces": 1, "gap_m": 0.009, "return_plate": Plate(None)},
        {"backing": None},
        {"backing": Plate(None)},
    ],
    ids=["open", "plate", "wood", "ideal"],
)
def test_every_kind_of_rotor_is_drawn(rotor):
    figure = drawn("hut-charger", **rotor)[2]
    heights = figure.axes[0].get_ylim()
    assert heights[0] < -6
    assert heights[1] > 6.5
    named = [text for text in words(figure) if "steel" in text]
    plates = {None: 0}.get(rotor.get("backing", 1), 1) * (2 if "faces" not in rotor else 1) + ("return_plate" in rotor)
    assert len(named) == plates
    assert ("free above" in " ".join(words(figure))) == (rotor.get("gap_m", 1) is not None)


def test_lying_magnets_are_mirrored_across_the_gap():
    figure = drawn("quiet-halbach")[2]
    arrows = [text for text in figure.axes[0].texts if text.arrow_patch is not None and not text.get_text()]
    ways = [(a.xy[0] - a.get_position()[0], a.xy[1] - a.get_position()[1], a) for a in arrows]
    lying = [(dx, arrow.xy[1] > 0, round(arrow.xy[0] - dx / 2, 6)) for dx, dz, arrow in ways if abs(dz) < 1e-9]
    below, above = ({x: dx for dx, up, x in lying if up == side} for side in (False, True))
    assert len(below) >= 1
    assert above == pytest.approx({x: -dx for x, dx in below.items()})


def labels(figure):
    """Heights of the labels beside the drawing, on paper [in]."""
    box, (low, high) = figure.axes[0].get_position(), figure.axes[0].get_ylim()
    inch = box.height * figure.get_figheight() / (high - low)
    told = [text for text in figure.axes[0].texts if text.get_text() and text.xy[0] > figure.axes[0].get_xlim()[1]]
    return {text.get_text(): inch * text.xy[1] for text in told}


def test_labels_of_thin_layers_stay_apart_and_thin_plates_are_named_beside():
    plate = dataclasses.replace(read_design(example_path("hut-charger")).rotor.backing, thickness_m=1e-3)
    few = {"magnets.count": 4, "winding.layers": 1}
    figure = drawn("plank-ring", changes=few, gap_m=0.0027, return_plate=plate)[2]
    places = labels(figure)
    assert [text.split()[0] for text in places] == ["free", "winding", "free", "steel"]
    assert min(np.diff(list(places.values()))) >= LINE_IN - 1e-9
    assert not any(text.get_text() == "steel" for text in figure.axes[0].texts if text.get_text() not in places)


def test_above_an_open_face_little_air_is_shown():
    _, laid, figure = drawn("plank-ring")
    top = 1e3 * (laid.sheet_heights_m.min() + laid.sheet_heights_m.max() + laid.thickness_m) / 2
    left, right = figure.axes[0].get_xlim()
    assert 0 < figure.axes[0].get_ylim()[1] - top < 0.05 * (right - left)


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_of_few_long_poles_both_magnets_and_both_directions_of_wire_are_in_sight(leg):
    """Between two discs at 4 places 84 mm of bare steel would fill the whole window."""
    name = {"chord": "plank-ring", "spiral": "hut-charger"}[leg]
    figure = drawn(name, changes={"magnets.count": 4, "winding.leg": leg})[2]
    left, right = figure.axes[0].get_xlim()
    for fill in (NORTH_FILL, SOUTH_FILL):
        seen = [min(right, b.get_x() + b.get_width()) - max(left, b.get_x()) for b in boxes(figure, fill)]
        assert max(seen) >= 0.2 * boxes(figure, fill)[0].get_width()
    faces = {tuple(c.get_facecolor()[0]) for c in figure.axes[0].collections if len(c.get_paths())}
    assert (1.0, 1.0, 1.0, 1.0) in faces
    assert len(faces) > 1


def test_magnets_keep_their_back_edge():
    """Plates lie under magnets, and no plate has an edge of its own."""
    figure = drawn("hut-charger")[2]
    steel, north = boxes(figure, STEEL_FILL), boxes(figure, NORTH_FILL)
    assert max(box.get_zorder() for box in steel) < min(box.get_zorder() for box in north)
    assert {box.get_linewidth() for box in steel} == {0}
