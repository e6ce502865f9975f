"""Skin depth, skin effect and eddy loss of round copper wire, against tabled values.

All computed for the project's brief in another program at 1.7241e-8 ohm m (20 C): skin depths from
sqrt(rho/(pi f mu0)), which an encyclopaedia gives as about 8.5 mm at 60 Hz (enwikipedia.net/wiki/Skin_effect, looked
up); resistance ratios from the exact Bessel functions of a round wire; eddy losses from pi w^2 B^2 d^4/(128 rho),
confirmed there by the exact Bessel solution for a wire across an alternating field. That the number is 128: derivation
and Bessel solution; Sullivan (1999, 2001) states the same (from memory).
"""

import math

import pytest
from scipy.integrate import quad

from fieldrun.generator.eddy import ALONG_SHARE, skin_depth_m, skin_ratio, strand_loss_w_per_m

RHO = 1.7241e-8

SKIN_DEPTH_MM = {
    10: 20.898, 20: 14.777, 50: 9.3458, 60: 8.5315, 100: 6.6085, 200: 4.6729, 400: 3.3042, 1e3: 2.0898, 1e4: 0.66085,
    1e5: 0.20898,
}  # fmt: skip

RATIO = {
    0.25: 1.00008137, 0.5: 1.00130073, 1: 1.02049239, 1.5: 1.09732825, 2: 1.26464291, 3: 1.76813165, 5: 2.76810760,
    10: 5.25930186,
}  # fmt: skip
"""Resistance to alternating over direct current, by radius over skin depth."""

LOSS_W_PER_M = [
    (1.0e-3, 50, 0.5, 0.03512507055),
    (0.5e-3, 80, 0.6, 0.008092816256),
    (1.5e-3, 100, 0.7, 1.39411405),
    (3.0e-3, 400, 0.5, 182.0883657),
]
"""Bare diameter [m], frequency [Hz], amplitude of B [T], loss [W/m]."""


@pytest.mark.parametrize("frequency", SKIN_DEPTH_MM)
def test_skin_depth(frequency: float) -> None:
    assert 1e3 * skin_depth_m(frequency, RHO) == pytest.approx(SKIN_DEPTH_MM[frequency], rel=3e-5)


@pytest.mark.parametrize("depths", RATIO)
def test_skin_effect_of_a_wire_so_many_skin_depths_thick(depths: float) -> None:
    diameter = 2 * depths * skin_depth_m(1000, RHO)
    assert skin_ratio(diameter, 1000, RHO) == pytest.approx(RATIO[depths], rel=1e-8)


def test_a_wire_that_is_usual_in_switched_supplies() -> None:
    """65.8 mil at 100 kHz: 2.2732, computed; a maker's worked example that claims 21.4 is not to be followed."""
    assert skin_ratio(65.8 * 25.4e-6, 1e5, RHO) == pytest.approx(2.2732, rel=3e-5)


def test_a_millimetre_of_copper_at_the_frequencies_of_slow_wind() -> None:
    assert skin_ratio(1e-3, 100, RHO) - 1 == pytest.approx(6.8e-7, rel=6e-3)


@pytest.mark.parametrize(("diameter", "frequency", "field", "loss"), LOSS_W_PER_M)
def test_eddy_loss(diameter: float, frequency: float, field: float, loss: float) -> None:
    found = strand_loss_w_per_m(diameter, RHO, 2 * math.pi * frequency * field)
    assert found == pytest.approx(loss, rel=1e-8)


def test_equal_copper_in_more_strands_divides_the_loss_by_their_number() -> None:
    one = strand_loss_w_per_m(1e-3, RHO, 100.0)
    assert 7 * strand_loss_w_per_m(1e-3 / math.sqrt(7), RHO, 100.0) == pytest.approx(one / 7, rel=1e-12)


def test_currents_drawn_by_hand_across_and_along_a_wire() -> None:
    """J = x dB/dt / rho in a field across; rings of E = (r/2) dB/dt in a field along: half as much."""
    d, rate = 0.8e-3, 150.0
    across = quad(lambda x: (rate * x) ** 2 / 2 / RHO * 2 * math.sqrt(d**2 / 4 - x**2), -d / 2, d / 2)[0]
    along = quad(lambda r: (rate * r / 2) ** 2 / 2 / RHO * 2 * math.pi * r, 0, d / 2)[0]
    assert strand_loss_w_per_m(d, RHO, rate) == pytest.approx(across, rel=1e-8)
    assert along == pytest.approx(ALONG_SHARE * across, rel=1e-8)
