"""The solid judge against magpylib (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466): every magnet of the ring.

Closed forms of whole magnets with mu_r = 1; ideal steel is replaced by mirror images, which keep the sign of a
magnetisation across the plane. Compared is what makes the EMF: the fundamental of B_z times r, over the magnets.
"""

import math

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import amplitudes_at, field_at
from fieldrun.reference.solid import solve_solid
from fieldrun.reference.solid_outline import outline_radii

magpylib = pytest.importorskip("magpylib")

BR, H, G = 1.3, 0.006, 0.009
IDEAL = Plate(None)
IMAGES = range(-8, 9)
DISCS = Magnets(Disc(0.020, 0.066), 16, H, BR, 1.0, 7500.0)
BLOCKS = Magnets(Block(0.030, 0.016, 0.080), 16, H, BR, 1.0, 7500.0)
ARCS = Magnets(Arc(0.050, 0.080, 0.7), 12, H, BR, 1.0, 7500.0)
FEW = Magnets(Disc(0.030, 0.030), 4, H, BR, 1.0, 7500.0)

# name: the machine, and the bodies (low, high) of magnets and images
ROTORS = {
    "air": (Rotor(1, None, None, None, 0, 0.1), [(-H, 0)]),
    "iron": (Rotor(1, None, IDEAL, None, 0, 0.1), [(-2 * H, 0)]),
    "faces": (Rotor(2, G, None, None, 0, 0.1), [(-H, 0), (G, G + H)]),
    "faces on iron": (
        Rotor(2, G, IDEAL, None, 0, 0.1),
        [(n * (G + 2 * H) - 2 * H, n * (G + 2 * H)) for n in IMAGES],
    ),
    "plate": (Rotor(1, G, IDEAL, IDEAL, 0, 0.1), [(2 * n * (G + H) - 2 * H, 2 * n * (G + H)) for n in IMAGES]),
    "plate only": (Rotor(1, G, None, IDEAL, 0, 0.1), [(-H, 0), (2 * G, 2 * G + H)]),
}


def body(magnets, index, low, high):
    """Magnet number `index`, from one height to another."""
    turn, pole = 2 * math.pi * index / magnets.count, (0, 0, BR * (-1) ** index)
    match magnets.outline:
        case Disc(diameter, radius):
            at = (radius * math.cos(turn), radius * math.sin(turn), (low + high) / 2)
            return magpylib.magnet.Cylinder(dimension=(diameter, high - low), polarization=pole, position=at)
        case Block(radial, tangential, radius):
            size, at = (radial, tangential, high - low), (radius, 0, (low + high) / 2)
            block = magpylib.magnet.Cuboid(dimension=size, polarization=pole, position=at)
            return block.rotate_from_angax(math.degrees(turn), "z", anchor=0)
        case Arc(inner, outer, share):
            half = math.degrees(math.pi / magnets.count * share)
            size = (inner, outer, high - low, math.degrees(turn) - half, math.degrees(turn) + half)
            at = (0, 0, (low + high) / 2)
            return magpylib.magnet.CylinderSegment(dimension=size, polarization=pole, position=at)


def outside_field(magnets, bodies, points):
    """(3, ...) B_r, B_theta, B_z at (..., 3) cylindrical points."""
    r, theta, z = np.moveaxis(points, -1, 0)
    places = np.stack([r * np.cos(theta), r * np.sin(theta), z], axis=-1)
    sources = [body(magnets, index, low, high) for index in range(magnets.count) for low, high in bodies]
    b_x, b_y, b_z = np.moveaxis(sum(source.getB(places) for source in sources), -1, 0)
    return np.stack([b_x * np.cos(theta) + b_y * np.sin(theta), b_y * np.cos(theta) - b_x * np.sin(theta), b_z])


def emf_integral(fundamental, magnets, points):
    """INT b_1 r dr over the magnets, by Gauss points; `fundamental` of radii."""
    inner, outer = outline_radii(magnets.outline)
    x, w = np.polynomial.legendre.leggauss(points)
    r = (inner + outer) / 2 + (outer - inner) / 2 * x
    return float(np.sum(w * r * fundamental(r)) * (outer - inner) / 2)


CASES = [
    *((DISCS, name, z) for name in ROTORS for z in (0.0025, 0.0045)),
    *((BLOCKS, name, z) for name in ROTORS for z in (0.0025, 0.0045)),
    *((FEW, name, 0.0045) for name in ROTORS),
    *((ARCS, name, 0.0045) for name in ("air", "iron", "faces", "plate only")),
]


@pytest.mark.parametrize(
    ("magnets", "name", "z"), CASES, ids=[f"{m.count}-{type(m.outline).__name__}-{n}-{z}" for m, n, z in CASES]
)
def test_emf_integral(magnets, name, z):
    rotor, bodies = ROTORS[name]
    p = magnets.pole_pairs
    theta = (np.arange(8) + 0.5) * math.pi / (16 * p)  # a quarter wave: exact to the 31st harmonic

    def outside(r):
        points = np.stack(np.broadcast_arrays(r[:, None], theta, z), axis=-1)
        return outside_field(magnets, bodies, points)[2] @ np.cos(p * theta) / 4

    field_map = solve_solid(magnets, rotor, [z]).field_map

    def solid(r):
        return amplitudes_at(field_map, r, np.full_like(r, z))[2, 0].real

    assert emf_integral(solid, magnets, 24) == pytest.approx(emf_integral(outside, magnets, 10), rel=1e-3)


@pytest.mark.parametrize("magnets", [DISCS, BLOCKS])
@pytest.mark.parametrize("name", ["iron", "faces", "plate"])
def test_whole_field_at_points(magnets, name):
    """All three components, away from magnets' faces by more than the shortest wave in the map."""
    rotor, bodies = ROTORS[name]
    inner, outer = outline_radii(magnets.outline)
    r, theta = np.meshgrid(np.linspace(inner - 0.004, outer + 0.004, 7), np.linspace(-0.11, 0.23, 6))
    field_map = solve_solid(magnets, rotor, [0.0045, 0.0055]).field_map
    for z in (0.0045, 0.0055):
        outside = outside_field(magnets, bodies, np.stack(np.broadcast_arrays(r, theta, z), axis=-1))
        assert field_at(field_map, r, theta, z) == pytest.approx(outside, abs=1.5e-3 * np.abs(outside[2]).max())


@pytest.mark.parametrize("z", [0.001, 0.0005])
def test_close_to_the_magnets(z):
    """A millimetre and less above the faces the default mesh shows; half the cells there is ten times better."""
    rotor, bodies = ROTORS["iron"]
    theta = (np.arange(16) + 0.5) * math.pi / (32 * 8)

    def outside(r):
        points = np.stack(np.broadcast_arrays(r[:, None], theta, z), axis=-1)
        return outside_field(BLOCKS, bodies, points)[2] @ np.cos(8 * theta) / 8

    field_map = solve_solid(BLOCKS, rotor, [z]).field_map

    def solid(r):
        return amplitudes_at(field_map, r, np.full_like(r, z))[2, 0].real

    assert emf_integral(solid, BLOCKS, 40) == pytest.approx(emf_integral(outside, BLOCKS, 40), rel=3e-3)
