"""Harmonics of the magnets against sums over the whole circle, every body placed and turned by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Arc, Block, Disc, Magnets
from fieldrun.field.outline import covered_half_angles
from fieldrun.field.ring_sources import recoil_couplings, remanence_amplitudes

ORDERS = 2 * np.arange(8) + 1
SAMPLES = 480_013
"""Points round the circle, not a whole number to each body: what their ends miss between two points averages out."""

THETA = (np.arange(SAMPLES) + 0.5) / SAMPLES * 2 * math.pi
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.022, 0.016, 0.066), count=10)
ARCS = replace(DISCS, outline=Arc(0.050, 0.080, 0.7), count=6)


def halbach(segments: int, poles: int, outline: Block | Arc) -> Magnets:
    return replace(DISCS, outline=outline, count=poles, pattern="halbach", segments_per_pole=segments)


MACHINES = {
    "discs": DISCS,
    "blocks": BLOCKS,
    "arcs": ARCS,
    "two discs": replace(DISCS, outline=Disc(0.020, 0.012), count=2),
    "two arcs": replace(ARCS, count=2),
    "halbach 2": halbach(2, 8, Block(0.022, 0.014, 0.066)),
    "halbach 3": halbach(3, 6, Arc(0.050, 0.080, 0.9)),
    "halbach 4": halbach(4, 4, Block(0.022, 0.012, 0.066)),
    "halbach 2 of two poles": halbach(2, 2, Arc(0.050, 0.080, 0.8)),
    "halbach 5 of two poles": halbach(5, 2, Block(0.022, 0.020, 0.066)),
}


def inside(magnets: Magnets, radius: float, from_axis: Floats) -> Floats:
    """Which points of the circle, told by their angle from a body's axis, lie in it: geometry in the plane."""
    outline = magnets.outline
    x, y = radius * np.cos(from_axis), radius * np.sin(from_axis)
    if isinstance(outline, Disc):
        return np.asarray((x - outline.pitch_radius_m) ** 2 + y**2 < (outline.diameter_m / 2) ** 2, float)
    if isinstance(outline, Block):
        aside = np.abs(x - outline.pitch_radius_m)
        return np.asarray((aside < outline.radial_m / 2) & (np.abs(y) < outline.tangential_m / 2), float)
    half = outline.share * math.pi / (magnets.count * magnets.segments_per_pole)
    here = outline.inner_radius_m < radius < outline.outer_radius_m
    return np.asarray((np.abs(from_axis) < half) & here, float)


def around_the_circle(magnets: Magnets, radius: float) -> tuple[Floats, Floats]:
    """J_r, J_theta and J_z at every point, (3, samples), and where there is a body at all.

    A body keeps one direction through and through: turned by pi / m against the one before it, about the radius.
    """
    m = magnets.segments_per_pole
    pitch = 2 * math.pi / (magnets.count * m)
    number = np.round(THETA / pitch)
    axis, turn = number * pitch, number * math.pi / m
    covered = inside(magnets, radius, THETA - axis)
    along = -magnets.remanence_t * np.sin(turn) * covered
    # the body's own tangent, seen in the point's frame
    east, north = -along * np.sin(axis), along * np.cos(axis)
    radial = east * np.cos(THETA) + north * np.sin(THETA)
    tangential = north * np.cos(THETA) - east * np.sin(THETA)
    return np.stack([radial, tangential, magnets.remanence_t * np.cos(turn) * covered]), covered


def radii_of(magnets: Magnets) -> tuple[float, ...]:
    if isinstance(magnets.outline, Disc):
        middle, half = magnets.outline.pitch_radius_m, magnets.outline.diameter_m / 2
        return middle - 0.9 * half, middle, middle + 0.6 * half
    return 0.0551, 0.066, 0.0765


@pytest.mark.parametrize("machine", MACHINES)
def test_amplitudes_are_those_of_the_bodies_round_the_circle(machine: str) -> None:
    magnets = MACHINES[machine]
    radii = radii_of(magnets)
    found = remanence_amplitudes(magnets, ORDERS, np.array(radii))
    wave = magnets.pole_pairs * ORDERS[:, None]
    cosine, sine = 2 / SAMPLES * np.cos(wave * THETA), 2 / SAMPLES * np.sin(wave * THETA)
    for i, radius in enumerate(radii):
        (radial, tangential, axial), _ = around_the_circle(magnets, radius)
        np.testing.assert_allclose(found.axial[:, i], cosine @ axial, atol=5e-5)
        np.testing.assert_allclose(found.radial[:, i], cosine @ radial, atol=5e-5)
        np.testing.assert_allclose(found.tangential[:, i], sine @ tangential, atol=5e-5)
        # what the harmonics leave out is not there
        np.testing.assert_allclose(sine @ axial, 0, atol=5e-5)
        np.testing.assert_allclose(cosine @ tangential, 0, atol=5e-5)


@pytest.mark.parametrize("machine", MACHINES)
def test_couplings_are_those_of_the_bodies_round_the_circle(machine: str) -> None:
    magnets = MACHINES[machine]
    radii = radii_of(magnets)
    found = recoil_couplings(magnets, ORDERS, np.array(radii))
    wave = magnets.pole_pairs * ORDERS[:, None]
    for i, radius in enumerate(radii):
        _, covered = around_the_circle(magnets, radius)
        above = 2 / SAMPLES * (magnets.recoil_permeability - 1) * covered
        for coupling, shape in zip(found, (np.cos(wave * THETA), np.sin(wave * THETA)), strict=True):
            np.testing.assert_allclose(coupling[:, :, i], (shape * above) @ shape.T, atol=2e-6)


