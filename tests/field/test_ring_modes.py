"""Modes against the matrices they come from: orthogonal, an exact inverse, and a column that equals its elements."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Disc, Magnets, Plate, Rotor
from fieldrun.field.axis import axis_of, mass, stiffness
from fieldrun.field.ring_mesh import GAUSS, RingDensity, elements_over_face, reach, ring_mesh
from fieldrun.field.ring_modes import (
    Modes,
    air_inverse,
    column,
    in_air_alone,
    lower_modes,
    radial_modes,
)
from fieldrun.field.ring_system import RingSystem, on_free, ring_system
from tests.rings import linear_part

DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
FACING = Rotor(2, 0.009, None, None, 0.05, 0.085)
ROTORS = {
    "facing": FACING,
    "facing, backed": replace(FACING, backing=Plate(None)),
    "open": replace(FACING, faces=1, gap_m=None),
}
ORDERS = np.array([1, 3, 5, 21])


def system_of(rotor: Rotor) -> RingSystem:
    return ring_system(DISCS, ring_mesh(DISCS, rotor, RingDensity().coarser(2)), ORDERS)


@pytest.mark.parametrize("rotor", ROTORS)
def test_modes_take_both_matrices_to_diagonals(rotor: str) -> None:
    system = system_of(ROTORS[rotor])
    modes, air = radial_modes(system), system.air
    for n, (r, _) in enumerate(system.free):
        count = r.stop - r.start
        shapes = modes.shapes[n][:, :count]
        np.testing.assert_allclose(shapes.T @ air.values @ shapes, np.eye(count), atol=1e-9)
        sides = shapes.T @ (air.slopes + air.turns[n]) @ shapes
        np.testing.assert_allclose(sides, np.diag(modes.values[n, :count]), atol=1e-9 * np.abs(sides).max())
        assert not np.any(modes.shapes[n][:, count:])
        assert not np.any(np.delete(modes.shapes[n], np.arange(r.start, r.stop), axis=0))


@pytest.mark.parametrize("rotor", ROTORS)
def test_modes_invert_a_machine_full_of_air(rotor: str) -> None:
    system = system_of(ROTORS[rotor])
    load = on_free(system, np.random.default_rng(1).normal(size=system.sources.shape))
    which = np.array([0, 1, 3])
    found = np.zeros_like(load)
    found[which] = in_air_alone(air_inverse(system, which), load[which])
    load[2] = 0.0
    np.testing.assert_allclose(on_free(system, linear_part(system, found)), load, atol=1e-8)
    np.testing.assert_array_equal(on_free(system, found), found)


def test_no_harmonics_have_no_modes() -> None:
    system = system_of(FACING)
    nothing = air_inverse(system, np.array([], int))
    assert in_air_alone(nothing, system.sources[:0]).shape == (0, *system.sources.shape[1:])


def test_a_column_is_its_elements_solved() -> None:
    lines = np.array([0.0, 0.001, 0.0025, 0.005, 0.009])
    axis = axis_of(lines, GAUSS)
    values = np.array([[1.0, 4e4], [9e5, 3e6]])
    ends = np.array([4, 2])
    found = column(np.diff(lines), ends, Modes(np.zeros((2, 3, 2)), values))
    for n, end in enumerate(ends):
        for k, value in enumerate(values[n]):
            matrix = value * mass(axis) + stiffness(axis)
            free = np.arange(1, 2 * end)
            exact = np.zeros(axis.count)
            exact[0] = 1.0
            exact[free] = np.linalg.solve(matrix[np.ix_(free, free)], -matrix[free, 0])
            np.testing.assert_allclose(found.profile[n, k], exact, atol=1e-12)
            assert found.pull[n, k] == pytest.approx(float(matrix[0] @ exact), rel=1e-11)


def test_what_lies_under_the_face_takes_no_element_from_above_it() -> None:
    system = system_of(FACING)
    mesh = system.mesh
    below = axis_of(mesh.axial.vertices_m[: mesh.gap.first + 1], GAUSS)
    modes = lower_modes(system)
    for n, (_, z) in enumerate(system.free):
        count = below.count - z.start
        shapes = modes.shapes[n][:, :count]
        np.testing.assert_allclose(shapes.T @ mass(below) @ shapes, np.eye(count), atol=1e-9)
        stiff = shapes.T @ stiffness(below) @ shapes
        np.testing.assert_allclose(stiff, np.diag(modes.values[n, :count]), atol=1e-9 * np.abs(stiff).max())


@pytest.mark.parametrize("rotor", ROTORS)
def test_elements_over_the_face_are_those_of_the_mesh_s_own_reach(rotor: str) -> None:
    mesh = ring_mesh(DISCS, ROTORS[rotor], RingDensity())
    waves = 8 * np.arange(1, 48, 2)
    found = elements_over_face(mesh, waves, mesh.axial.vertices_m[mesh.gap.first :])
    tops = [reach(mesh, int(wave))[1].stop for wave in waves]
    assert found.tolist() == [(top + 1) // 2 - mesh.gap.first if top % 2 else top // 2 - mesh.gap.first for top in tops]
