"""Numbers of elements whose shape is known by heart."""

import math

import numpy as np
import pytest
import skfem

from fieldrun.field.mesh import SectionMesh
from fieldrun.field.quality import mesh_quality


def quality_of(kind: type, points: list[tuple[float, float]]) -> tuple[float, ...]:
    mesh = kind(np.array(points, float).T, np.arange(len(points))[:, None])
    found = mesh_quality(SectionMesh(mesh, np.array([-1])))
    assert found.elements == 1
    assert found.mean_shape == found.least_shape
    return found.least_angle_deg, found.least_shape, found.largest_aspect


@pytest.mark.parametrize(
    ("points", "angle", "shape", "aspect"),
    [
        ([(0, 0), (1, 0), (0.5, math.sqrt(0.75))], 60, 1, 1),
        ([(0, 0), (1, 0), (0, 1)], 45, math.sin(math.pi / 4) * 2 / math.sqrt(3), math.sqrt(2)),
        ([(0, 0), (2, 0), (0, 2e-3)], math.degrees(1e-3), 1e-3 * 2 / math.sqrt(3), 1000),
    ],
)
def test_triangles(points: list[tuple[float, float]], angle: float, shape: float, aspect: float) -> None:
    assert quality_of(skfem.MeshTri, points) == pytest.approx((angle, shape, aspect), rel=1e-5)


@pytest.mark.parametrize(
    ("points", "angle", "shape", "aspect"),
    [
        ([(0, 0), (3, 0), (3, 1), (0, 1)], 90, 1, 3),
        ([(0, 0), (1, 0), (1.5, 1), (0.5, 1)], math.degrees(math.atan(2)), 2 / math.sqrt(5), math.sqrt(1.25)),
    ],
)
def test_quadrilaterals(points: list[tuple[float, float]], angle: float, shape: float, aspect: float) -> None:
    assert quality_of(skfem.MeshQuad, points) == pytest.approx((angle, shape, aspect))


def test_worst_and_mean_are_told_apart() -> None:
    mesh = skfem.MeshTri.init_tensor(np.array([0.0, 1.0, 1.2]), np.array([0.0, 1.0]))
    found = mesh_quality(SectionMesh(mesh, np.full(4, -1)))
    assert found.elements == 4
    assert found.least_shape < found.mean_shape < 1
    assert found.least_angle_deg == pytest.approx(math.degrees(math.atan(0.2)))
