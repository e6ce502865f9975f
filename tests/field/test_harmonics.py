"""Harmonics of known potentials, and the open side that follows from them."""

import math

import numpy as np
import pytest
import skfem

from fieldrun.design.units import MU0
from fieldrun.field.harmonics import (
    facets_at_height,
    harmonic_kernel,
    harmonic_weights,
    mesh_line,
    open_side_block,
    wave_numbers,
    weighted,
)
from fieldrun.field.section import Section
from fieldrun.field.section_elements import second_order_basis

TAU = 0.026
ORDERS = np.array([1, 3, 5, 7])


def section(width: str) -> Section:
    return Section(TAU, width, 0.0, 0.01, "open", "open", (), None)  # type: ignore[arg-type]  # from a parameter list


def box(width: str, elements: int, kind: str = "quads") -> skfem.Mesh:
    x = np.linspace(0, section(width).width_m, elements + 1) ** 1.0
    mesh = skfem.MeshQuad.init_tensor(x, np.array([0.0, 0.004, 0.01]))
    return mesh if kind == "quads" else mesh.to_meshtri()


def allowed(width: str, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A potential of two harmonics that the box allows, and its amplitudes a_n at `ORDERS`."""
    k = np.pi / TAU
    if width == "half pole":
        return 0.7 * np.sin(k * x) - 0.2 * np.sin(5 * k * x), np.array([-0.7j, 0, 0.2j, 0])
    return 0.7 * np.cos(k * x + 0.3) - 0.2 * np.sin(5 * k * x), np.array([0.7 * np.exp(0.3j), 0, 0.2j, 0])


@pytest.mark.parametrize("kind", ["quads", "triangles"])
@pytest.mark.parametrize("width", ["half pole", "full pole"])
def test_amplitudes_of_a_known_potential(width: str, kind: str) -> None:
    errors = []
    for elements in (12, 24):
        basis = second_order_basis(box(width, elements, kind))
        values, wanted = allowed(width, basis.doflocs[0])
        line = mesh_line(basis, facets_at_height(basis.mesh, 0.01))
        found = weighted(harmonic_weights(section(width), basis.mesh.p[0, line.points], ORDERS), values[line.dofs])
        errors.append(np.abs(found - wanted).max())
    assert errors[1] < 5e-4
    assert errors[1] < errors[0] / 7  # what is left is the interpolation by parabolas


def test_line_is_ordered_whatever_the_mesh_numbers() -> None:
    mesh = box("half pole", 9)
    shuffled = np.random.default_rng(1).permutation(mesh.p.shape[1])
    mixed = skfem.MeshQuad(mesh.p[:, np.argsort(shuffled)], shuffled[mesh.t])
    basis = second_order_basis(mixed)
    line = mesh_line(basis, facets_at_height(mixed, 0.004))
    ends = mixed.p[0, line.points]
    assert ends[0, 0] == 0
    assert np.array_equal(ends[1:, 0], ends[:-1, 1])
    assert np.array_equal(line.side[line.place].reshape(-1, 3), line.dofs)
    x, z = basis.doflocs[:, line.dofs]
    assert np.all(z == 0.004)
    assert x[:, [0, 2]] == pytest.approx(ends)
    assert x[:, 1] == pytest.approx(ends.mean(axis=1))


@pytest.mark.parametrize("width", ["half pole", "full pole"])
def test_kernel_picks_its_own_harmonic(width: str) -> None:
    x = (np.arange(4000) + 0.5) / 4000 * section(width).width_m
    values, wanted = allowed(width, x)
    found = harmonic_kernel(section(width), x, ORDERS) @ values * section(width).width_m / 4000
    assert found == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("width", ["half pole", "full pole"])
def test_open_side_holds_the_energy_of_the_air_behind_it(width: str) -> None:
    """1/2 A' K A over the width is the energy of decaying harmonics: sum of k_n |a_n|^2 width / (4 mu0)."""
    basis = second_order_basis(box(width, 40))
    line = mesh_line(basis, facets_at_height(basis.mesh, 0.01))
    block = open_side_block(section(width), line, basis.mesh.p)
    values, amplitude = allowed(width, basis.doflocs[0])
    trace = values[block.dofs]
    energy = trace @ block.matrix @ trace / 2
    k = wave_numbers(section(width), ORDERS)
    assert energy == pytest.approx(np.sum(k * np.abs(amplitude) ** 2) * section(width).width_m / (4 * MU0), rel=1e-4)
    assert np.abs(block.matrix - block.matrix.T).max() < 1e-12 * np.abs(block.matrix).max()
    assert np.linalg.eigvalsh(block.matrix).min() > -1e-9 * np.abs(block.matrix).max()


def test_open_side_turns_a_harmonic_into_its_normal_slope() -> None:
    """K A = k/mu0 A weighted by the shape functions, for the harmonic the mesh resolves best."""
    basis = second_order_basis(box("half pole", 24))
    line = mesh_line(basis, facets_at_height(basis.mesh, 0.01))
    block = open_side_block(section("half pole"), line, basis.mesh.p)
    k = math.pi / TAU
    side = skfem.FacetBasis(basis.mesh, basis.elem, facets=facets_at_height(basis.mesh, 0.01), intorder=8)
    wanted = skfem.asm(skfem.LinearForm(lambda v, w: k / MU0 * np.sin(k * w.x[0]) * v), side)
    found = block.matrix @ np.sin(k * basis.doflocs[0, block.dofs])
    held = basis.doflocs[0, block.dofs] < 1e-12  # the pole's centre line is no unknown
    assert np.abs(found - wanted[block.dofs])[~held].max() < 1e-3 * np.abs(wanted).max()
