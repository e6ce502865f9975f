import dataclasses
import math

import pytest

from fieldrun.design.model import Arc, Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.reference.closed_forms import (
    HalbachFace,
    block_face,
    halbach_face,
    halbach_gap,
    in_air_to_plate,
    on_iron_to_plate,
    one_face_in_air,
    one_face_on_iron,
    two_faces_in_air,
    two_faces_on_iron,
)
from fieldrun.reference.estimates import estimates, largest_permeability, machine_stack
from fieldrun.reference.shares import covered_share

IDEAL = Plate(None)
STEEL = SteelCurve("invented", (0.0, 0.5, 1.5, 1.8), (0.0, 250.0, 1000.0, 9000.0))
ARCS = Magnets(Arc(0.050, 0.080, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
G, Z = 0.009, 0.003


def rotor(faces=2, gap=G, backing=IDEAL, plate=None):
    return Rotor(faces, gap, backing, plate, 0.05, 0.082)


# machine, its closed form
MACHINES = {
    "two faces, ideal": (rotor(), lambda face: two_faces_on_iron(face, G, Z)),
    "two faces, none": (rotor(backing=None), lambda face: two_faces_in_air(face, G, Z)),
    "one face, none": (rotor(1, None, None), lambda face: one_face_in_air(face, Z)),
    "one face, ideal": (rotor(1, None), lambda face: one_face_on_iron(face, Z)),
    "ideal to plate": (rotor(1, plate=IDEAL), lambda face: on_iron_to_plate(face, G, Z)),
    "none to plate": (rotor(1, backing=None, plate=IDEAL), lambda face: in_air_to_plate(face, G, Z)),
}


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize(("magnets", "radius"), [(ARCS, 0.065), (DISCS, 0.066)])
def test_layered_estimate_is_the_closed_form_at_the_mean_radius(name, magnets, radius):
    machine, formula = MACHINES[name]
    face = block_face((1,), math.pi * radius / 8, 1.3, covered_share(magnets, radius), (0.006, 1.05))
    layered = estimates(magnets, machine, Z)[1]
    assert layered.name == "layered Fourier"
    assert layered.b1_t == pytest.approx(formula(face)[0], rel=1e-11)


def test_radius_can_be_chosen():
    face = block_face((1,), math.pi * 0.058 / 8, 1.3, covered_share(DISCS, 0.058), (0.006, 1.05))
    assert estimates(DISCS, rotor(), Z, 0.058)[1].b1_t == pytest.approx(two_faces_on_iron(face, G, Z)[0], rel=1e-11)


@pytest.mark.parametrize("name", MACHINES)
def test_the_hand_calculation_is_in_the_right_street(name):
    by_hand, layered = estimates(ARCS, MACHINES[name][0], Z)
    assert 0.7 < by_hand.b1_t / layered.b1_t < 1.7


def test_halbach_by_hand_and_by_layers():
    magnets = dataclasses.replace(
        ARCS, outline=Arc(0.050, 0.080, 1.0), recoil_permeability=1.0, pattern="halbach", segments_per_pole=2
    )
    face = HalbachFace(2 * math.pi * 0.065 / 8, 0.006, 1.3, 4)
    for machine, expected in (
        (rotor(1, None, None), halbach_face(face, 1, Z)),
        (rotor(2, G, None), halbach_gap(face, 1, G, Z)),
        (rotor(1, G, None, IDEAL), halbach_gap(face, 1, 2 * G, Z)),
    ):
        by_hand, layered = estimates(magnets, machine, Z)
        assert by_hand.name == "Halbach formula"
        assert by_hand.b1_t == pytest.approx(expected, rel=1e-12)
        assert layered.b1_t == pytest.approx(expected, rel=1e-12)


def test_steel_plate_counts_with_its_largest_permeability():
    assert largest_permeability(STEEL) == pytest.approx(0.5 / (4e-7 * math.pi * 250.0))
    thin, thick, ideal = (
        estimates(ARCS, rotor(backing=backing), Z)[1].b1_t
        for backing in (Plate(STEEL, 1e-5), Plate(STEEL, 0.05), IDEAL)
    )
    in_air = estimates(ARCS, rotor(backing=None), Z)[1].b1_t
    assert in_air < thin < thick < ideal
    assert thick == pytest.approx(ideal, rel=1e-3)


def test_curve_without_any_point_above_zero_is_air():
    assert largest_permeability(SteelCurve("nothing", (0.0,), (0.0,))) == 1.0


@pytest.mark.parametrize(
    ("magnets", "machine", "name", "by_hand", "layered"),
    [
        (ARCS, rotor(), "magnetic circuit", "reads high", "magnet material."),
        (ARCS, rotor(1, None, None), "single magnets on their axis", "no neighbours", "magnet material."),
        (ARCS, rotor(backing=Plate(STEEL, 0.005)), "magnetic circuit", "reads high", "never saturates."),
    ],
)
def test_each_estimate_says_what_it_leaves_out(magnets, machine, name, by_hand, layered):
    got = estimates(magnets, machine, Z)
    assert got[0].name == name
    assert by_hand in got[0].leaves_out
    assert got[1].leaves_out.endswith(layered)


@pytest.mark.parametrize("height", [-0.001, 0.010, math.nan])
def test_height_outside_the_gap_is_refused(height):
    with pytest.raises(ValueError, match=r"is not in the gap, 0\.\.0\.009 m"):
        estimates(ARCS, rotor(), height)


def test_stack_starts_below_the_magnets_and_their_steel():
    stack = machine_stack(ARCS, rotor(backing=Plate(STEEL, 0.005)), 0.065, (1, 3))
    assert stack.bottom_m == pytest.approx(-0.011)
    assert [layer.thickness_m for layer in stack.layers] == [0.005, 0.006, G, 0.006, 0.005]
