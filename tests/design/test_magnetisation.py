"""Magnetisation curves as the solver sees them: rising, one the inverse of the other, slope mu0 in the end."""

import numpy as np
import pytest

from fieldrun.design.magnetisation import field_strength, flux_density
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0

STEELS = ["AISI 1008", "DC01", "TEAM 13"]
CORNERED = SteelCurve("three points", (0.0, 1.0, 2.0), (0.0, 100.0, 10100.0))


def test_straight_lines_by_hand() -> None:
    strength, slope = field_strength(CORNERED, [0.0, 0.5, 1.0, 1.5, 2.0, 2.5])
    assert strength == pytest.approx([0, 50, 100, 5100, 10100, 10100 + 0.5 / MU0])
    assert slope == pytest.approx([100, 100, 10000, 10000, 1 / MU0, 1 / MU0])


@pytest.mark.parametrize("name", STEELS)
def test_flux_density_undoes_field_strength(name: str) -> None:
    curve, b = steel_curve(name), np.linspace(0, 4, 401)
    strength, slope = field_strength(curve, b)
    assert flux_density(curve, strength) == pytest.approx(b, abs=1e-12)
    assert np.all(np.diff(strength) > 0)
    assert np.all(slope > 0)
    assert np.all(slope <= 1 / MU0 * (1 + 1e-12))  # steel never carries less than air


@pytest.mark.parametrize("name", STEELS)
def test_slope_is_the_difference_quotient(name: str) -> None:
    curve = steel_curve(name)
    middles = (np.array(curve.b_t[1:]) + curve.b_t[:-1]) / 2
    step = np.diff(curve.b_t) / 4
    (low, _), (high, _), (_, slope) = (field_strength(curve, middles + s * step) for s in (-1, 1, 0))
    assert (high - low) / (2 * step) == pytest.approx(slope, rel=1e-9)


def test_shape_is_kept() -> None:
    strength, slope = field_strength(CORNERED, np.ones((3, 4)))
    assert strength.shape == slope.shape == (3, 4)
