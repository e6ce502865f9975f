"""Numbers of elements whose shape is known by heart."""

import math

import numpy as np
import pytest
import skfem

from fieldrun.field.mesh import SectionMesh
from fieldrun.field.quality import mesh_quality


def quality_of(kind: type, points: list[tuple[float, float]]) -> float:
    mesh = kind(np.array(points, float).T, np.arange(len(points))[:, None])
    found = mesh_quality(SectionMesh(mesh, np.array([-1])))
    assert found.elements == 1
    return found.least_angle_deg


@pytest.mark.parametrize(
    ("points", "angle"),
    [
        ([(0, 0), (1, 0), (0.5, math.sqrt(0.75))], 60),
        ([(0, 0), (1, 0), (0, 1)], 45),
        ([(0, 0), (2, 0), (0, 2e-3)], math.degrees(1e-3)),
    ],
)
def test_triangles(points: list[tuple[float, float]], angle: float) -> None:
    assert quality_of(skfem.MeshTri, points) == pytest.approx(angle, rel=1e-5)


@pytest.mark.parametrize(
    ("points", "angle"),
    [
        ([(0, 0), (3, 0), (3, 1), (0, 1)], 90),
        ([(0, 0), (1, 0), (1.5, 1), (0.5, 1)], math.degrees(math.atan(2))),
    ],
)
def test_quadrilaterals(points: list[tuple[float, float]], angle: float) -> None:
    assert quality_of(skfem.MeshQuad, points) == pytest.approx(angle)


def test_the_worst_element_counts() -> None:
    mesh = skfem.MeshTri.init_tensor(np.array([0.0, 1.0, 1.2]), np.array([0.0, 1.0]))
    found = mesh_quality(SectionMesh(mesh, np.full(4, -1)))
    assert found.elements == 4
    assert found.least_angle_deg == pytest.approx(math.degrees(math.atan(0.2)))
