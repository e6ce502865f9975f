"""A sample disc, computed from E = v x B along each leg outside this project, and a whole chain by hand.

p = 8 pole pairs, r1 = 60 mm, r2 = 110 mm, B_z = 0.5 T cos(p theta - p omega t) whatever the radius, 300 rpm, 40 Hz.
Only dr counts: a leg's phasor is omega B1 times the integral of r exp(j p theta(r)) dr. Printed digits: adaptive
quadrature and, for spirals, the closed form about the leg's middle

    omega B1 { rm L sinX/X + j (L^2/2) (sinX/X^2 - cosX/X) },  X = n p span / 2.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import uniform_map
from fieldrun.generator.emf import emf_harmonics, emf_per_speed
from fieldrun.generator.impedance import impedance
from fieldrun.winding.factors import factors
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import LINE, SPIRAL, Pieces, lengths

P, R1, R2, B1 = 8, 0.060, 0.110, 0.5
OMEGA = 300 * math.pi / 30
TAU = math.pi / P
FIELD = uniform_map(P, [B1, B1, B1, B1], (0.05, 0.12), 0.01)
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3, temperature_c=75.0)
ROUND = Winding("zigzag", R1, R2, 1, 1, 1, 0.005)

LEGS = [
    # kind, span in pole pitches, Re E [V], Im E [V], length [mm]
    (LINE, 0.0, 0.0667588439, 0.0, 50.0),
    (SPIRAL, 1.0, 0.0425000000, 0.0079577472, 60.303320),
    (LINE, 1.0, 0.0384223000, 0.0267656084, 59.201268),
    (SPIRAL, 0.5, 0.0601040764, 0.0048302384, None),
    (LINE, 0.5, 0.0591213248, 0.0149469245, None),
    (SPIRAL, 1.5, 0.0200346921, 0.0083934352, None),
    (LINE, 1.5, 0.0109424670, 0.0314463732, None),
]

ZIGZAG_BY_ORDER = {  # n = 1, 3, 5, 7, against a radial leg
    "spiral": [2 / math.pi, -2 / (3 * math.pi), 2 / (5 * math.pi), -2 / (7 * math.pi)],
    "chord": [0.5755387271, -0.2866895832, 0.1826197134, -0.1329276595],
}

CHORD_BY_POLE_PAIRS = [
    (4, 0.5371435919),
    (6, 0.5654626995),
    (8, 0.5755387271),
    (10, 0.5802315956),
    (12, 0.5827885559),
    (16, 0.5853364068),
]


def leg(kind: int, span: float) -> Pieces:
    """One leg, centred on angle 0."""
    half = span * TAU / 2
    start, end = np.array([[R1, -half, 0.005]]), np.array([[R2, half, 0.005]])
    return Pieces(np.array([kind]), start, end, np.array([0]), np.array([0]))


@pytest.mark.parametrize(("kind", "span", "real", "imaginary", "length"), LEGS)
def test_legs(kind: int, span: float, real: float, imaginary: float, length: float | None) -> None:
    """The line integral's sign is that of -d(linkage)/d(alpha): minus v x B along the leg outward."""
    volts = -OMEGA * emf_harmonics(FIELD, leg(kind, span), 1)[0, 0]
    assert volts.real == pytest.approx(real, abs=6e-11)
    assert volts.imag == pytest.approx(imaginary, abs=6e-11)
    if length is not None:
        assert lengths(leg(kind, span))[0] * 1e3 == pytest.approx(length, abs=6e-7)


@pytest.mark.parametrize("span", [0.3, 1.0, 1.7])
def test_spiral_legs_by_the_closed_form(span: float) -> None:
    found = -emf_harmonics(FIELD, leg(SPIRAL, span), 1)[0]
    x = FIELD.orders * P * span * TAU / 2
    mean, depth = (R1 + R2) / 2, R2 - R1
    closed = B1 * (mean * depth * np.sin(x) / x + 1j * depth**2 / 2 * (np.sin(x) / x**2 - np.cos(x) / x))
    np.testing.assert_allclose(found, closed, rtol=1e-11)


