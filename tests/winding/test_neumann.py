"""Neumann's integral of two straight filaments, against adaptive quadrature and its own laws."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad

from fieldrun.winding.neumann import PARALLEL, neumann, own

COORDINATE = st.floats(-1, 1)
POINT = st.tuples(COORDINATE, COORDINATE, COORDINATE)


def pair(a, b, apart=0.0):
    return float(neumann(np.array(a, float)[..., None], np.array(b, float)[..., None], apart)[0])


def by_quadrature(a, b):
    (a0, a1), (b0, b1) = np.array(a, float), np.array(b, float)
    value = dblquad(lambda s, t: 1 / np.linalg.norm(a0 + s * (a1 - a0) - b0 - t * (b1 - b0)), 0, 1, 0, 1, epsrel=1e-9)
    return float((a1 - a0) @ (b1 - b0)) * value[0]


SKEW = ([(0, 0, 0), (1, 0, 0)], [(0.2, -0.3, 0.1), (0.9, 0.8, 0.4)])
CROSSING = ([(0, 0, 0), (1, 0, 0)], [(0.3, -0.5, 0.05), (0.7, 0.5, 0.05)])
ONE_PLANE = ([(0, 0, 0), (1, 0, 0)], [(0.2, 0.1, 0), (1.3, 0.9, 0)])
ALONG = ([(0, 0, 0), (1, 0, 0)], [(0.2, 0.1, 0.05), (1.7, 0.1, 0.05)])
BACKWARDS = ([(0, 0, 0), (1, 0, 0)], [(0.8, 0.1, 0), (-0.3, 0.1, 0)])
IN_LINE = ([(0, 0, 0), (1, 0, 0)], [(1.2, 0, 0), (2, 0, 0)])


@pytest.mark.parametrize("ends", [SKEW, CROSSING, ONE_PLANE, ALONG, BACKWARDS, IN_LINE])
def test_the_closed_form_is_the_integral(ends):
    assert pair(*ends) == pytest.approx(by_quadrature(*ends), rel=1e-6)


def test_filaments_that_meet_in_a_corner():
    """Grover: at angle phi, equal lengths l: cos(phi) times 4 l artanh(l / (l + R)), R between the far ends."""
    for angle in (0.3, 1.2, 2.5):
        far = np.hypot(1 - np.cos(angle), np.sin(angle))
        wanted = np.cos(angle) * 4 * np.arctanh(1 / (1 + far))
        found = pair([(0, 0, 0), (1, 0, 0)], [(0, 0, 0), (np.cos(angle), np.sin(angle), 0)])
        assert found == pytest.approx(wanted, rel=1e-9)


def test_filaments_square_to_each_other_do_not_couple():
    assert pair([(0, 0, 0), (1, 0, 0)], [(0.5, 0.2, 0), (0.5, 0.2, 1)]) == 0


@settings(derandomize=True, max_examples=60)
@given(POINT, POINT, POINT, POINT)
def test_partners_may_change_places_and_a_turned_one_changes_the_sign(a, b, c, d):
    ends = [a, b], [np.add(c, (0, 0, 3)), np.add(d, (0, 0, 3))]
    if min(np.linalg.norm(np.subtract(*two)) for two in ends) < 0.1:
        return
    value = pair(*ends)
    assert pair(ends[1], ends[0]) == pytest.approx(value, rel=1e-6, abs=1e-9)
    assert pair(ends[0], ends[1][::-1]) == pytest.approx(-value, rel=1e-6, abs=1e-9)
    assert pair(2 * np.array(ends[0]), 2 * np.array(ends[1])) == pytest.approx(2 * value, rel=1e-6, abs=1e-9)


def test_nothing_jumps_where_filaments_become_parallel():
    apart = 0.02
    values = [
        pair([(0, 0, 0), (1, 0, 0)], [(0, apart, 0), (np.cos(phi), apart + np.sin(phi), 0)])
        for phi in (0.99 * PARALLEL, 1.01 * PARALLEL)
    ]
    assert values[0] == pytest.approx(values[1], rel=2e-4)


def test_wires_drawn_on_top_of_each_other_lie_side_by_side():
    line = [(0, 0, 0), (1, 0, 0)]
    beside = pair(line, [(0, 0.01, 0), (1, 0.01, 0)])
    assert pair(line, line, 0.01) == pytest.approx(beside, rel=1e-12)
    assert pair(line, line[::-1], 0.01) == pytest.approx(-beside, rel=1e-12)
    assert pair(line, [(0, 0.02, 0), (1, 0.02, 0)], 0.01) < beside
    # behind each other is not on top of each other
    assert pair(line, [(1, 0, 0), (2, 0, 0)], 0.01) == pytest.approx(2 * np.log(2), rel=1e-6)


def test_a_wire_cut_in_two_is_the_same_wire():
    whole = own(np.array([1.0]), 1e-3)[0]
    first, second = own(np.array([0.3, 0.7]), 1e-3)
    assert first + second + 2 * pair([(0, 0, 0), (0.3, 0, 0)], [(0.3, 0, 0), (1, 0, 0)]) == pytest.approx(
        whole, rel=1e-8
    )


def test_a_round_wire_alone():
    """Two wires in parallel, and the mean of 1/R over the section: ln(distance) averages to ln(a) - 1/4."""
    rng = np.random.default_rng(1)
    radius, angle = 1e-3 * np.sqrt(rng.random((2, 20_000))), 2 * np.pi * rng.random((2, 20_000))
    gap = np.abs(radius[0] * np.exp(1j * angle[0]) - radius[1] * np.exp(1j * angle[1]))
    ends = np.zeros((2, 3, len(gap)))
    ends[1, 0] = 1
    other = ends.copy()
    other[:, 1] = gap
    assert np.mean(neumann(ends, other)) == pytest.approx(own(np.array([1.0]), 1e-3)[0], rel=2e-3)
