"""The pull between rings of magnets in three dimensions, against the forces between their magnets.

The ring's field comes from magpylib (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466), sum over all magnets. It
is turned into harmonics and Maxwell's stress is integrated over a plane in the gap. What it is held to shares nothing
with that: the charge model of one upper magnet over all lower ones, F = Br / mu0 times the difference of the lower
magnets' flux through its two faces (Furlani, Permanent Magnet and Electromechanical Devices, 2001, ch. 4; from memory).
The charge model in turn must give the forces of single pairs, computed for the project's brief by the same formula and
by magpylib's getFT (3e-5 apart).

Truncation: harmonics of the pull fall like exp(-n p g / r); with 8 magnets on 150 mm the last of 48 orders brings 4e-9
of the pull at 5 mm, 4e-14 at 10 mm. Found: 1.2e-6 from the charge model, 8e-7 between planes.
"""

import math

import numpy as np
import pytest

from fieldrun.design.model import Block, Disc, Magnets, Plate, Rotor
from fieldrun.design.units import MU0
from fieldrun.field.field_map import FieldMap
from fieldrun.field.solve import field_of
from fieldrun.generator.forces import forces_of, pull_by_order

magpylib = pytest.importorskip("magpylib")

H, BR = 0.010, 1.30
FAR, NEAR = (8, 0.150), (14, 0.056)
"""Magnets and pitch radius [m]: 115 mm apart, where neighbours hardly matter, and 25 mm, where they add 10 to 20 %."""

ORDERS = 2 * np.arange(48) + 1
SAMPLES = 160

# shape, distance of faces [m], attraction of one pair [N]
PAIRS = [
    ("block", 0.005, 53.376),
    ("block", 0.010, 25.711),
    ("block", 0.020, 7.841),
    ("disc", 0.005, 43.074),
    ("disc", 0.010, 19.686),
    ("disc", 0.020, 5.530),
]


def magnet(shape, radius, angle, sign, low):
    """One magnet, 20 x 20 x 10 mm or d20 x 10 mm, its lower side at a height."""
    pole, place = (0, 0, sign * BR), (radius, 0, low + H / 2)
    if shape == "disc":
        body = magpylib.magnet.Cylinder(dimension=(0.020, H), polarization=pole, position=place)
    else:
        body = magpylib.magnet.Cuboid(dimension=(0.020, 0.020, H), polarization=pole, position=place)
    return body.rotate_from_angax(math.degrees(angle), "z", anchor=0)


def ring(shape, count, radius, low):
    return magpylib.Collection(*(magnet(shape, radius, 2 * j * math.pi / count, (-1) ** j, low) for j in range(count)))


def ring_map(shape, size, gap, heights):
    """Harmonics of both rings' field: quarter waves sampled at midpoints, the points of a cosine transform."""
    count, radius = size
    both = magpylib.Collection(ring(shape, *size, -H), ring(shape, *size, gap))
    p = count // 2
    theta = (np.arange(SAMPLES) + 0.5) / SAMPLES * np.pi / (2 * p)
    low, high = radius - 0.035, radius + 0.035
    inside, outside = np.linspace(0.005, low, 20), np.linspace(high, high + 0.2, 30)
    radii = np.concatenate([inside[:-1], np.linspace(low, high, 141), outside[1:]])
    r, t, z = np.meshgrid(radii, theta, heights, indexing="ij")
    b = both.getB(np.stack([r * np.cos(t), r * np.sin(t), z], axis=-1))
    b_r = b[..., 0] * np.cos(t) + b[..., 1] * np.sin(t)
    b_t = -b[..., 0] * np.sin(t) + b[..., 1] * np.cos(t)
    wave = np.outer(ORDERS, p * theta)
    even, odd = 2 / SAMPLES * np.cos(wave), 2 / SAMPLES * np.sin(wave)
    parts = np.einsum("nt,rtz->nrz", even, b_r), -1j * np.einsum("nt,rtz->nrz", odd, b_t)
    return FieldMap(p, ORDERS, radii, heights, *parts, np.einsum("nt,rtz->nrz", even, b[..., 2]))


def face_points(shape):
    """Points and areas on a face: Gauss' rule across a block; over a disc's radius, and even steps round it."""
    x, w = np.polynomial.legendre.leggauss(24)
    if shape == "block":
        u, v = np.meshgrid(0.010 * x, 0.010 * x)
        return np.stack([u, v], axis=-1).reshape(-1, 2), np.outer(0.010 * w, 0.010 * w).ravel()
    radius, turn = 0.005 * (x + 1), np.arange(48) * 2 * np.pi / 48
    r, t = np.meshgrid(radius, turn)
    return np.stack([r * np.cos(t), r * np.sin(t)], axis=-1).reshape(-1, 2), np.tile(
        0.005 * w * radius * 2 * np.pi / 48, 48
    )


