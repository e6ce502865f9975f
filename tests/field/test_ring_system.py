"""Matrices of the rings: what is stored in bands is what is applied, and both are the integrals they stand for."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.banded import one_thread
from fieldrun.field.ring_mesh import RingDensity, ring_mesh
from fieldrun.field.ring_sources import remanence_amplitudes
from fieldrun.field.ring_system import RingSystem, first_orders, on_free, ring_system
from fieldrun.field.slabs import Slab
from tests.rings import linear_bands, linear_part

COARSE = RingDensity(edge=0.2, within=0.5, air=2.0, gap=1.0, growth=1.5, gap_growth=1.0, plate=1)
ORDERS = np.array([1, 3, 5])
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.2, 7500.0)
ARCS = replace(DISCS, outline=Arc(0.050, 0.080, 0.7), count=6)
HALBACH = replace(DISCS, outline=Block(0.022, 0.010, 0.066), pattern="halbach", segments_per_pole=2)
FACING = Rotor(2, 0.009, None, None, 0.05, 0.082)
STEEL = replace(FACING, backing=Plate(steel_curve("mild steel"), 0.004))
MACHINES = {
    "discs": (DISCS, FACING),
    "arcs in the open": (ARCS, Rotor(1, None, None, None, 0.05, 0.082)),
    "halbach on steel": (HALBACH, STEEL),
    "no recoil": (replace(DISCS, recoil_permeability=1.0), FACING),
}


def system_of(machine: str, orders: np.ndarray = ORDERS) -> RingSystem:
    magnets, rotor = MACHINES[machine]
    return ring_system(magnets, ring_mesh(magnets, rotor, COARSE), orders)


def unknowns(system: RingSystem) -> list[tuple[int, int, int]]:
    """Order, radial and axial node of every unknown, in the bands' order."""
    return [
        (n, i, j)
        for n, (r, z) in enumerate(system.free)
        for i in range(r.start, r.stop)
        for j in range(z.start, z.stop)
    ]


def applied(system: RingSystem) -> Floats:
    """The matrix that `linear_part` stands for, column by column."""
    places = tuple(np.array(unknowns(system)).T)
    columns = []
    for n, i, j in zip(*places, strict=True):
        one = np.zeros_like(system.sources)
        one[n, i, j] = 1.0
        columns.append(linear_part(system, one)[places])
    return np.stack(columns, axis=1)


def from_band(band: Floats) -> Floats:
    size = band.shape[1]
    out = np.zeros((size, size))
    for down, diagonal in enumerate(band):
        rows = np.arange(size - down)
        out[rows + down, rows] = out[rows, rows + down] = diagonal[: size - down]
    return out


@pytest.mark.parametrize("machine", MACHINES)
def test_bands_are_the_diagonal_blocks_of_what_is_applied(machine: str) -> None:
    system = system_of(machine)
    whole, start = applied(system), 0
    for band in linear_bands(system):
        end = start + band.shape[1]
        block = whole[start:end, start:end]
        np.testing.assert_allclose(from_band(band), block, atol=1e-13 * np.abs(block).max())
        start = end
    assert start == len(whole)


@pytest.mark.parametrize("machine", MACHINES)
def test_what_is_applied_is_symmetric_and_positive(machine: str) -> None:
    whole = applied(system_of(machine))
    np.testing.assert_allclose(whole, whole.T, atol=1e-13 * np.abs(whole).max())
    with one_thread():
        assert np.diagonal(np.linalg.cholesky(whole)).min() > 0  # an error if there is none


def test_harmonics_meet_in_recoil_permeability_only() -> None:
    for machine, meet in (("discs", True), ("no recoil", False)):
        system = system_of(machine)
        whole, first = applied(system), linear_bands(system)[0].shape[1]
        assert np.any(whole[:first, first:]) == meet


@pytest.mark.parametrize("order", [1, 5])
@pytest.mark.parametrize("machine", ["arcs in the open", "no recoil"])
def test_energy_of_a_parabola_is_exact(machine: str, order: int) -> None:
    """INT (phi_r^2 + phi_z^2 + (n p / r)^2 phi^2) r dr dz of phi = r^2 z over the whole mesh, filled with air."""
    magnets, rotor = MACHINES[machine]
    mesh = ring_mesh(magnets, rotor, COARSE)
    system = ring_system(replace(magnets, recoil_permeability=1.0), mesh, np.array([order]))
    r, z = mesh.radial.nodes_m, mesh.axial.nodes_m
    phi = np.outer(r**2, z)[None]
    fourth, sixth = (r[-1] ** k - r[0] ** k for k in (4, 6))
    low, high = z[0], z[-1]
    wave = order * magnets.pole_pairs
    exact = (4 + wave**2) * fourth / 4 * (high**3 - low**3) / 3 + sixth / 6 * (high - low)
    assert float(np.sum(phi * linear_part(system, phi))) == pytest.approx(exact, rel=1e-11)