@pytest.mark.parametrize("machine", MACHINES)
def test_couplings_are_symmetric(machine: str) -> None:
    for coupling in recoil_couplings(MACHINES[machine], ORDERS, np.array(radii_of(MACHINES[machine]))):
        np.testing.assert_allclose(coupling, np.swapaxes(coupling, 0, 1), rtol=1e-13, atol=1e-18)


@pytest.mark.parametrize("machine", ["discs", "arcs", "two discs"])
def test_own_couplings_are_means_of_cosine_squared(machine: str) -> None:
    """(mu_rec - 1) (2 p / pi) (psi +- sin(2 n p psi) / (2 n p)): the mean of cos^2, or of sin^2, over the bodies."""
    magnets, radius = MACHINES[machine], radii_of(MACHINES[machine])[2]
    psi = float(covered_half_angles(magnets, radius)[1])
    p, waves = magnets.pole_pairs, magnets.pole_pairs * ORDERS
    cosines, sines = recoil_couplings(magnets, ORDERS, np.array([radius]))
    for coupling, sign in ((cosines, 1), (sines, -1)):
        mean = 0.05 * 2 * p / math.pi * (psi + sign * np.sin(2 * waves * psi) / (2 * waves))
        np.testing.assert_allclose(np.diagonal(coupling[..., 0]), mean, rtol=1e-12)


@pytest.mark.parametrize("segments", [1, 2, 3, 4])
def test_touching_magnets_are_an_even_layer(segments: int) -> None:
    """Nothing couples, and every harmonic sees the recoil permeability itself."""
    ring = replace(ARCS, outline=Arc(0.05, 0.08, 1.0), segments_per_pole=segments)
    for coupling in recoil_couplings(ring, ORDERS, np.array([0.06])):
        np.testing.assert_allclose(coupling[..., 0], 0.05 * np.eye(8), atol=1e-15)


def test_discs_blocks_and_arcs_along_z_have_no_other_remanence() -> None:
    for magnets in (DISCS, BLOCKS, ARCS):
        found = remanence_amplitudes(magnets, ORDERS, np.array(radii_of(magnets)))
        np.testing.assert_allclose(found.radial, 0, atol=1e-15)
        np.testing.assert_allclose(found.tangential, 0, atol=1e-15)


def test_an_arc_is_the_block_array_of_the_text_books() -> None:
    """(4 Br / n pi) sin(n share pi / 2), and 4 Br / n pi with touching magnets."""
    for share in (0.7, 1.0):
        ring = replace(ARCS, outline=Arc(0.05, 0.08, share))
        found = remanence_amplitudes(ring, ORDERS, np.array([0.06])).axial[:, 0]
        np.testing.assert_allclose(
            found, 4 * 1.3 / (ORDERS * math.pi) * np.sin(ORDERS * share * math.pi / 2), atol=1e-14
        )


@pytest.mark.parametrize("segments", [2, 3, 4])
def test_touching_halbach_bodies_leave_most_harmonics_out(segments: int) -> None:
    """Many narrow bodies: only n = 1, 2m - 1, 2m + 1, 4m - 1... are there, strong and weak side in turn.

    The sum axial - tangential drives the strong side (n = 1, 2m + 1), their difference the weak one (n = 2m - 1).
    """
    ring = halbach(segments, 400, Arc(0.9, 1.1, 1.0))
    found = remanence_amplitudes(ring, ORDERS, np.array([1.0]))
    axial, along = found.axial[:, 0], found.tangential[:, 0]
    m2 = 2 * segments
    for i, n in enumerate(ORDERS):
        if n % m2 not in {1, m2 - 1}:
            assert max(abs(axial[i]), abs(along[i])) < 1e-14
            continue
        size = 1.3 * abs(math.sin(n * math.pi / m2) / (n * math.pi / m2))
        assert abs(axial[i]) == pytest.approx(size, rel=1e-9)
        weak = n % m2 == m2 - 1
        # a chord's direction turns a little within its body: of order 1 / p^2
        assert along[i] == pytest.approx(axial[i] if weak else -axial[i], rel=5e-4)


def test_nothing_beside_the_magnets() -> None:
    for magnets in (DISCS, BLOCKS, ARCS, MACHINES["halbach 3"]):
        radii = np.array([[0.01, 0.045], [0.09, 0.2]])
        found = remanence_amplitudes(magnets, ORDERS, radii)
        for amplitude in (found.axial, found.radial, found.tangential):
            assert amplitude.shape == (8, 2, 2)
            assert not np.any(amplitude)
        for coupling in recoil_couplings(magnets, ORDERS, radii):
            assert coupling.shape == (8, 8, 2, 2)
            assert not np.any(coupling)


def test_amplitudes_are_read_only() -> None:
    found = remanence_amplitudes(DISCS, ORDERS, np.array([0.066]))
    for amplitude in (found.axial, found.radial, found.tangential):
        with pytest.raises(ValueError, match="read-only"):
            amplitude[0] = 0.0
