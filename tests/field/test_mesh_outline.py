"""Bodies and their outlines, found again from elements alone."""

import numpy as np
import pytest
import skfem

from fieldrun.field.mesh_outline import bodies

GRID = np.arange(7.0)


def mesh(kind: str) -> skfem.Mesh:
    quads = skfem.MeshQuad.init_tensor(GRID, GRID[:5])
    return quads if kind == "quads" else quads.to_meshtri()


def middles(one: skfem.Mesh) -> tuple[np.ndarray, np.ndarray]:
    x, z = one.p[:, one.t].mean(axis=1)
    return x, z


def area(polygon: tuple[tuple[float, float], ...]) -> float:
    x, z = np.array(polygon).T
    return float(np.sum(x * np.roll(z, -1) - np.roll(x, -1) * z)) / 2


@pytest.mark.parametrize("kind", ["quads", "triangles"])
def test_a_rectangle_has_four_corners(kind: str) -> None:
    one = mesh(kind)
    x, z = middles(one)
    ((part, polygon),) = bodies(one, (x > 1) & (x < 4) & (z < 2))
    assert sorted(polygon) == [(1, 0), (1, 2), (4, 0), (4, 2)]
    assert area(polygon) == pytest.approx(6)  # counterclockwise
    assert len(part) == (6 if kind == "quads" else 12)


@pytest.mark.parametrize("kind", ["quads", "triangles"])
def test_separate_bodies_are_told_apart(kind: str) -> None:
    one = mesh(kind)
    x, _ = middles(one)
    found = list(bodies(one, (x < 2) | (x > 3)))
    assert sorted(area(polygon) for _, polygon in found) == pytest.approx([8, 12])
    together = np.concatenate([part for part, _ in found])
    assert len(np.unique(together)) == len(together) == np.count_nonzero((x < 2) | (x > 3))


def test_corners_that_only_touch_are_two_bodies() -> None:
    one = mesh("quads")
    x, z = middles(one)
    found = list(bodies(one, ((x < 2) & (z < 2)) | ((x > 2) & (x < 4) & (z > 2))))
    assert [area(polygon) for _, polygon in found] == pytest.approx([4, 4])


def test_holes_are_left_out() -> None:
    one = mesh("quads")
    x, z = middles(one)
    ((_, polygon),) = bodies(one, ~((x > 2) & (x < 3) & (z > 1) & (z < 2)))
    assert sorted(polygon) == [(0, 0), (0, 4), (6, 0), (6, 4)]


def test_a_hole_that_touches_the_rim_in_a_point() -> None:
    """A ring pinched at one point: the walk may pass it either way, but it must end and keep the area right."""
    one = mesh("quads")
    x, z = middles(one)
    body = ((x < 4) & (z < 3)) & ~((x > 2) & (x < 3) & (z > 1) & (z < 2)) & ~((x > 3) & (z > 2))
    ((part, polygon),) = bodies(one, body)
    assert len(part) == 10
    assert round(area(polygon), 9) in {10, 11}


def test_nothing_chosen_is_no_body() -> None:
    one = mesh("quads")
    assert list(bodies(one, np.zeros(one.t.shape[1], bool))) == []
