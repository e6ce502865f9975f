"""The circuit that leaks: its limits, its size by an integral of its own, and what it cannot do."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.reference.circuit import axis_b1, circuit_b1
from fieldrun.reference.leakage import leakage_factor, leaky_circuit_b1, leaky_flat
from fieldrun.reference.shares import covered_share

RADIUS = 0.06

MAGNETS = Magnets(Arc(0.045, 0.075, 0.7), 16, 0.008, 1.3, 1.05, 7500)

TWO_FACES = Rotor(2, 0.006, Plate(None), None, 0.04, 0.08)
TO_PLATE = Rotor(1, 0.006, Plate(None), Plate(None), 0.04, 0.08)


def machine(gap, thickness, share, faces=2):
    """A machine of one pole pitch, its ratios free."""
    pitch = math.pi * RADIUS / 8
    magnets = replace(MAGNETS, outline=Arc(0.045, 0.075, share), thickness_m=thickness * pitch)
    return magnets, replace(TWO_FACES if faces == 2 else TO_PLATE, gap_m=gap * pitch)


ratios = {
    "gap": st.floats(0.05, 1.0),
    "thickness": st.floats(0.05, 0.8),
    "share": st.floats(0.3, 0.95),
    "faces": st.sampled_from([1, 2]),
}


@pytest.mark.parametrize("formula", [circuit_b1, leaky_circuit_b1])
@pytest.mark.parametrize("faces", [1, 2])
def test_without_a_gap_both_circuits_carry_the_remanence(formula, faces):
    magnets, rotor = machine(1e-9, 0.3, 0.7, faces)
    square = 4 / math.pi * math.sin(0.7 * math.pi / 2) * 1.3
    assert formula(magnets, rotor, 0.0, RADIUS) == pytest.approx(square, rel=1e-7)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(**ratios)
def test_what_leaks_is_missing_in_the_gap(gap, thickness, share, faces):
    magnets, rotor = machine(gap, thickness, share, faces)
    assert 0 < leaky_circuit_b1(magnets, rotor, 0.0, RADIUS) < circuit_b1(magnets, rotor, 0.0, RADIUS)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(**ratios)
def test_the_factor_is_the_permeance_of_its_paths(gap, thickness, share, faces):
    """Flux lines of length s + pi x summed by quadrature, two sides, each seen against the neutral plane between."""
    magnets, rotor = machine(gap, thickness, share, faces)
    pitch = math.pi * RADIUS / 8
    reach = min(gap * pitch / faces, share * pitch / 2)
    between = quad(lambda x: 1 / ((1 - share) * pitch + math.pi * x), 0, reach)[0]
    inside = 1.05 * share * pitch / magnets.thickness_m
    assert leakage_factor(magnets, rotor, RADIUS) == pytest.approx(1 + 4 * between / inside, rel=1e-9)


def test_a_face_before_a_plate_is_half_of_two_faces():
    single, double = machine(0.2, 0.3, 0.7, 1), machine(0.4, 0.3, 0.7, 2)
    assert leaky_circuit_b1(*single, 0.0, RADIUS) == pytest.approx(leaky_circuit_b1(*double, 0.0, RADIUS), rel=1e-12)
    assert leaky_flat(*single, RADIUS) == pytest.approx(leaky_flat(*double, RADIUS), rel=1e-12)


def test_where_no_steel_closes_a_circuit_nothing_can_leak():
    for rotor in (replace(TWO_FACES, backing=None), replace(TO_PLATE, return_plate=None, gap_m=None)):
        with pytest.raises(ValueError, match=r"^no steel closes a circuit that flux could leak from$"):
            leakage_factor(MAGNETS, rotor, RADIUS)


def test_magnets_that_touch_or_are_not_there_leave_no_room_for_the_paths():
    told = "^magnets must cover more than none and less than all of the circle; received {}$"
    with pytest.raises(ValueError, match=told.format(1)):
        leakage_factor(replace(MAGNETS, outline=Arc(0.045, 0.075, 1.0)), TWO_FACES, RADIUS)
    with pytest.raises(ValueError, match=told.format(0)):
        leakage_factor(MAGNETS, TWO_FACES, 0.09)


def test_on_the_axis_steel_makes_no_circuit_but_an_image():
    """Where no steel closes a circuit the hand calculation is the axis formula; where it does, they part."""
    open_above = replace(TO_PLATE, return_plate=None, gap_m=None)
    assert axis_b1(MAGNETS, open_above, 0.003, RADIUS) == circuit_b1(MAGNETS, open_above, 0.003, RADIUS)
    mated = 2 * axis_b1(MAGNETS, open_above, 0.003, RADIUS)
    assert axis_b1(MAGNETS, TWO_FACES, 0.003, RADIUS) == pytest.approx(mated, rel=1e-12)
    assert covered_share(MAGNETS, RADIUS) == pytest.approx(0.7)
    assert circuit_b1(MAGNETS, TWO_FACES, 0.003, RADIUS) > axis_b1(MAGNETS, TWO_FACES, 0.003, RADIUS)
