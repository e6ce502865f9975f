"""Six tetrahedra fill a unit cell: their rule integrates polynomials, their gradients are derivatives."""

import math
from itertools import product

import numpy as np
import pytest

from fieldrun.reference.solid_shapes import (
    TET_NODES,
    TRIANGLE_BELOW,
    TRIANGLE_NODES,
    WALKS,
    tet_gradients,
    tet_rule,
    triangle_shapes,
)


def test_nodes_of_six_tetrahedra_are_the_lattice_of_half_cells():
    assert {tuple(node) for node in TET_NODES.reshape(-1, 3)} == set(product(range(3), repeat=3))


@pytest.mark.parametrize("powers", [(0, 0, 0), (1, 0, 0), (0, 2, 1), (1, 1, 1), (3, 0, 0), (0, 1, 2)])
def test_rule_is_exact_to_the_third_degree_and_positive(powers):
    points, weights = tet_rule()
    assert np.all(weights > 0)
    total = np.sum(weights * np.prod(points**powers, axis=2))
    assert total == pytest.approx(math.prod(1 / (power + 1) for power in powers), rel=1e-13)


def quadratic(x):
    return 1 + x[..., 0] - 2 * x[..., 1] * x[..., 2] + 3 * x[..., 2] ** 2 + x[..., 0] * x[..., 1]


@pytest.mark.parametrize("tet", range(6))
def test_gradients_of_a_quadratic_are_exact(tet):
    points = tet_rule()[0][tet]
    found = np.einsum("qad,a->qd", tet_gradients(points, WALKS[tet]), quadratic(TET_NODES[tet] / 2))
    r, theta, z = points.T
    assert found == pytest.approx(np.stack([1 + theta, -2 * z + r, -2 * theta + 6 * z], axis=1), abs=1e-12)


@pytest.mark.parametrize("triangle", [0, 1])
def test_triangle_shapes_interpolate_a_quadratic(triangle):
    inside = np.array([[0.6, 0.2], [0.9, 0.85], [0.5, 0.5]])
    points = inside if triangle == 0 else inside[:, ::-1]
    nodes = np.concatenate([TRIANGLE_NODES[triangle] / 2, np.zeros((6, 1))], axis=1)
    there = np.concatenate([points, np.zeros((3, 1))], axis=1)
    assert triangle_shapes(points, triangle) @ quadratic(nodes) == pytest.approx(quadratic(there), abs=1e-12)


def test_every_tetrahedron_stands_over_its_triangle():
    points, _ = tet_rule()
    for tet, triangle in enumerate(TRIANGLE_BELOW):
        r, theta = points[tet, :, 0], points[tet, :, 1]
        assert np.all(r > theta if triangle == 0 else theta > r)