def test_recoil_permeability_of_touching_arcs_adds_its_share_of_the_energy() -> None:
    """An even layer of permeability mu over the magnets' radii and height."""
    magnets = replace(ARCS, outline=Arc(0.05, 0.08, 1.0))
    mesh = ring_mesh(magnets, MACHINES["arcs in the open"][1], COARSE)
    with_recoil, without = (ring_system(replace(magnets, recoil_permeability=mu), mesh, ORDERS) for mu in (1.2, 1.0))
    phi = np.broadcast_to(np.outer(mesh.radial.nodes_m**2, mesh.axial.nodes_m), without.sources.shape)
    added = np.sum(phi * (linear_part(with_recoil, phi) - linear_part(without, phi)), axis=(1, 2))
    h = magnets.thickness_m
    for n, energy in zip(ORDERS, added, strict=True):
        fourth, sixth = (0.08**k - 0.05**k for k in (4, 6))
        exact = 0.2 * ((4 + (3 * n) ** 2) * fourth / 4 * h**3 / 3 + sixth / 6 * h)
        assert energy == pytest.approx(exact, rel=1e-10)


def test_sources_are_the_work_of_the_remanence() -> None:
    """(1 / mu0) INT (J_r d_r v + J_z d_z v - (n p / r) J_theta v) r dr dz for v = r^2 z^2, by a finer Gauss rule.

    A block's corners begin like a square root, which the mesh's own rule sees to some millionths.
    """
    for magnets in (HALBACH, replace(ARCS, pattern="halbach", segments_per_pole=3)):
        mesh = ring_mesh(magnets, FACING, RingDensity())
        system = ring_system(magnets, mesh, ORDERS)
        v = np.outer(mesh.radial.nodes_m**2, mesh.axial.nodes_m**2)
        breaks = mesh.radial.vertices_m[mesh.magnet_radial.first : mesh.magnet_radial.end + 1]
        x, weight = np.polynomial.legendre.leggauss(12)
        half = np.diff(breaks)[:, None] / 2
        r, dr = ((breaks[:-1, None] + half + half * x).ravel(), (half * weight).ravel())
        remanence = remanence_amplitudes(magnets, ORDERS, r)
        h, wave = magnets.thickness_m, magnets.pole_pairs * ORDERS[:, None]
        over_z2, over_2z = h**3 / 3, -(h**2)
        along = (2 * r * remanence.radial - wave * r * remanence.tangential) * over_z2
        exact = ((along + r**2 * remanence.axial * over_2z) * r) @ dr / MU0
        found = np.sum(v * system.sources, axis=(1, 2))
        np.testing.assert_allclose(found, exact, atol=1e-5 * np.abs(exact).max())


@pytest.mark.parametrize("machine", MACHINES)
def test_slabs_of_one_outline_are_the_plain_magnet(machine: str) -> None:
    """Cut where no mesh line is."""
    magnets, rotor = MACHINES[machine]
    mesh = ring_mesh(magnets, rotor, COARSE)
    cuts = (-0.006, -0.0041, -0.0005, 0.0)
    stack = tuple(Slab(low, high, magnets.outline) for low, high in pairwise(cuts))
    whole, sliced = ring_system(magnets, mesh, ORDERS), ring_system(magnets, mesh, ORDERS, stack)
    np.testing.assert_allclose(sliced.sources, whole.sources, atol=1e-12 * np.abs(whole.sources).max())
    phi = np.sin(1e3 * np.add.outer(mesh.radial.nodes_m, 2 * mesh.axial.nodes_m)) * (1 + ORDERS[:, None, None])
    one, other = linear_part(whole, phi), linear_part(sliced, phi)
    np.testing.assert_allclose(other, one, atol=1e-12 * np.abs(one).max())


ARC_SLABS = (Slab(-0.006, -0.0022, Arc(0.05, 0.08, 1.0)), Slab(-0.001, 0.0, Arc(0.056, 0.071, 1.0)))
"""Touching arcs, a gap, and shorter ones whose ends are no mesh lines."""


