"""Elements along one axis: exact for polynomials, whatever the weights, and graded from end to end."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.polynomial import Polynomial

from fieldrun.field.axis import Axis, axis_of, between, element_nodes, graded, load, mass, stiffness

UNEVEN = axis_of(np.array([0.02, 0.021, 0.03, 0.05, 0.11]), 5)
QUADRATICS = (Polynomial([1.0]), Polynomial([-0.5, 30.0]), Polynomial([0.2, -7.0, 400.0]))
WEIGHTS = (Polynomial([1.0]), Polynomial([0.3, 20.0]), Polynomial([0.1, -3.0, 90.0, 700.0]))


def integral(integrand: Polynomial, axis: Axis = UNEVEN) -> float:
    return integral_over(integrand, axis.vertices_m[0], axis.vertices_m[-1])


def integral_over(integrand: Polynomial, low: float, high: float) -> float:
    primitive = integrand.integ()
    return float(primitive(high) - primitive(low))


@pytest.mark.parametrize("gauss", [1, 3, 5])
def test_shape_functions_share_one_out_at_every_point(gauss: int) -> None:
    axis = axis_of(UNEVEN.vertices_m, gauss)
    np.testing.assert_allclose(axis.values.sum(axis=-1), 1, rtol=1e-14)
    np.testing.assert_allclose(axis.slopes.sum(axis=-1), 0, atol=1e-9)
    np.testing.assert_allclose(axis.weights_m.sum(axis=1), np.diff(axis.vertices_m), rtol=1e-14)


def test_nodes_are_ends_and_middles_of_elements() -> None:
    assert UNEVEN.count == 9
    assert UNEVEN.nodes_m == pytest.approx([0.02, 0.0205, 0.021, 0.0255, 0.03, 0.04, 0.05, 0.08, 0.11])
    assert element_nodes(UNEVEN).tolist() == [[0, 1, 2], [2, 3, 4], [4, 5, 6], [6, 7, 8]]
    start, end = UNEVEN.vertices_m[:-1, None], UNEVEN.vertices_m[1:, None]
    assert np.all((start < UNEVEN.points_m) & (end > UNEVEN.points_m))


def test_points_see_the_parabola_that_the_nodes_hold() -> None:
    """Values and slopes of a quadratic at the Gauss points come from its nodes."""
    curve = QUADRATICS[2]
    held = curve(UNEVEN.nodes_m)[element_nodes(UNEVEN)]
    np.testing.assert_allclose(np.einsum("qi,ei->eq", UNEVEN.values, held), curve(UNEVEN.points_m), rtol=1e-13)
    slopes = np.einsum("eqi,ei->eq", UNEVEN.slopes, held)
    np.testing.assert_allclose(slopes, curve.deriv()(UNEVEN.points_m), atol=1e-10)


@pytest.mark.parametrize("weight", WEIGHTS)
@pytest.mark.parametrize("places", [(0.0204, 0.0207), (0.0207, 0.026, 0.04), (0.02, 0.0301, 0.0302, 0.11), (0.01, 0.2)])
def test_between_places_integrals_are_exact_with_a_bend_at_each(places: tuple[float, ...], weight: Polynomial) -> None:
    """A weight that is a different polynomial on each stretch, and none outside."""
    axis, f, g = between(UNEVEN, places, 5), QUADRATICS[2], QUADRATICS[1]
    stretch = np.searchsorted(places, axis.points_m, side="right")
    w, held, other = stretch * weight(axis.points_m), f(axis.nodes_m), g(axis.nodes_m)
    ends = [(k + 1, max(low, 0.02), min(high, 0.11)) for k, (low, high) in enumerate(pairwise(places))]

    def exact(integrand: Polynomial) -> float:
        return sum(k * integral_over(weight * integrand, low, high) for k, low, high in ends)

    assert held @ mass(axis, w) @ other == pytest.approx(exact(f * g), rel=1e-11)
    assert held @ stiffness(axis, w) @ other == pytest.approx(exact(f.deriv() * g.deriv()), rel=1e-9)
    assert held @ load(axis, w) == pytest.approx(exact(f), rel=1e-11)
    assert held @ load(axis, w, slope=True) == pytest.approx(exact(f.deriv()), rel=1e-9)


@pytest.mark.parametrize("places", [(0.02, 0.11), (0.02, 0.021, 0.05, 0.11)])
def test_between_ends_of_elements_the_axis_serves_as_it_is(places: tuple[float, ...]) -> None:
    assert between(UNEVEN, places, 5) is UNEVEN


@pytest.mark.parametrize("weight", WEIGHTS)
@pytest.mark.parametrize("first", QUADRATICS)
@pytest.mark.parametrize("second", QUADRATICS)
def test_integrals_of_polynomials_are_exact(weight: Polynomial, first: Polynomial, second: Polynomial) -> None:
    """Five Gauss points are exact to degree nine; two quadratics and a cubic weight make seven."""
    w, f, g = weight(UNEVEN.points_m), first(UNEVEN.nodes_m), second(UNEVEN.nodes_m)
    assert f @ mass(UNEVEN, w) @ g == pytest.approx(integral(weight * first * second), rel=1e-12, abs=1e-15)
    bent = integral(weight * first.deriv() * second.deriv())
    assert f @ stiffness(UNEVEN, w) @ g == pytest.approx(bent, rel=1e-10, abs=1e-10)
    assert f @ load(UNEVEN, w) == pytest.approx(integral(weight * first), rel=1e-12, abs=1e-15)
    assert f @ load(UNEVEN, w, slope=True) == pytest.approx(integral(weight * first.deriv()), rel=1e-10, abs=1e-12)


def test_no_weight_is_weight_one() -> None:
    one = np.ones_like(UNEVEN.points_m)
    np.testing.assert_array_equal(mass(UNEVEN), mass(UNEVEN, one))
    np.testing.assert_array_equal(stiffness(UNEVEN), stiffness(UNEVEN, one))


@pytest.mark.parametrize("matrix", [mass, stiffness])
def test_weights_side_by_side_are_weights_one_by_one(matrix) -> None:  # type: ignore[no-untyped-def]  # two functions
    weights = np.random.default_rng(1).uniform(0.5, 2, (2, 3, *UNEVEN.points_m.shape))
    together = matrix(UNEVEN, weights)
    assert together.shape == (2, 3, UNEVEN.count, UNEVEN.count)
    for i in range(2):
        for j in range(3):
            np.testing.assert_allclose(together[i, j], matrix(UNEVEN, weights[i, j]), rtol=1e-14)
    loads = load(UNEVEN, weights)
    np.testing.assert_allclose(loads[1, 2], load(UNEVEN, weights[1, 2]), rtol=1e-14)


def test_matrices_are_symmetric_and_reach_two_nodes() -> None:
    weight = np.random.default_rng(2).uniform(0.5, 2, UNEVEN.points_m.shape)
    for matrix in (mass(UNEVEN, weight), stiffness(UNEVEN, weight)):
        np.testing.assert_allclose(matrix, matrix.T, rtol=1e-13)
        assert not np.any(np.triu(matrix, 3))
    assert np.linalg.eigvalsh(mass(UNEVEN, weight)).min() > 0
    assert stiffness(UNEVEN, weight) @ np.ones(UNEVEN.count) == pytest.approx(np.zeros(UNEVEN.count), abs=1e-9)


def test_an_axis_is_read_only() -> None:
    for name in ("nodes_m", "points_m", "weights_m", "values", "slopes"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(UNEVEN, name)[0] = 1.0


proportions = st.floats(-5, 3).map(lambda exponent: 10.0**exponent)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(first=proportions, last=proportions, largest=proportions, growth=st.floats(0.05, 1.5), start=st.floats(-2, 2))
@example(first=1.0, last=1e-5, largest=1.0, growth=0.0625, start=0.0)  # the wanted spacing grows 6250 times its end's
@example(first=1.04e-5, last=3e-3, largest=1.3e-4, growth=0.0528, start=1.2)
def test_grading(first: float, last: float, largest: float, growth: float, start: float) -> None:
    """From 1e-5 to 1000 of the interval: ends met, and no spacing beyond what its ends and its neighbours allow.

    Equal parts of INT dx / spacing, at most 1 each, let an element at an end grow to size (exp(growth) - 1) / growth
    and its neighbour to exp(growth) times itself; 3 % are left for the sum that stands for the integral.
    """
    lines = graded(start, start + 1, (first, last), growth, largest)
    spacing = np.diff(lines)
    assert lines[0] == start
    assert lines[-1] == start + 1
    assert np.all(spacing > 0)
    ratio = spacing[1:] / spacing[:-1]
    most = 1.03 * math.exp(growth)
    assert np.all(ratio < most)
    assert np.all(ratio > 1 / most)
    swell = 1.03 * math.expm1(growth) / growth
    assert spacing[0] <= swell * min(first, largest)
    assert spacing[-1] <= swell * min(last, largest)
    assert spacing.max() <= 1.03 * largest


@settings(derandomize=True, max_examples=50, deadline=None)
@given(first=proportions, last=proportions, largest=proportions, growth=st.floats(0.05, 1.5))
def test_grading_from_the_other_end(first: float, last: float, largest: float, growth: float) -> None:
    there, back = graded(0, 1, (first, last), growth, largest), graded(0, 1, (last, first), growth, largest)
    np.testing.assert_allclose(1 - back[::-1], there, atol=1e-12)


def test_grading_costs_the_logarithm_of_the_proportion() -> None:
    """INT dx / (size + growth x) from one end is log(1 + growth / size) / growth."""
    counts = [len(graded(0, 1, (size, math.inf), 0.5)) - 1 for size in (1e-2, 1e-3, 1e-4, 1e-5)]
    assert counts == pytest.approx([2 * math.log1p(0.5 / size) for size in (1e-2, 1e-3, 1e-4, 1e-5)], abs=1)
    assert all(1 <= more - fewer <= 6 for fewer, more in pairwise(counts))


@pytest.mark.parametrize("sizes", [(math.inf, math.inf), (5.0, math.inf), (3.0, 3.0)])
def test_one_element_where_none_is_asked_for(sizes: tuple[float, float]) -> None:
    lines = graded(-1.0, 0.5, sizes, 0.3)
    assert lines.tolist() == [-1.0, 0.5]


def test_even_spacing_where_the_largest_rules() -> None:
    np.testing.assert_allclose(graded(0, 1, (1.0, 1.0), 0.5, 0.125), np.linspace(0, 1, 9), atol=1e-12)


def test_the_largest_may_depend_on_the_place() -> None:
    """A tenth of the radius at most: INT dr / (r / 10) = 10 log(8) elements, each longer than the last by a factor."""
    lines = graded(0.5, 4.0, (math.inf, math.inf), 0.5, lambda r: r / 10)
    assert len(lines) - 1 == math.ceil(10 * math.log(8))
    ratio = np.diff(lines)[1:] / np.diff(lines)[:-1]
    np.testing.assert_allclose(ratio, 8 ** (1 / (len(lines) - 1)), rtol=2e-3)
