"""Magnetisation curves as the solver sees them: rising, one the inverse of the other, slope mu0 in the end."""

import numpy as np
import pytest

from fieldrun.design.magnetisation import field_strength, flux_density, permeabilities
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


def test_permeabilities_by_hand() -> None:
    """B / (mu0 H) and dB/dH / mu0 on straight lines from (0, 0) over (100, 1) to (10100, 2), slope mu0 beyond."""
    total, rise = permeabilities(CORNERED, [0.0, 50.0, 100.0, 5100.0, 10100.0, 20100.0])
    expected = [0.01, 0.01, 0.01, 1.5 / 5100, 2 / 10100, (2 + MU0 * 10000) / 20100]
    assert total * MU0 == pytest.approx(expected)
    assert rise * MU0 == pytest.approx([0.01, 0.01, 1e-4, 1e-4, MU0, MU0])


@pytest.mark.parametrize("name", STEELS)
def test_permeabilities_belong_to_the_flux_density(name: str) -> None:
    curve = steel_curve(name)
    strength = np.geomspace(1e-3, 1e7, 2001)
    total, rise = permeabilities(curve, strength)
    assert MU0 * total * strength == pytest.approx(flux_density(curve, strength), rel=1e-12)
    _, slope = field_strength(curve, flux_density(curve, strength))
    corners = np.isclose(strength[:, None], np.array(curve.h_a_per_m), rtol=1e-9).any(axis=1)
    assert MU0 * rise[~corners] * slope[~corners] == pytest.approx(np.ones((~corners).sum()), rel=1e-9)
    assert np.all(total >= 1)
    assert np.all(rise >= 1 - 1e-12)
    assert total[-1] == pytest.approx(1, rel=0.3)
    assert rise[-1] == pytest.approx(1)


@pytest.mark.parametrize("name", STEELS)
def test_without_a_field_both_permeabilities_are_the_first_slope(name: str) -> None:
    curve = steel_curve(name)
    first = curve.b_t[1] / curve.h_a_per_m[1] / MU0
    for strength in (0.0, 1e-300, 1e-160, 0.5 * curve.h_a_per_m[1]):
        total, rise = permeabilities(curve, strength)
        assert (float(total), float(rise)) == pytest.approx((first, first), rel=1e-12)


def test_a_straight_curve_has_one_permeability() -> None:
    straight = SteelCurve("straight", (0.0, 1.0, 3.0), (0.0, 1 / (500 * MU0), 3 / (500 * MU0)))
    total, rise = permeabilities(straight, np.linspace(0, 0.99 * straight.h_a_per_m[-1], 50))
    assert total == pytest.approx(np.full(50, 500))
    assert rise == pytest.approx(np.full(50, 500))


def test_permeabilities_keep_the_shape() -> None:
    for value in permeabilities(CORNERED, np.ones((2, 3, 4))):
        assert value.shape == (2, 3, 4)
