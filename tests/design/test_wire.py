"""Wire against published tables, against geometry, and against its own rules."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldrun.design.materials import COPPER_RESISTIVITY_20C_OHM_M
from fieldrun.design.resources import csv_rows
from fieldrun.design.units import MM
from fieldrun.design.wire import (
    AWG_LARGEST,
    AWG_SMALLEST,
    COPPER_LEAST_M,
    COPPER_MOST_M,
    awg_diameter_m,
    bundle_diameter_m,
    lay_factor,
    litz_wire,
    overall_diameter_m,
    shortest_lay_m,
    solid_wire,
)

GAUGES = {10: 2.5883, 12: 2.0523, 14: 1.6281, 16: 1.2903, 18: 1.0236, 20: 0.8128, 22: 0.6452, 24: 0.5105, 26: 0.4039}
GAUGES |= {28: 0.3200, 30: 0.2540}
OHM_PER_KM = {
    10: 3.28,
    12: 5.21,
    14: 8.28,
    16: 13.17,
    18: 20.94,
    20: 33.29,
    22: 52.94,
    24: 84.20,
    26: 133.86,
    28: 212.87,
}
OHM_PER_KM |= {30: 338.50}


@pytest.mark.parametrize("gauge", GAUGES)
def test_gauges_against_a_published_table(gauge: int) -> None:
    """wp.1728.org/?p=4314: diameters rounded to 0.1 mil (0.35 % at AWG 28), resistances to four digits."""
    assert awg_diameter_m(gauge) / MM == pytest.approx(GAUGES[gauge], rel=4e-3)
    area = math.pi / 4 * awg_diameter_m(gauge) ** 2
    assert 1000 * COPPER_RESISTIVITY_20C_OHM_M / area == pytest.approx(OHM_PER_KM[gauge], rel=1.5e-3)


def test_gauge_is_defined_by_two_sizes_with_equal_ratios_between() -> None:
    """ASTM B258: number 36 is 5 mil; 0000 is 460 mil, 39 steps away."""
    assert awg_diameter_m(36) == pytest.approx(0.127e-3)
    assert awg_diameter_m(-3) == pytest.approx(11.684e-3)


def test_gauge_limits_are_those_of_the_enamel_table() -> None:
    inside = [awg_diameter_m(gauge) for gauge in range(AWG_LARGEST, AWG_SMALLEST + 1)]
    assert all(COPPER_LEAST_M <= bare < overall_diameter_m(bare) for bare in inside)
    assert awg_diameter_m(AWG_LARGEST - 1) > COPPER_MOST_M
    assert awg_diameter_m(AWG_SMALLEST + 1) < COPPER_LEAST_M


def test_thinnest_wire_at_the_highest_resistivity() -> None:
    """sh-wire.de: 0.100 mm wire has at most 2.333 ohm/m, at 0.097 mm and 1/58."""
    assert COPPER_RESISTIVITY_20C_OHM_M / (math.pi / 4 * 0.097e-3**2) == pytest.approx(2.333, rel=5e-4)


@pytest.mark.parametrize(
    ("copper_mm", "enamel", "overall_mm"),
    [
        (0.100, 1, 0.117),  # IS 13730-0-1 (scribd.com/document/694885707)
        (0.160, 2, 0.194),  # the same
        (0.315, 1, 0.349),  # avanticables.com
        (0.020, 1, 0.024),  # elektrisola.com, largest strand
        (0.500, 1, 0.544),  # IEC 60317-0-1, from memory
        (0.500, 2, 0.566),  # the same
    ],
)
def test_preferred_sizes(copper_mm: float, enamel: int, overall_mm: float) -> None:
    assert overall_diameter_m(copper_mm * MM, enamel) == pytest.approx(overall_mm * MM, rel=1e-12)  # type: ignore[arg-type]


def test_between_preferred_sizes_the_next_larger_increase_holds() -> None:
    assert overall_diameter_m(0.51 * MM) == pytest.approx((0.51 + 0.606 - 0.560) * MM)
    assert overall_diameter_m(awg_diameter_m(24), 2) == pytest.approx(awg_diameter_m(24) + 0.070 * MM)


def test_beyond_the_table() -> None:
    with pytest.raises(ValueError, match=r"5.1 mm of copper is beyond the table"):
        overall_diameter_m(5.1 * MM)


def test_table_is_a_geometric_series_and_enamel_grows_with_it() -> None:
    rows = csv_rows("enamelled_wire.csv")
    bare, one, two = (np.array([float(row[key]) for row in rows]) for key in ("copper_mm", "grade_1_mm", "grade_2_mm"))
    assert np.all(np.abs(np.diff(np.log10(bare)) - 0.05) < 0.012)  # R20: twenty sizes a decade, rounded
    assert np.all(np.diff(one - bare) >= -1e-9)
    assert np.all(np.diff(two - bare) >= -1e-9)
    assert np.all(two > one)
    assert {row["status"] for row in rows} == {"looked_up", "from_memory"}
    assert all(row["source"] for row in rows)


@pytest.mark.parametrize(
    ("strands", "least_mm", "most_mm"),
    [
        (10, 0.087, 0.095),
        (16, 0.111, 0.121),
        (20, 0.125, 0.136),
        (30, 0.154, 0.168),
        (60, 0.218, 0.238),
        (120, 0.308, 0.337),
    ],
)
def test_bundles_against_a_catalogue(strands: int, least_mm: float, most_mm: float) -> None:
    """elektrisola.com, LW dimensions, unserved, 0.020 mm strands: our bundle of the thickest strands is its largest."""
    bundle = bundle_diameter_m(overall_diameter_m(0.02 * MM), strands) / MM
    assert least_mm < bundle
    assert bundle == pytest.approx(most_mm, rel=0.015)


@pytest.mark.parametrize(("lay_mm", "factor"), [(20, 1.006143368), (10, 1.02428246)])
def test_take_up_against_the_mean_over_the_bundle(lay_mm: float, factor: float) -> None:
    """Computed independently: the mean of sqrt(1 + (2 pi r / lay)^2) over the circle by Gauss quadrature."""
    assert lay_factor(1 * MM, lay_mm * MM) == pytest.approx(factor, rel=1e-8)
    nodes, weights = np.polynomial.legendre.leggauss(20)
    radius = 0.5 * (nodes + 1) / 2
    mean = np.sum(weights / 2 * 0.5 * 2 * radius / 0.5**2 * np.sqrt(1 + (2 * np.pi * radius / lay_mm) ** 2))
    assert lay_factor(1 * MM, lay_mm * MM) == pytest.approx(mean, rel=1e-12)


@given(bundle=st.floats(1e-5, 1e-2), lay=st.floats(1e-3, 10))
def test_take_up_lies_between_straight_and_the_outer_strand(bundle: float, lay: float) -> None:
    outer = math.hypot(1, math.pi * bundle / lay)
    assert 1 <= lay_factor(bundle, lay) <= outer


@pytest.mark.parametrize("slant", [1e-9, 1e-5, 1e-3])
def test_take_up_of_a_slack_twist_keeps_its_digits(slant: float) -> None:
    """sqrt(1 + x) is 1 + x/2 less x^2/8, and the mean of x over the circle is half of the outermost."""
    assert lay_factor(slant / math.pi, 1.0) - 1 == pytest.approx(slant**2 / 4, rel=1e-5, abs=3e-16)


@given(strands=st.integers(2, 500), strand=st.floats(2e-5, 1e-3), bunching=st.floats(1.06, 2))
def test_at_the_shortest_lay_strands_fill_their_bundle_as_densely_as_circles_can(
    strands: int, strand: float, bunching: float
) -> None:
    """Cut square to the bundle, strands that run so much farther are ellipses so much larger than circles."""
    bundle = bundle_diameter_m(strand, strands, bunching)
    ellipses = strands * strand**2 * lay_factor(bundle, shortest_lay_m(bundle, bunching))
    assert ellipses / bundle**2 == pytest.approx(math.pi / math.sqrt(12), rel=1e-9)


def test_no_lay_is_long_enough_for_strands_that_are_packed_full() -> None:
    assert shortest_lay_m(1e-3, 1.05) == math.inf
    assert shortest_lay_m(1e-3, 1.06) < math.inf


def test_solid_and_litz_records() -> None:
    solid = solid_wire(0.5 * MM, 2, 80)
    assert (solid.kind, solid.strands, solid.length_factor, solid.temperature_c) == ("solid", 1, 1.0, 80)
    assert solid.overall_diameter_m == pytest.approx(0.566 * MM)
    litz = litz_wire(0.1 * MM, 20, lay_m=15 * MM, serving_m=0.06 * MM, strands_in_series=2)
    unserved = 1.27 * math.sqrt(20) * 0.117 * MM
    assert litz.overall_diameter_m == pytest.approx(unserved + 0.06 * MM)
    assert litz.length_factor == pytest.approx(lay_factor(unserved, 15 * MM))
    assert (litz.strands, litz.strand_diameter_m, litz.strands_in_series) == (20, 0.1 * MM, 2)
    assert (litz.lay_m, litz.bench_m) == (15 * MM, None)
    assert litz_wire(0.1 * MM, 20).length_factor == 1.0
    assert litz_wire(0.1 * MM, 20, lay_m=15 * MM, bench_m=3.0).bench_m == 3.0
