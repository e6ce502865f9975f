"""Library steels: the published laws, sampled so finely that nobody can tell."""

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve, steel_names
from fieldrun.design.model import SteelCurve
from fieldrun.design.resources import toml_table
from fieldrun.design.steel_laws import law_field_strength
from fieldrun.design.units import MU0

INDUCTIONS = [0.1, 0.5, 1.0, 1.2, 1.4, 1.5, 1.6, 1.7, 1.8, 2.0]
STRENGTHS = {  # computed from mu_rApprox.mo with the parameters of AISI_1008.mo and DC01.mo (Modelica Standard Library)
    "AISI 1008": [
        108.8965542,
        228.8959943,
        382.136396,
        554.7313235,
        1138.309534,
        1837.46267,
        3088.195658,
        5258.558287,
        8911.979862,
        24375.74234,
    ],
    "DC01": [
        179.117016,
        360.3690896,
        650.2077762,
        939.8524669,
        1632.104691,
        2284.211042,
        3276.470419,
        4758.302702,
        6928.608642,
        14445.67138,
    ],
}


@pytest.mark.parametrize("name", STRENGTHS)
def test_law_and_samples_against_independent_values(name: str) -> None:
    law = toml_table("steels.toml")["law"][name]
    assert law_field_strength(law, np.array(INDUCTIONS)) == pytest.approx(STRENGTHS[name], rel=1e-8)
    curve = steel_curve(name)
    assert np.interp(INDUCTIONS, curve.b_t, curve.h_a_per_m) == pytest.approx(STRENGTHS[name], rel=1.1e-5)


@pytest.mark.parametrize(("name", "points", "miss"), [("AISI 1008", 1167, 1e-5), ("DC01", 1311, 1e-5)])
def test_straight_lines_miss_the_law_by_what_they_claim(name: str, points: int, miss: float) -> None:
    """On a fine grid of its own: never more than 1e-5 of H (or 0.001 A/m), with some thousand points."""
    curve = steel_curve(name)
    b = np.linspace(0, 2.2, 200_001)
    true = law_field_strength(toml_table("steels.toml")["law"][name], b)
    error = np.abs(np.interp(b, curve.b_t, curve.h_a_per_m) - true) / np.maximum(true, 100)
    assert len(curve.b_t) == points
    assert error.max() == pytest.approx(miss, rel=0.1)


@pytest.mark.parametrize("name", steel_names())
def test_every_curve_rises_from_the_origin_faster_than_air(name: str) -> None:
    curve = steel_curve(name)
    b, h = np.array(curve.b_t), np.array(curve.h_a_per_m)
    assert (b[0], h[0]) == (0, 0)
    assert np.all(np.diff(b) > 0)
    assert np.all(np.diff(h) > 0)
    assert np.all(np.diff(b) / np.diff(h) > MU0)
    assert curve.source


def test_workshop_steel_is_its_table_then_its_formulas() -> None:
    """TEAM problem 13: 27 points; above, B = mu0 H - 2.381e-10 H^2 + 2.327e-5 H + 1.590, then mu0 H + 2.16."""
    curve = steel_curve("TEAM 13")
    b, h = np.array(curve.b_t), np.array(curve.h_a_per_m)
    assert (b[26], h[26]) == (1.8, 9423)
    middle = (b > 1.8) & (b < 2.21)
    assert b[middle] == pytest.approx((MU0 * h - 2.381e-10 * h**2 + 2.327e-5 * h + 1.590)[middle], abs=1e-12)
    assert b[-1] == pytest.approx(MU0 * h[-1] + 2.16)
    assert np.count_nonzero(middle) == 40
    assert np.max(b / np.where(h > 0, MU0 * h, 1)) == pytest.approx(2327, abs=1)  # at 1.0 T


TUBES = {  # flux [Wb/m] round a wire of 50, 200, 500 A in a tube 10 to 20 mm, computed exactly
    "AISI 1008": (0.0117891296, 0.01531566098, 0.01705344662),
    "TEAM 13": (0.01307828315, 0.01612306171, 0.0171160882),
}


@pytest.mark.parametrize("name", TUBES)
def test_flux_in_an_iron_tube(name: str) -> None:
    fluxes = [_tube_flux(steel_curve(name), current) for current in (50, 200, 500)]
    assert fluxes == pytest.approx(TUBES[name], rel=2e-6)


def _tube_flux(curve: SteelCurve, current_a: float) -> float:
    edges = np.linspace(0.01, 0.02, 20001)
    radius = (edges[:-1] + edges[1:]) / 2
    strength = current_a / (2 * np.pi * radius)
    beyond = np.maximum(strength - curve.h_a_per_m[-1], 0)
    return float(np.sum((np.interp(strength, curve.h_a_per_m, curve.b_t) + MU0 * beyond) * np.diff(edges)))


def test_names() -> None:
    assert steel_curve("Mild Steel") == steel_curve("AISI 1008")
    assert steel_curve("mild steel").name == "AISI 1008"
    with pytest.raises(DesignError, match='nobody here knows the steel "wood"; known: "mild steel", "AISI 1008"'):
        steel_curve("wood")
