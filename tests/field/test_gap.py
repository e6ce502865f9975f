"""Continuation between the gap's two lines: the analytic solution, no overflow, no noise."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.gap import continued, gap_amplitudes, potential_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.section import Section, section_at
from tests.sections import structured_mesh

TAU, GAP = 0.026, 0.009
K = np.pi / TAU * np.array([1, 3])
ORDERS = np.array([1, 3])
R = 0.066
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
SHEET = Plate(steel_curve("mild steel"), 0.003)


def section(upper: float | None, *, mirrored: bool = False) -> Section:
    return Section(TAU, "half pole", -0.01, upper or 0.01, "open", "open", (), upper, mirrored)


def potential(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Some a(z) with a'' = k^2 a, and its slope."""
    c, d = np.array([0.02, -0.003j])[:, None], np.array([0.004j, 0.001])[:, None]
    k = K[:, None]
    return c * np.cosh(k * z) + d * np.sinh(k * z), k * (c * np.sinh(k * z) + d * np.cosh(k * z))


def test_between_two_lines() -> None:
    z = np.linspace(0, GAP, 7)
    a, slope = potential(z)
    b_x, b_z = continued(section(GAP), a[:, 0], a[:, -1], z, ORDERS)
    assert b_x == pytest.approx(-slope, abs=1e-12)
    assert b_z == pytest.approx(1j * K[:, None] * a, abs=1e-12)


def test_above_a_single_line() -> None:
    z = np.linspace(0, 3 * TAU, 7)
    lower = np.array([0.02, 0.001j])
    b_x, b_z = continued(section(None), lower, 0 * lower, z, ORDERS)
    a = lower[:, None] * np.exp(-K[:, None] * z)
    assert b_x == pytest.approx(K[:, None] * a)
    assert b_z == pytest.approx(1j * K[:, None] * a)


def test_above_the_middle_the_lower_half_is_repeated() -> None:
    z = np.array([0.001, 0.003])
    lower, upper = np.array([0.02, 0.001j]), np.array([0.015, 0.0002j])
    below = continued(section(GAP / 2, mirrored=True), lower, upper, z, ORDERS)
    above = continued(section(GAP / 2, mirrored=True), lower, upper, GAP - z, ORDERS)
    assert above[0] == pytest.approx(-below[0])
    assert above[1] == pytest.approx(below[1])


def test_nothing_overflows_in_a_gap_of_many_pitches() -> None:
    high = np.array([999])
    b = continued(section(20 * TAU), np.ones(1, complex), np.zeros(1, complex), np.array([0, TAU, 20 * TAU]), high)
    assert np.all(np.isfinite(b))
    assert abs(b[1][0, 0]) == pytest.approx(999 * np.pi / TAU)
    assert np.all(b[1][0, 1:] == 0)


def field(rotor: Rotor):  # a solved section
    one = section_at(ARCS, rotor, R)
    return solve_section(one, structured_mesh(one, MeshDensity().refined()))


@pytest.mark.parametrize("upper", [Plate(None), SHEET], ids=["ideal", "real"])
def test_continued_values_are_those_on_mesh_lines_between(upper: Plate) -> None:
    """The solver's own potential across the gap is what the two lines say."""
    solved = field(Rotor(1, 0.008, SHEET, upper, 0.04, 0.09))
    orders = np.array([1, 3, 5])
    k = np.pi / solved.section.pole_pitch_m * orders
    for height in (0.001, 0.004, 0.0071):
        across = 1j * k * potential_amplitudes(solved, height, orders)
        assert np.abs(gap_amplitudes(solved, [height], orders)[1][:, 0] - across).max() < 1e-4 * abs(across[0])


@pytest.mark.parametrize("rotor", [Rotor(2, 0.009, None, None, 0, 1), Rotor(1, 0.02, None, SHEET, 0.04, 0.09)])
def test_weak_harmonics_stay_smooth_up_to_the_upper_line(rotor: Rotor) -> None:
    """High orders must fall all the way: mesh noise on the upper line would make them rise again."""
    orders = 2 * np.arange(16) + 1
    solved = field(rotor)
    z = np.linspace(0, solved.section.upper_line_m or 0, 9)
    size = np.abs(gap_amplitudes(solved, z, orders)[1])
    falling = size[4:, 1:] < size[4:, :-1] * (1 + 1e-9)
    assert np.all(falling | (size[4:, 1:] < 1e-4 * size[0, 0]))
    ideal = size[4:, :1] / np.cosh(np.minimum(orders[4:, None] * np.pi / solved.section.pole_pitch_m * z[-1], 700))
    assert np.all(size[4:, -1:] < 2 * ideal + 1e-9)


def test_flux_through_the_lower_line_is_the_potential_at_the_poles_edge() -> None:
    """Half a pole's flux per metre is A at the line between poles, where A is the alternating sum of harmonics."""
    solved = field(Rotor(2, 0.009, Plate(None), None, 0, 1))
    orders = 2 * np.arange(48) + 1
    a = potential_amplitudes(solved, 0.0, orders)
    x, z = solved.basis.doflocs
    (corner,) = np.flatnonzero((np.abs(x - solved.section.width_m) < 1e-12) & (np.abs(z) < 1e-12))
    wave = (a * np.exp(1j * np.pi * orders / 2)).real.sum()
    assert wave == pytest.approx(solved.potential[corner], rel=3e-4)


def test_one_height_is_many() -> None:
    solved = field(Rotor(1, 0.008, replace(SHEET, thickness_m=0.002), SHEET, 0.04, 0.09))
    together = gap_amplitudes(solved, [0.001, 0.005, math.nextafter(0.008, 0)], ORDERS)
    apart = [gap_amplitudes(solved, [z], ORDERS) for z in (0.001, 0.005, math.nextafter(0.008, 0))]
    for part in (0, 1):
        assert together[part] == pytest.approx(np.concatenate([one[part] for one in apart], axis=1))