def charge_pull(shape, radius, gap, lower):
    """Pull of `lower` on one upper magnet, a north pole over a north pole: unlike poles face."""
    plane, area = face_points(shape)

    def flux(height):
        points = np.column_stack([plane[:, 0] + radius, plane[:, 1], np.full(len(plane), height)])
        return float(lower.getB(points)[:, 2] @ area)

    return BR / MU0 * (flux(gap) - flux(gap + H))


def wanted_pull(shape, size, gap):
    return size[0] * charge_pull(shape, size[1], gap, ring(shape, *size, -H))


@pytest.mark.parametrize(("shape", "gap", "newtons"), PAIRS)
def test_the_judge_knows_single_pairs(shape, gap, newtons):
    assert charge_pull(shape, 0.1, gap, magnet(shape, 0.1, 0.0, 1, -H)) == pytest.approx(newtons, rel=1e-4)


@pytest.mark.parametrize(("shape", "gap", "newtons"), PAIRS)
def test_far_apart_magnets_pull_like_as_many_pairs(shape, gap, newtons):
    field = ring_map(shape, FAR, gap, gap * np.array([0.25, 0.5]))
    found = forces_of(field, two_faces(gap)).disc_pull_n
    assert found == pytest.approx(FAR[0] * newtons, rel=5e-3)
    assert found == pytest.approx(wanted_pull(shape, FAR, gap), rel=5e-6)
    # nearer to the edges of one ring, and no symmetry to help
    assert float(np.sum(pull_by_order(field, gap / 4))) == pytest.approx(found, rel=5e-6)
    assert abs(pull_by_order(field, gap / 2)[-1]) < 1e-8 * found


@pytest.mark.parametrize(("shape", "gap", "newtons"), [pair for pair in PAIRS if pair[1] < 0.02])
def test_close_magnets_pull_with_their_neighbours(shape, gap, newtons):
    found = forces_of(ring_map(shape, NEAR, gap, gap * np.array([0.25, 0.5])), two_faces(gap)).disc_pull_n
    assert found == pytest.approx(wanted_pull(shape, NEAR, gap), rel=5e-6)
    assert abs(found / (NEAR[0] * newtons) - 1) > 0.05


@pytest.mark.parametrize(("shape", "gap", "newtons"), [pair for pair in PAIRS if pair[1] == 0.01])
def test_a_plate_pulls_like_the_mirror_image(shape, gap, newtons):
    """An endless ideal plate at half the distance: the image of the lower ring is the upper one."""
    heights = gap / 2 * np.array([0.5, 0.75, 1.0])
    rotor = Rotor(1, gap / 2, None, Plate(None), 0.1, 0.2)
    found = forces_of(ring_map(shape, FAR, gap, heights), rotor).disc_pull_n
    assert found == pytest.approx(wanted_pull(shape, FAR, gap), rel=5e-6)


def two_faces(gap):
    return Rotor(2, gap, None, None, 0.1, 0.2)


@pytest.mark.parametrize(("shape", "gap", "newtons"), [pair for pair in PAIRS if pair[1] < 0.02])
def test_finite_elements_pull_like_their_magnets(shape, gap, newtons):
    """The default field of a machine in air; found 4e-5 at worst, all from the mesh."""
    count, radius = NEAR
    outline = Disc(0.020, radius) if shape == "disc" else Block(0.020, 0.020, radius)
    magnets = Magnets(outline, count, H, BR, 1.0, 7500.0)
    found = forces_of(field_of(magnets, two_faces(gap)), two_faces(gap))
    assert found.disc_pull_n == pytest.approx(wanted_pull(shape, NEAR, gap), rel=2e-4)
    assert found.cut_off < 1e-6


@pytest.mark.parametrize(("size", "gap"), [((4, 0.2), 0.005), ((4, 0.4), 0.010), ((8, 0.6), 0.010)])
def test_harmonics_that_are_cut_off_are_owned_up_to(size, gap):
    """Four and eight small magnets on large circles need more harmonics than the field carries."""
    magnets = Magnets(Disc(0.020, size[1]), size[0], H, BR, 1.0, 7500.0)
    found = forces_of(field_of(magnets, two_faces(gap)), two_faces(gap))
    missing = 1 - found.disc_pull_n / wanted_pull("disc", size, gap)
    assert 0.001 < missing < found.cut_off < 10 * missing