@pytest.mark.parametrize("span", [0.3, 1.0])
def test_straight_legs_by_the_closed_form_about_their_foot(span: float) -> None:
    """Real part in the foot's frame: the integral of r T_p(d/r) dr, T_p Chebyshev, d the distance of the foot."""
    half = span * TAU / 2
    chord = math.sqrt(R1**2 + R2**2 - 2 * R1 * R2 * math.cos(2 * half))
    d = R1 * R2 * math.sin(2 * half) / chord
    foot = -half - math.acos(d / R1)
    node, weight = np.polynomial.legendre.leggauss(200)
    r = (R1 + R2) / 2 + (R2 - R1) / 2 * node
    expected = B1 * np.sum(weight * (R2 - R1) / 2 * r * np.cos(P * np.arccos(d / r)))
    found = -emf_harmonics(FIELD, leg(LINE, span), 1)[0, 0] * np.exp(-1j * P * foot)
    assert found.real == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize(
    ("shape", "leg_kind", "volts"),
    [
        ("zigzag", "spiral", 0.680000),
        ("zigzag", "chord", 8 * 0.07684460007),
        ("serpentine", "chord", 8 * 2 * 0.0667588439),
    ],
)
def test_one_round(shape: str, leg_kind: str, volts: float) -> None:
    winding = replace(ROUND, shape=shape, leg=leg_kind)
    found = OMEGA * abs(emf_harmonics(FIELD, lay(winding, P, WIRE).pieces, 1)[0, 0])
    assert found == pytest.approx(volts, rel=2e-9)


@pytest.mark.parametrize(("leg_kind", "expected"), ZIGZAG_BY_ORDER.items())
def test_shape_factors_of_a_zigzag(leg_kind: str, expected: list[float]) -> None:
    winding = replace(ROUND, leg=leg_kind)
    found = factors(lay(winding, P, WIRE), winding, WIRE)
    np.testing.assert_allclose(found.shape_by_order, expected, atol=6e-11)


@pytest.mark.parametrize(("pole_pairs", "factor"), CHORD_BY_POLE_PAIRS)
def test_straight_zigzags_lose_more_with_few_poles(pole_pairs: int, factor: float) -> None:
    found = factors(lay(ROUND, pole_pairs, WIRE), ROUND, WIRE)
    assert found.shape == pytest.approx(factor, abs=6e-11)


@pytest.mark.parametrize("span", [0.5, 0.8, 1.0])
def test_a_spiral_zigzag_of_any_span_has_the_factor_of_a_cylinder(span: float) -> None:
    """The quadrature parts of outward and return legs cancel: exactly sinX/X of the mean radius is left."""
    winding = replace(ROUND, leg="spiral", span=span)
    x = span * math.pi / 2
    assert factors(lay(winding, P, WIRE), winding, WIRE).shape == pytest.approx(math.sin(x) / x, rel=1e-10)


def test_a_spiral_diamond_of_full_span_has_the_zigzags_factor() -> None:
    winding = replace(ROUND, shape="diamond", leg="spiral")
    assert factors(lay(winding, P, WIRE), winding, WIRE).shape == pytest.approx(2 / math.pi, rel=1e-10)


def test_twenty_turns_on_one_line_from_field_to_watts() -> None:
    """Twenty spiral zigzag turns of 0.8 mm wire, end steps left out: volts, metres, ohms and matched watts.

    No machine that could be wound, for all turns lie on one line: a chain of functions followed by hand. The digits of
    ohms and watts were computed with copper of 1.7241e-8 ohm m, the rounded 1/58.
    """
    rounded = 1.7241e-8 * 58e6
    one = lay(replace(ROUND, leg="spiral"), P, WIRE).pieces
    legs = one.kind == SPIRAL
    twenty = Pieces(
        *(np.concatenate([rows[legs]] * 20) for rows in (one.kind, one.start, one.end, one.phase, one.loop))
    )
    sine = uniform_map(P, [B1], (0.05, 0.12), 0.01)
    volts = OMEGA * emf_per_speed(sine, twenty, ROUND, WIRE).rms[0]
    copper = impedance(twenty, WIRE, ROUND)
    assert P * OMEGA / (2 * math.pi) == pytest.approx(40, rel=1e-12)
    assert volts == pytest.approx(9.616652224, rel=2e-10)
    assert copper.conductor_length_m == pytest.approx(19.297062, abs=6e-7)
    assert copper.resistance_20c_ohm == pytest.approx(0.6618869188 / rounded, rel=2e-10)
    assert copper.resistance_hot_ohm == pytest.approx(0.8049537763 / rounded, rel=2e-10)
    assert volts**2 / (4 * copper.resistance_20c_ohm) == pytest.approx(34.93043803 * rounded, rel=2e-10)
    assert volts**2 / (4 * copper.resistance_hot_ohm) == pytest.approx(28.7221 * rounded, abs=6e-5)
