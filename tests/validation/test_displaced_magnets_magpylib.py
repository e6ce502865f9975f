"""Magnets put down by hand, one by one, in magpylib (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466).

The tolerance study multiplies two means over the magnets, of exp(j p t / R) and of 1 + a s + b s^2. Here every magnet
of a ring in air is really displaced, and the flux that radial legs cut is summed from the whole ring's field.
"""

import math

import numpy as np
import pytest

from fieldrun.generator.emf import emf_of
from fieldrun.studies.tolerance import displaced_ratio

magpylib = pytest.importorskip("magpylib")

COUNT, RADIUS, H, DIAMETER = 12, 0.060, 0.006, 0.020
P = COUNT // 2
HEIGHT, LEG = 0.004, (0.050, 0.072)
SIGMA = 1.0e-3


def wave(radial, along):
    """INT r b_z dr of order p from leg to leg over a ring whose magnets lie (radial, along) off [m]: complex."""
    theta = np.arange(96 * P) * 2 * np.pi / (96 * P)
    node, weight = np.polynomial.legendre.leggauss(16)
    half = (LEG[1] - LEG[0]) / 2
    radius = (LEG[0] + LEG[1]) / 2 + half * node
    r, t = np.meshgrid(radius, theta, indexing="ij")
    points = np.stack([r * np.cos(t), r * np.sin(t), np.full_like(r, HEIGHT)], axis=-1)
    field = 0.0
    for j in range(COUNT):
        turn = 2 * math.pi * j / COUNT
        out, aside = RADIUS + radial[j], along[j]
        place = (out * math.cos(turn) - aside * math.sin(turn), out * math.sin(turn) + aside * math.cos(turn), -H / 2)
        pole = (0, 0, 1.3 * (-1) ** j)
        disc = magpylib.magnet.Cylinder(dimension=(DIAMETER, H), polarization=pole, position=place)
        field = field + disc.getB(points)[..., 2]
    return np.sum((half * weight * radius) @ field * np.exp(-1j * P * theta)) / len(theta)


@pytest.fixture(scope="module")
def circle():
    """a, b of the study's parabola, from whole rings 2 sigma larger and smaller."""
    still = np.zeros(COUNT)
    low, middle, high = (abs(wave(np.full(COUNT, s * SIGMA), still)) for s in (-2, 0, 2))
    return (high - low) / (4 * middle), (high + low - 2 * middle) / (8 * middle), middle


@pytest.mark.parametrize("seed", range(4))
def test_displaced_magnets_give_what_their_means_say(circle, seed):
    """1 mm, three times the usual: found 1.5e-4 at worst, by magnets that are off both ways at once."""
    a, b, drawn = circle
    place = np.random.default_rng(seed).standard_normal((2, COUNT))
    emf = emf_of(P, np.array([1]), np.array([[1.0 + 0j]]), star=False)
    told = displaced_ratio(emf, place, SIGMA / RADIUS, a, b)
    found = abs(wave(*(SIGMA * place))) / drawn
    assert told == pytest.approx(found, abs=4e-4)
    assert abs(found - 1) > 1e-3
