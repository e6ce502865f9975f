"""Inductances from tables and closed forms, none of them the program's own.

F. W. Grover, Inductance Calculations (1946): circular loop and square of round wire, two equal parallel squares (all
from memory). J. C. Maxwell, A Treatise on Electricity and Magnetism (1873), art. 701: coaxial circles by elliptic
integrals (from memory), here through scipy.special. Wires carry their current evenly over the section.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from fieldrun.design.model import Wire
from fieldrun.design.units import MU0
from fieldrun.generator.inductance import neumann_matrix
from fieldrun.generator.mirrors import NO_STEEL, Plates
from fieldrun.winding.pieces import ARC, LINE, SPIRAL, Pieces

WIRE = Wire("solid", 1e-3, 1, 1.1e-3)
HALF_PERCENT = 5e-3


def henries(pieces, phases=1, plates=NO_STEEL, wire=WIRE):
    return MU0 / (4 * math.pi) * neumann_matrix(pieces, wire, phases, 1, plates)


def ring(points, kind, phase=0, *, closed_by=0.0):
    """A loop through points (r, theta, z), closed by a last piece; `closed_by` turns the first point for it."""
    first = np.array(points, float)
    last = np.vstack([first[1:], first[0] + [0, closed_by, 0]])
    count = len(first)
    return Pieces(np.full(count, kind), first, last, np.full(count, phase), np.full(count, phase))


def circle(radius, height=0.0, phase=0, parts=1, kind=ARC):
    angles = 2 * np.pi * np.arange(parts) / parts
    return ring([(radius, a, height) for a in angles], kind, phase, closed_by=2 * np.pi)


def square(side, height=0.0, phase=0):
    return ring([(side / math.sqrt(2), a * np.pi / 2, height) for a in range(4)], LINE, phase)


def joined(*loops):
    return Pieces(*(np.concatenate([getattr(x, n) for x in loops]) for n in ("kind", "start", "end", "phase", "loop")))


def maxwell(radius, other, distance):
    m = 4 * radius * other / ((radius + other) ** 2 + distance**2)
    k = np.sqrt(m)
    return MU0 * np.sqrt(radius * other) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))


@pytest.mark.parametrize("parts", [1, 2, 5])
@pytest.mark.parametrize("kind", [ARC, SPIRAL])
@pytest.mark.parametrize(("radius", "copper"), [(0.05, 1e-3), (0.05, 0.1e-3), (0.1, 3e-3)])
def test_a_circle_of_round_wire(radius, copper, parts, kind):
    """Grover: mu0 R (ln(8 R / a) - 7/4), of which 1/4 is the field inside the wire."""
    wire = replace(WIRE, strand_diameter_m=copper, overall_diameter_m=1.1 * copper)
    wanted = MU0 * radius * (math.log(16 * radius / copper) - 7 / 4)
    assert henries(circle(radius, parts=parts, kind=kind), wire=wire)[0, 0] == pytest.approx(wanted, rel=HALF_PERCENT)


@pytest.mark.parametrize(("side", "copper"), [(0.1, 1e-3), (0.03, 0.5e-3)])
def test_a_square_of_round_wire(side, copper):
    """Grover: 2 mu0 s / pi (ln(s / a) - 0.77401 + 1/4 + a / s), of which 1/4 is the field inside the wire."""
    wire = replace(WIRE, strand_diameter_m=copper, overall_diameter_m=1.1 * copper)
    a = copper / 2
    wanted = 2 * MU0 * side / math.pi * (math.log(side / a) - 0.77401 + 1 / 4 + a / side)
    assert henries(square(side), wire=wire)[0, 0] == pytest.approx(wanted, rel=HALF_PERCENT)


@pytest.mark.parametrize(("side", "distance"), [(0.1, 0.02), (0.1, 0.1), (0.05, 0.004)])
def test_two_equal_parallel_squares(side, distance):
    """Grover, ch. 8: 2 mu0 / pi [a ln((a + sqrt(a^2 + d^2)) / (a + sqrt(2 a^2 + d^2)) sqrt(a^2 + d^2) / d) +
    sqrt(2 a^2 + d^2) - 2 sqrt(a^2 + d^2) + d].
    """
    near, far = math.hypot(side, distance), math.sqrt(2 * side**2 + distance**2)
    log = math.log((side + near) / (side + far) * near / distance)
    wanted = 2 * MU0 / math.pi * (side * log + far - 2 * near + distance)
    found = henries(joined(square(side), square(side, distance, phase=1)), phases=2)
    assert found[0, 1] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("other", "distance"), [(0.05, 0.01), (0.05, 0.05), (0.03, 0.02), (0.045, 0.0), (0.2, 0.3)])
def test_two_coaxial_circles(other, distance):
    found = henries(joined(circle(0.05), circle(other, distance, phase=1)), phases=2)
    assert found[0, 1] == pytest.approx(maxwell(0.05, other, distance), rel=1e-3)


@pytest.mark.parametrize("height", [0.002, 0.01, 0.05])
def test_a_circle_over_a_plate_gains_what_its_image_adds(height):
    """Current along a plate of infinite permeability has its image in the same direction, twice the height away."""
    gained = henries(circle(0.05, height), plates=Plates((0.0,))) - henries(circle(0.05, height))
    assert gained[0, 0] == pytest.approx(maxwell(0.05, 0.05, 2 * height), rel=HALF_PERCENT)


@pytest.mark.parametrize(("between", "height"), [(0.02, 0.01), (0.03, 0.008), (0.2, 0.05)])
def test_a_circle_between_two_plates_gains_an_endless_row_of_images(between, height):
    shifts = 2 * between * np.arange(100_000)
    row = maxwell(0.05, 0.05, np.concatenate([2 * height + shifts, 2 * (between - height) + shifts]))
    wanted = row.sum() + 2 * maxwell(0.05, 0.05, shifts[1:]).sum()
    gained = henries(circle(0.05, height), plates=Plates((0.0, between))) - henries(circle(0.05, height))
    assert gained[0, 0] == pytest.approx(wanted, rel=2e-3)


def test_a_hundred_turns_on_one_circle_are_a_coil_of_square_section():
    """Grover: mu0 N^2 R (ln(8 R / g) - 2), g = 0.447 of the side, for a coil that is small beside its radius."""
    turns, radius = 100, 0.05
    coil = joined(*(circle(radius) for _ in range(turns)))
    coil = Pieces(coil.kind, coil.start, coil.end, coil.phase, np.arange(turns))
    side = math.sqrt(turns) * WIRE.overall_diameter_m
    wanted = MU0 * turns**2 * radius * (math.log(8 * radius / (0.447 * side)) - 2)
    # 1.5 %: a side of a fifth of the radius is not small any more (0.8 %), and single wires add their own fields
    assert henries(coil)[0, 0] == pytest.approx(wanted, rel=0.015)