def test_recoil_permeability_of_touching_slabs_adds_each_ones_share_of_the_energy() -> None:
    magnets = replace(ARCS, outline=ARC_SLABS[0].outline)
    mesh = ring_mesh(magnets, MACHINES["arcs in the open"][1], COARSE)
    without = ring_system(replace(magnets, recoil_permeability=1.0), mesh, ORDERS, ARC_SLABS)
    phi = np.broadcast_to(np.outer(mesh.radial.nodes_m**2, mesh.axial.nodes_m), without.sources.shape)
    for count in (1, 3):
        with_recoil = first_orders(ring_system(magnets, mesh, ORDERS, ARC_SLABS), count)
        added = linear_part(with_recoil, phi[:count]) - linear_part(first_orders(without, count), phi[:count])
        for n, energy in zip(ORDERS, np.sum(phi[:count] * added, axis=(1, 2)), strict=False):
            exact = sum(0.2 * parabola_energy(3 * n, slab) for slab in ARC_SLABS)
            assert energy == pytest.approx(exact, rel=1e-10)


def parabola_energy(wave: int, slab: Slab) -> float:
    """INT (phi_r^2 + phi_z^2 + (n p / r)^2 phi^2) r dr dz of phi = r^2 z over a slab of touching arcs."""
    assert isinstance(slab.outline, Arc)
    fourth, sixth = (slab.outline.outer_radius_m**k - slab.outline.inner_radius_m**k for k in (4, 6))
    low, high = slab.low_m, slab.high_m
    return (4 + wave**2) * fourth / 4 * (high**3 - low**3) / 3 + sixth / 6 * (high - low)


def test_sources_of_slabs_are_the_work_of_each_ones_remanence() -> None:
    """(1 / mu0) INT J_z d_z v r dr dz for v = r^2 z^2: arcs have the same remanence at every radius."""
    magnets = replace(ARCS, outline=ARC_SLABS[0].outline)
    mesh = ring_mesh(magnets, FACING, COARSE)
    system = ring_system(magnets, mesh, ORDERS, ARC_SLABS)
    v = np.outer(mesh.radial.nodes_m**2, mesh.axial.nodes_m**2)
    amplitude = 4 * magnets.remanence_t / (np.pi * ORDERS) * np.sin(ORDERS * np.pi / 2)
    work = 0.0
    for slab in ARC_SLABS:
        assert isinstance(slab.outline, Arc)
        fourth = slab.outline.outer_radius_m**4 - slab.outline.inner_radius_m**4
        work += fourth / 4 * (slab.high_m**2 - slab.low_m**2) / MU0
    np.testing.assert_allclose(np.sum(v * system.sources, axis=(1, 2)), amplitude * work, rtol=1e-10)


def test_bands_hold_every_slab() -> None:
    magnets = replace(ARCS, outline=ARC_SLABS[0].outline)
    system = ring_system(magnets, ring_mesh(magnets, FACING, COARSE), np.array([1]), ARC_SLABS)
    whole = applied(system)
    np.testing.assert_allclose(from_band(linear_bands(system)[0]), whole, atol=1e-13 * np.abs(whole).max())


def test_no_load_off_the_magnets() -> None:
    system = system_of("halbach on steel")
    elsewhere = system.sources.copy()
    elsewhere[:, system.magnet_nodes[0], system.magnet_nodes[1]] = 0
    assert not np.any(elsewhere)


@pytest.mark.parametrize("machine", ["discs", "halbach on steel", "no recoil"])
def test_the_first_orders_alone_are_a_system_of_their_own(machine: str) -> None:
    few, own = first_orders(system_of(machine), 2), system_of(machine, ORDERS[:2])
    assert few.waves.tolist() == own.waves.tolist()
    assert few.free == own.free
    np.testing.assert_array_equal(few.sources, own.sources)
    phi = np.random.default_rng(3).normal(size=own.sources.shape)
    np.testing.assert_allclose(linear_part(few, phi), linear_part(own, phi), rtol=1e-12, atol=1e-16)
    for one, other in zip(linear_bands(few), linear_bands(own), strict=True):
        np.testing.assert_array_equal(one, other)


def test_higher_harmonics_reach_less_far_and_are_zero_beyond() -> None:
    system = system_of("arcs in the open", np.array([1, 3, 31]))
    for outer, inner in zip(system.free, system.free[1:], strict=False):
        for far, near in zip(outer, inner, strict=True):
            assert far.start <= near.start < near.stop <= far.stop
    kept = on_free(system, np.ones_like(system.sources))
    for n, (r, z) in enumerate(system.free):
        assert kept[n].sum() == (r.stop - r.start) * (z.stop - z.start)
        assert np.all(kept[n, r, z] == 1)
    assert not np.any(kept[:, [0, -1]])
    assert not np.any(kept[:, :, [0, -1]])


def test_waves_are_orders_times_pole_pairs() -> None:
    assert system_of("discs").waves.tolist() == [8, 24, 40]
