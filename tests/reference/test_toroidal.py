"""Legendre functions of half-odd degree against elliptic integrals, the angular integral itself, and the recurrence."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe, ellipkm1

from fieldrun.reference.toroidal import legendre_table, scaled_legendre

ETA = np.array([1e-6, 1e-3, 0.1, 1.0, 5.0])


def unscaled(m: int, eta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    value, slope = scaled_legendre(m, eta)
    return value * np.exp(-(m + 0.5) * eta), -slope * np.exp(-(m + 0.5) * eta)


def test_first_function_by_elliptic_integrals() -> None:
    """Q_1/2(x) = x k K(k) - (1 + x) k E(k), k^2 = 2 / (1 + x) (Abramowitz and Stegun 8.13.7, from memory)."""
    eta = ETA[:4]  # above, the two terms cancel
    x = np.cosh(eta)
    k = np.sqrt(2 / (1 + x))
    np.testing.assert_allclose(
        unscaled(1, eta)[0], x * k * ellipkm1(np.tanh(eta / 2) ** 2) - (1 + x) * k * ellipe(k**2), rtol=1e-9
    )


@pytest.mark.parametrize("m", [1, 8, 60])
@pytest.mark.parametrize(("r", "source", "distance"), [(0.06, 0.07, 0.004), (0.07, 0.07, 0.001), (0.02, 0.07, 0.1)])
def test_it_is_the_harmonic_of_one_over_distance(m: int, r: float, source: float, distance: float) -> None:
    def reciprocal(psi: float) -> float:
        return 1 / math.sqrt(r**2 + source**2 - 2 * r * source * math.cos(psi) + distance**2)

    direct = 2 * quad(reciprocal, 0, math.pi, weight="cos", wvar=m, epsabs=1e-11)[0]
    eta = 2 * math.asinh(math.hypot(r - source, distance) / (2 * math.sqrt(r * source)))
    found = 2 / math.sqrt(r * source) * unscaled(m, np.array([eta]))[0][0]
    assert found == pytest.approx(direct, abs=1e-9)


@pytest.mark.parametrize("m", [2, 8, 31, 248])
def test_recurrence_over_the_degree(m: int) -> None:
    """(nu + 1) Q_nu+1 = (2 nu + 1) x Q_nu - nu Q_nu-1 with nu = m - 1/2."""
    eta = np.array([0.01, 0.1, 0.5, 1.0])
    below, here, above = (unscaled(k, eta)[0] for k in (m - 1, m, m + 1))
    nu = m - 0.5
    np.testing.assert_allclose(nu * below + (nu + 1) * above, (2 * nu + 1) * np.cosh(eta) * here, rtol=1e-11)


@pytest.mark.parametrize("m", [2, 8, 31, 248])
def test_derivative_by_the_function_below(m: int) -> None:
    """(x^2 - 1) Q'_nu = nu (x Q_nu - Q_nu-1), and dQ/deta = sinh(eta) Q'."""
    eta = np.array([0.01, 0.1, 0.5, 1.0])
    below, (here, slope) = unscaled(m - 1, eta)[0], unscaled(m, eta)
    np.testing.assert_allclose(np.sinh(eta) * slope, (m - 0.5) * (np.cosh(eta) * here - below), rtol=1e-9)


@pytest.mark.parametrize("m", [1, 8, 248])
def test_close_by_it_is_a_line_charge(m: int) -> None:
    """-eta dQ/deta tends to 1: the ring looks straight from near enough."""
    eta = np.array([1e-7 / m])
    assert eta[0] * scaled_legendre(m, eta)[1][0] == pytest.approx(1, abs=1e-6)


@pytest.mark.parametrize("m", [1, 8, 248])
def test_the_table_is_the_function(m: int) -> None:
    table = legendre_table(m, 1e-5, 8.0)
    eta = np.exp(np.random.default_rng(1).uniform(math.log(1e-5), math.log(8.0), 500))
    value, slope = scaled_legendre(m, eta)
    np.testing.assert_allclose(table(np.log(eta)), np.stack([value, eta * slope], axis=1), rtol=1e-9)
