"""A current on the axis of an iron tube, radii 10 and 20 mm: exact however the iron saturates, since H = I / (2 pi r).

Fluxes computed for the project's brief by quadrature in another program. Curves:
- AISI 1008 by mu_r(B) = 1 + (mu_i - 1 + c_a b) / (1 + c_b b + b^n), b = B / B_m: Modelica Standard Library,
  (github.com/modelica/ModelicaStandardLibrary) Modelica/Magnetic/FluxTubes, mu_rApprox.mo and Steel/AISI_1008.mo.
- TEAM workshop problem 13 steel: table in an NGSolve script of TU Wien (2018), straight lines between its points.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from fieldrun.reference.closed_forms import tube_flux

MU0 = 4e-7 * np.pi
INNER, OUTER = 0.010, 0.020

AISI_1008_FLUX = {50: 0.0117891296, 200: 0.01531566098, 500: 0.01705344662}  # I [A]: [Wb/m]
TEAM_13_FLUX = {50: 0.01307828315, 200: 0.01612306171, 500: 0.0171160882}

TEAM_13_B_T = [
    0, 0.0025, 0.005, 0.0125, 0.025, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.5,
    1.55, 1.6, 1.65, 1.7, 1.75, 1.8,
]  # fmt: skip
TEAM_13_H_A_PER_M = [
    0, 16, 30, 54, 93, 143, 191, 210, 222, 233, 247, 258, 272, 289, 313, 342, 377, 433, 509, 648, 933, 1228,
    1934, 2913, 4993, 7189, 9423,
]  # fmt: skip

# H [A/m] of AISI 1008 at B [T], computed for the project's brief from the same law
AISI_1008_POINTS = {0.1: 108.8965542, 1.0: 382.136396, 1.5: 1837.46267, 2.0: 24375.74234}


def aisi_1008_h(b):
    ratio = b / 1.17
    mu_r = 1 + (200 - 1 + 8100 * ratio) / (1 + 2.59 * ratio + ratio**10)
    return b / (MU0 * mu_r)


def aisi_1008_b(h):
    return brentq(lambda b: aisi_1008_h(b) - h, 0.0, 2.4, xtol=1e-14, rtol=1e-14)


def team_13_b(h):
    return float(np.interp(h, TEAM_13_H_A_PER_M, TEAM_13_B_T))


def test_the_law_of_the_curve():
    assert [aisi_1008_h(b) for b in AISI_1008_POINTS] == pytest.approx(list(AISI_1008_POINTS.values()), rel=1e-8)


@pytest.mark.parametrize("current", AISI_1008_FLUX)
def test_smooth_curve(current):
    assert tube_flux(current, INNER, OUTER, aisi_1008_b) == pytest.approx(AISI_1008_FLUX[current], rel=1e-8)


@pytest.mark.parametrize("current", TEAM_13_FLUX)
def test_tabled_curve(current):
    flux = tube_flux(current, INNER, OUTER, team_13_b, TEAM_13_H_A_PER_M)
    assert flux == pytest.approx(TEAM_13_FLUX[current], rel=1e-8)


def test_linear_iron_gives_the_logarithm():
    mu = 500 * MU0
    expected = mu * 50 / (2 * np.pi) * np.log(OUTER / INNER)
    assert tube_flux(50, INNER, OUTER, lambda h: mu * h) == pytest.approx(expected, rel=1e-12)
