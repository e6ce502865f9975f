"""What a picture of a section is drawn from is the solved section, whole and in plain words."""

import math

import numpy as np
import pytest

from fieldrun.outputs.section_drawing import section_drawing


def areas(drawing):
    a, b, c = (drawing.points_m[drawing.triangles[:, i]] for i in range(3))
    return np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2


@pytest.mark.parametrize("example", ["hut-charger", "plank-ring", "quiet-halbach"])
def test_triangles_cover_the_section_once(bundled, example):
    field = bundled(example).section
    drawing = section_drawing(field)
    whole = field.section.width_m * (field.section.top_m - field.section.bottom_m)
    assert areas(drawing).sum() == pytest.approx(whole, rel=1e-9)
    weighed = areas(drawing) @ drawing.points_m[drawing.triangles].mean(axis=1) / whole
    middle = (field.section.width_m / 2, (field.section.top_m + field.section.bottom_m) / 2)
    assert weighed == pytest.approx(middle, abs=1e-9)  # a piece drawn twice and one left out would shift it
    assert len(drawing.points_m) == len(drawing.potential_wb_per_m) == len(field.potential)
    assert len(drawing.strength_t) == len(drawing.triangles)


def test_strength_is_the_slope_of_the_potential(bundled):
    """|B| = |grad A|, taken here from the corners of each triangle."""
    drawing = section_drawing(bundled("plank-ring").section)
    corners, potential = drawing.points_m[drawing.triangles], drawing.potential_wb_per_m[drawing.triangles]
    sides = corners[:, 1:] - corners[:, :1]
    slope = np.linalg.solve(sides, (potential[:, 1:] - potential[:, :1])[..., None])[..., 0]
    off = np.linalg.norm(slope, axis=1) - drawing.strength_t
    assert np.sqrt(np.average(off**2, weights=areas(drawing))) < 0.03 * drawing.strength_t.max()


def test_bodies_have_plain_names_and_directions(bundled):
    parts = section_drawing(bundled("hut-charger").section).parts
    assert {(part.name, part.kind) for part in parts} == {("magnet", "magnet up"), ("steel", "steel")}
    (magnet,) = (part for part in parts if part.kind == "magnet up")
    assert magnet.direction_rad == pytest.approx(math.pi / 2)


def test_a_halbach_pole_has_magnets_that_lie_on_their_side(bundled):
    parts = section_drawing(bundled("quiet-halbach").section).parts
    assert all(part.kind.startswith("magnet") for part in parts)
    turned = sorted({round(math.degrees(part.direction_rad)) % 180 for part in parts})
    assert turned == [0, 90]


def test_a_return_plate_is_told_from_the_backing(answered):
    plates = {"rotor.backing": "mild steel", "rotor.backing_mm": 4, "rotor.gap_mm": 8}
    plates |= {"rotor.return_plate": "mild steel", "rotor.return_plate_mm": 3}
    parts = section_drawing(answered("plank-ring", plates).section).parts
    assert {part.name for part in parts if part.kind == "steel"} == {"steel", "steel plate"}
