"""Where steel stands as a mirror, and which images count."""

from dataclasses import replace

import pytest

from fieldrun.design.model import Arc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.generator.mirrors import NO_STEEL, Disc, Plates, images, plates_of, reach_m

MAGNETS = Magnets(Arc(0.04, 0.06, 0.8), 12, 0.006, 1.2, 1.05, 7500.0)
STEEL, IDEAL = Plate(SteelCurve("mild", (0.0, 1.0), (0.0, 100.0)), 0.004), Plate(None)
TWO = Rotor(2, 0.010, STEEL, None, 0.03, 0.07)
ONE = Rotor(1, 0.010, None, None, 0.03, 0.07)
RADII = (0.03, 0.07)


def test_two_faces_on_steel_stand_a_gap_and_two_magnets_apart():
    plates = plates_of(MAGNETS, TWO)
    assert plates.heights_m == (-0.006, 0.016)
    assert plates.discs == (Disc(-0.006, -0.010, RADII), Disc(0.016, 0.020, RADII))
    assert plates_of(MAGNETS, replace(TWO, backing=None)) == NO_STEEL


def test_one_face_has_the_steel_it_is_given():
    assert plates_of(MAGNETS, ONE) == plates_of(MAGNETS, replace(ONE, gap_m=None)) == NO_STEEL
    assert plates_of(MAGNETS, replace(ONE, backing=STEEL, gap_m=None)).discs == (Disc(-0.006, -0.010, RADII),)
    assert plates_of(MAGNETS, replace(ONE, return_plate=STEEL)).discs == (Disc(0.010, 0.014, RADII),)
    both = plates_of(MAGNETS, replace(ONE, backing=STEEL, return_plate=STEEL))
    assert both.heights_m == (-0.006, 0.010)


def test_an_ideal_plate_has_no_edge():
    assert plates_of(MAGNETS, replace(TWO, backing=IDEAL)) == Plates((-0.006, 0.016))
    assert plates_of(MAGNETS, replace(ONE, backing=IDEAL, return_plate=STEEL)) == Plates((-0.006, 0.010))


def test_one_mirror_has_one_image():
    (image,) = images(Plates((0.002,)), 0.005, 0.0)
    assert (image.sign, image.shift_m) == (-1, 0.004)


def test_two_mirrors_reflect_each_others_images():
    """Every image mirrored in either plate is an image again, or the winding itself."""
    low, high, height = -0.006, 0.016, 0.004
    row = images(Plates((low, high)), height, 0.2)
    places = sorted(image.sign * height + image.shift_m for image in row)
    inside = [place for place in places if abs(place - height) < 0.15]
    assert len(inside) == 12  # 44 mm apart in two rows, without the winding itself
    for place in inside:
        for plate in (low, high):
            mirrored = 2 * plate - place
            assert min(abs(mirrored - other) for other in [*places, height]) < 1e-12


@pytest.mark.parametrize("within", [0.01, 0.05, 0.3])
def test_images_end_where_they_are_told_to(within):
    plates, height = Plates((-0.006, 0.016)), 0.004
    found = [abs(image.sign * height + image.shift_m - height) for image in images(plates, height, within)]
    every = [abs(image.sign * height + image.shift_m - height) for image in images(plates, height, 1.0)]
    assert sorted(found) == pytest.approx(sorted(distance for distance in every if distance <= within))


def test_many_poles_die_sooner():
    assert reach_m(0.08, 8) == pytest.approx(0.07)
    assert reach_m(0.08, 1) == pytest.approx(0.32)
