"""An endless bar on its axis, w 20 and h 10 mm, Br 1.30 T: Br/pi [atan(w/2z) - atan(w/(2(z+h)))] (text-book formula).

Values computed for the project's brief, agreeing with magpylib 6.3.0 to 3e-8 T. A section always holds a row of poles,
so the row's other bars, by the same formula off their axis, are taken away again: what is left is the one bar.
"""

import math

import numpy as np
import pytest

from fieldrun.design.model import Arc, Magnets, Rotor
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.section import section_at
from tests.sections import structured_mesh

W, H, BR, PITCH = 0.020, 0.010, 1.30, 0.100
RADIUS = PITCH * 8 / math.pi
ON_AXIS = {0.002: 0.2808324742, 0.005: 0.2148241427, 0.010: 0.1331412971, 0.020: 0.05871740589}
ORDERS = 2 * np.arange(128) + 1  # a bar a fifth of the pitch wide, 2 mm away, has harmonics up to about 200


def bar(x: np.ndarray, z: float) -> np.ndarray:
    def seen(height: float) -> np.ndarray:
        return np.arctan2(x + W / 2, height) - np.arctan2(x - W / 2, height)

    return BR / (2 * np.pi) * (seen(z) - seen(z + H))


def other_bars(z: float) -> float:
    number = np.arange(1, 2001)
    terms = 2 * (-1.0) ** number * bar(number * PITCH, z)
    return float(terms.sum() - terms[-1] / 2)


@pytest.mark.parametrize(("density", "bound"), [(MeshDensity(), 2e-4), (MeshDensity().refined(), 1e-5)])
def test_single_bar(density: MeshDensity, bound: float) -> None:
    magnets = Magnets(Arc(RADIUS - 0.01, RADIUS + 0.01, W / PITCH), 16, H, BR, 1.0, 7500.0)
    section = section_at(magnets, Rotor(1, None, None, None, 0.0, 1.0), RADIUS)
    field = solve_section(section, structured_mesh(section, density))
    over_the_middle = gap_amplitudes(field, list(ON_AXIS), ORDERS)[1].real.sum(axis=0)
    alone = [row - other_bars(z) for row, z in zip(over_the_middle, ON_AXIS, strict=True)]
    assert alone == pytest.approx(list(ON_AXIS.values()), rel=bound)
    assert bar(np.array([0.0]), 0.005)[0] == pytest.approx(ON_AXIS[0.005], rel=1e-9)
