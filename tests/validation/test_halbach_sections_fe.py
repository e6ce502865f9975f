"""Finite elements against the segmented Halbach form (Halbach 1980/1985, Mallinson 1973, from memory).

Values computed for the project's brief from that form, agreeing with magpylib 6.3.0 to 1e-6 T: wavelength 60 mm,
thickness 10 mm, remanence 1.30 T, M segments per wavelength, 6 mm from the face.
"""

import math

import numpy as np
import pytest

from fieldrun.design.model import Arc, Magnets, Rotor
from fieldrun.field.gap import gap_amplitudes, potential_amplitudes
from fieldrun.field.magnetostatics import SectionField, solve_section
from fieldrun.field.section import section_at
from tests.sections import structured_mesh

POLES, PITCH = 16, 0.030
RADIUS = PITCH * POLES / (2 * math.pi)
ORDERS = 2 * np.arange(8) + 1

STRONG = [(4, 1, 0.4052859598), (4, 5, 0.010062), (6, 1, 0.4298706757), (6, 7, 0.002180), (8, 1, 0.4386783618)]
FACING = [(4, 0.8105719196), (6, 0.8597413514), (8, 0.8773567235)]
WEAK = [(4, 3, 0.05667692181), (6, 5, 0.0106721293), (8, 7, 0.00222440312)]


def solved(segments: int, rotor: Rotor) -> SectionField:
    outline = Arc(RADIUS - 0.01, RADIUS + 0.01, 1.0)
    magnets = Magnets(outline, POLES, 0.010, 1.30, 1.0, 7500.0, pattern="halbach", segments_per_pole=segments // 2)
    section = section_at(magnets, rotor, RADIUS)
    return solve_section(section, structured_mesh(section))


@pytest.mark.parametrize(("segments", "order", "value"), STRONG)
def test_strong_side(segments: int, order: int, value: float) -> None:
    axial = gap_amplitudes(solved(segments, Rotor(1, None, None, None, 0.0, 1.0)), [0.006], ORDERS)[1][:, 0]
    # to 1e-4 of the value for the fundamental, to 1e-5 of the fundamental for what rides on it
    bound = 1e-4 * value if order == 1 else 1e-5 * abs(axial[0])
    assert abs(axial[order == ORDERS][0]) == pytest.approx(value, abs=bound)


@pytest.mark.parametrize(("segments", "value"), FACING)
def test_two_strong_sides_facing(segments: int, value: float) -> None:
    axial = gap_amplitudes(solved(segments, Rotor(2, 0.012, None, None, 0.0, 1.0)), [0.006], ORDERS)[1][:, 0]
    assert axial[0].real == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(("segments", "order", "value"), WEAK)
def test_weak_side(segments: int, order: int, value: float) -> None:
    """The mesh line under the magnets, continued down: only orders j M - 1 are there."""
    field = solved(segments, Rotor(1, None, None, None, 0.0, 1.0))
    k = ORDERS * np.pi / PITCH
    below = k * np.abs(potential_amplitudes(field, -0.010, ORDERS)) * np.exp(-k * 0.006)
    assert below[order == ORDERS][0] == pytest.approx(value, rel=1e-3)
    assert below[0] < 1e-4 * 0.4
