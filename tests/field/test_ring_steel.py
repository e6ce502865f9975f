"""Steel in rings: sums round the ring are exact, the tangent is the derivative, the bands are its diagonal blocks."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.magnetisation import flux_density
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Disc, Magnets, Plate, Rotor, SteelCurve
from fieldrun.design.units import MU0
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_steel import (
    SteelTables,
    gradients,
    into_harmonics,
    round_the_ring,
    steel_residual,
    steel_state,
    steel_tables,
)
from fieldrun.field.ring_system import RingSystem, ring_system
from fieldrun.field.ring_tangent import (
    SteelMatrices,
    held_matrices,
    steel_band,
    steel_times,
    tangent_matrices,
)

COARSE = RingDensity(edge=0.2, within=0.5, air=2.0, gap=1.0, growth=1.5, gap_growth=1.0, plate=1)
ORDERS = np.array([1, 3, 5])
MILD = steel_curve("mild steel")
AIR = SteelCurve("air", (0.0, 1.0), (0.0, 1 / MU0))
THOUSAND = SteelCurve("a thousand", (0.0, 1e6), (0.0, 1e6 / (1000 * MU0)))
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)


def system_of(curve: SteelCurve, orders: np.ndarray = ORDERS) -> RingSystem:
    """A backing and a return plate."""
    rotor = Rotor(1, 0.009, Plate(curve, 0.004), Plate(curve, 0.003), 0.052, 0.081)
    return ring_system(DISCS, ring_mesh(DISCS, rotor, COARSE), orders)


def tables_of(curve: SteelCurve, orders: np.ndarray = ORDERS) -> tuple[SteelTables, ...]:
    system = system_of(curve, orders)
    return steel_tables(system.mesh, system.waves)


def potential_of(system: RingSystem, size: float, seed: int = 1) -> Floats:
    """Anything: every node its own value, up to so many ampere."""
    return size * np.random.default_rng(seed).uniform(-1, 1, system.sources.shape)


def residual_of(system: RingSystem, potential: Floats) -> Floats:
    out = np.zeros_like(potential)
    steel_residual(tuple(steel_state(one, potential) for one in steel_tables(system.mesh, system.waves)), out)
    return out


def matrices_of(system: RingSystem, potential: Floats) -> tuple[SteelMatrices, ...]:
    return tuple(tangent_matrices(steel_state(one, potential)) for one in steel_tables(system.mesh, system.waves))


def tangent_of(system: RingSystem, potential: Floats, change: Floats) -> Floats:
    out = np.zeros_like(potential)
    steel_times(matrices_of(system, potential), change, out)
    return out


def test_steel_held_as_it_is_is_the_tangent_of_straight_steel() -> None:
    system = system_of(THOUSAND)
    held = tuple(
        held_matrices(one, np.full(one.weights.shape, 999.0)) for one in steel_tables(system.mesh, system.waves)
    )
    change = potential_of(system, 1.0)
    out = np.zeros_like(change)
    steel_times(held, change, out)
    exact = tangent_of(system, potential_of(system, 1.0, seed=2), change)
    np.testing.assert_allclose(out, exact, atol=1e-11 * np.abs(exact).max())


SIZES = [0.03, 0.3, 3.0, 300.0]
"""Amplitudes of random potentials [A] that bring the steel from its first rise to deep saturation."""


def test_random_potentials_go_from_weak_to_saturated() -> None:
    system = system_of(MILD)
    steel = steel_tables(system.mesh, system.waves)[0]
    peaks = [float(steel_state(steel, potential_of(system, size)).flux_density_t.max()) for size in SIZES]
    assert peaks[0] < 0.5
    assert peaks[-1] > 2.0


@pytest.mark.parametrize("size", SIZES)
def test_tangent_is_the_derivative_of_the_residual(size: float) -> None:
    """Central differences; few points cross a corner of the curve on so short a way."""
    system = system_of(MILD)
    potential, change = potential_of(system, size), potential_of(system, size, seed=2)
    step = 1e-7
    there, back = (residual_of(system, potential + sign * step * change) for sign in (1, -1))
    exact = tangent_of(system, potential, change)
    np.testing.assert_allclose((there - back) / (2 * step), exact, atol=1e-4 * np.abs(exact).max())


@pytest.mark.parametrize("size", SIZES)
def test_tangent_is_symmetric_and_positive(size: float) -> None:
    system = system_of(MILD)
    potential = potential_of(system, size)
    one, other = potential_of(system, 1.0, seed=3), potential_of(system, 1.0, seed=4)
    there, back = (np.sum(a * tangent_of(system, potential, b)) for a, b in ((one, other), (other, one)))
    own = np.sum(one * tangent_of(system, potential, one))
    assert there == pytest.approx(back, abs=1e-12 * own)
    assert own > 0


def test_bands_are_the_diagonal_blocks_of_the_tangent() -> None:
    system = system_of(MILD)
    potential = potential_of(system, 3.0)
    matrices = matrices_of(system, potential)
    for n, (r, z) in enumerate(system.free):
        band = steel_band(matrices, n, (r, z))
        columns = []
        for i in range(r.start, r.stop):
            for j in range(z.start, z.stop):
                one = np.zeros_like(potential)
                one[n, i, j] = 1.0
                out = np.zeros_like(potential)
                steel_times(matrices, one, out)
                columns.append(out[n, r, z].ravel())
        block = np.stack(columns, axis=1)
        assert np.any(block)
        for down, diagonal in enumerate(band):
            rows = len(block) - down
            np.testing.assert_allclose(diagonal[:rows], np.diagonal(block, -down), atol=1e-12 * np.abs(block).max())
            assert not np.any(diagonal[rows:])
        assert not np.any(np.tril(block, -len(band)))


def test_steel_down_to_the_sides_of_the_mesh() -> None:
    """A disc without a hole ends on the axis, where the potential is held at zero: no unknown, no entry."""
    rotor = Rotor(1, None, Plate(MILD, 0.004), None, 0.0, 0.081)
    system = ring_system(DISCS, ring_mesh(DISCS, rotor, COARSE), ORDERS)
    matrices = matrices_of(system, 0 * system.sources)
    for n, (r, z) in enumerate(system.free):
        band = steel_band(matrices, n, (r, z))
        assert band.shape[1] == (r.stop - r.start) * (z.stop - z.start)
        assert np.all(np.isfinite(band))


def test_steel_of_permeability_one_is_not_there() -> None:
    system = system_of(AIR)
    potential = potential_of(system, 100.0)
    scale = np.abs(residual_of(system_of(THOUSAND), potential)).max()
    assert np.abs(residual_of(system, potential)).max() < 1e-14 * scale
    assert np.abs(tangent_of(system, potential, potential)).max() < 1e-14 * scale


@pytest.mark.parametrize("n", [0, 2])
def test_energy_of_a_parabola_in_linear_steel_is_exact(n: int) -> None:
    """(mu - 1) INT (phi_r^2 + phi_z^2 + (n p / r)^2 phi^2) r dr dz over both discs, phi = r^2 z in one harmonic."""
    system = system_of(THOUSAND)
    mesh = system.mesh
    phi = np.zeros_like(system.sources)
    phi[n] = np.outer(mesh.radial.nodes_m**2, mesh.axial.nodes_m)
    fourth, sixth = (0.081**k - 0.052**k for k in (4, 6))
    wave, exact = int(system.waves[n]), 0.0
    for low, high in ((-0.010, -0.006), (0.009, 0.012)):
        exact += (4 + wave**2) * fourth / 4 * (high**3 - low**3) / 3 + sixth / 6 * (high - low)
    found = np.sum(phi * residual_of(system, phi))
    assert found == pytest.approx(999 * exact, rel=1e-11)
    assert found == pytest.approx(np.sum(phi * tangent_of(system, phi, phi)), rel=1e-12)


def test_linear_steel_does_not_couple_harmonics() -> None:
    system = system_of(THOUSAND)
    potential = potential_of(system, 1.0)
    potential[1:] = 0
    out = residual_of(system, potential)
    assert np.abs(out[1:]).max() < 1e-12 * np.abs(out[0]).max()


def test_saturating_steel_couples_them() -> None:
    system = system_of(MILD)
    potential = potential_of(system, 3.0)
    potential[1:] = 0
    out = residual_of(system, potential)
    assert np.abs(out[1]).max() > 1e-2 * np.abs(out[0]).max()


@pytest.mark.parametrize("orders", [[1], [1, 3, 5], list(range(1, 24, 2))])
def test_round_the_ring_and_back(orders: list[int]) -> None:
    """Amplitudes return times r dr dz: midpoints of a quarter wave keep odd harmonics apart, up to the last."""
    for steel in tables_of(MILD, np.array(orders)):
        points = (steel.radial.points_m.size, steel.axial.points_m.size)
        amplitudes = np.random.default_rng(8).normal(size=(3, len(orders), *points))
        around = round_the_ring(steel, amplitudes)
        assert around.shape == (3, *points, max(16, 8 * len(orders)))
        r_dr, dz = (steel.radial.points_m * steel.radial.weights_m).ravel(), steel.axial.weights_m.ravel()
        np.testing.assert_allclose(into_harmonics(steel, around), amplitudes * np.outer(r_dr, dz), atol=1e-18)


def test_gradients_of_a_parabola_are_exact() -> None:
    """Phi = r^2 z: 2 r z along r, r^2 along z, and -n p r z along theta."""
    system = system_of(MILD)
    phi = np.zeros_like(system.sources)
    phi[1] = np.outer(system.mesh.radial.nodes_m**2, system.mesh.axial.nodes_m)
    for steel in steel_tables(system.mesh, system.waves):
        r, z = steel.radial.points_m.ravel()[:, None], steel.axial.points_m.ravel()
        found = gradients(steel, phi)
        for component, exact in enumerate((2 * r * z, -24 * r * z, r**2 + 0 * z)):
            np.testing.assert_allclose(found[component, 1], exact, atol=1e-14)
        assert not np.any(found[:, [0, 2]])


def test_flux_density_by_hand() -> None:
    """Phi = c z cos(p theta): grad phi = c (cos along z, -(p z / r) sin along theta), and B from the curve."""
    system = system_of(MILD)
    phi = np.zeros_like(system.sources)
    phi[0] = 800.0 * system.mesh.axial.nodes_m
    for steel in steel_tables(system.mesh, system.waves):
        r, z = steel.radial.points_m.ravel()[:, None, None], steel.axial.points_m.ravel()[:, None]
        theta = (np.arange(24) + 0.5) / 24 * np.pi / 2
        strength = 800.0 * np.hypot(np.cos(theta), 8 * z / r * np.sin(theta))
        state = steel_state(steel, phi)
        np.testing.assert_allclose(state.flux_density_t, flux_density(MILD, strength), rtol=1e-11)


def test_no_field_no_flux() -> None:
    system = system_of(MILD)
    first = MILD.b_t[1] / MILD.h_a_per_m[1] / MU0
    for steel in steel_tables(system.mesh, system.waves):
        state = steel_state(steel, np.zeros_like(system.sources))
        assert not np.any(state.flux_density_t)
        assert not np.any(state.bend)
        np.testing.assert_allclose(state.excess, first - 1, rtol=1e-12)


@pytest.mark.parametrize("faint", [1e-30, 1e-100, 1e-170, 1e-300])
def test_the_faintest_field_gives_numbers(faint: float) -> None:
    """Near the axis a harmonic has fallen like r^(n p)."""
    system = system_of(MILD)
    potential = potential_of(system, faint)
    for value in (residual_of(system, potential), tangent_of(system, potential, potential_of(system, 1.0))):
        assert np.all(np.isfinite(value))


def test_no_steel_no_tables() -> None:
    bare = replace(DISCS)
    mesh = ring_mesh(bare, Rotor(1, None, None, None, 0.05, 0.08), COARSE)
    assert steel_tables(mesh, 8 * ORDERS) == ()
