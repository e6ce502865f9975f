"""Rings against the exact kernel of charge sheets: the field itself, point by point, and the flux an EMF takes.

The kernel (`reference/ring_kernel.py`) has no mesh and shares no line with the rings; it is held to magpylib's whole
magnets elsewhere. Magnets along z, recoil permeability 1, ideal plates: what it is exact for.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.reference.ring_kernel import ring_kernel_map
from fieldrun.reference.shares import bend_radii
from tests.rings import ring_map

FIELD = 1e-3
"""What any component of any harmonic up to 15 may miss, as a part of the fundamental's largest B_z at that height."""

FLUX = 2e-4
"""What INT b_z1 r dr over the magnets and their fringes may miss, as a part of itself."""

PITCH, DEPTH, GAP = 0.026, 0.024, 0.009
HEIGHTS = np.array([0.001, 0.003, 0.0045])
OFF_EDGES = 1e-3
"""Closer to a magnet's end the field at 1 mm changes within a millimetre: nothing that copper would see."""

ORDERS = range(1, 16, 2)
IDEAL = Plate(None)
FACE = Rotor(1, None, None, None, 0.0, 0.1)
ROTORS = {
    "face": FACE,
    "face on steel": replace(FACE, backing=IDEAL),
    "face, plate": replace(FACE, gap_m=GAP, return_plate=IDEAL),
    "face on steel, plate": replace(FACE, gap_m=GAP, backing=IDEAL, return_plate=IDEAL),
    "two faces": replace(FACE, faces=2, gap_m=GAP),
    "two faces on steel": replace(FACE, faces=2, gap_m=GAP, backing=IDEAL),
}
POLES = {"disc": (2, 6, 12, 28), "block": (4, 8, 16, 40), "arc": (4, 10, 20, 36)}
CASES = [(shape, rotor, poles) for shape, counts in POLES.items() for rotor in ROTORS for poles in counts]


def outline(shape: str, poles: int) -> Outline:
    """Magnets of 0.7 to 0.8 of their pitch, 24 mm long or less where they would reach the shaft."""
    radius, half = PITCH * poles / (2 * math.pi), math.pi / poles
    depth = min(DEPTH, 1.2 * radius)
    if shape == "disc":
        return Disc(0.8 * 2 * radius * math.sin(half), radius)
    if shape == "arc":
        return Arc(radius - depth / 2, radius + depth / 2, 0.7)
    return Block(depth, 0.8 * 2 * (radius - depth / 2) * math.tan(half), radius)


def machine(shape: str, poles: int) -> Magnets:
    return Magnets(outline(shape, poles), poles, 0.006, 1.3, 1.0, 7500.0)


def extent(magnets: Magnets) -> tuple[float, float]:
    """Radii from within the magnets' ring to beyond it."""
    first, *_, last = bend_radii(magnets.outline)
    fringe = 0.3 * min(last - first, first)
    return first - fringe, last + fringe


def stacked(field_map: FieldMap) -> np.ndarray:
    return np.stack([field_map.b_r_t, field_map.b_theta_t, field_map.b_z_t])


@pytest.mark.parametrize(("shape", "rotor", "poles"), CASES)
def test_field_point_by_point(shape: str, rotor: str, poles: int) -> None:
    magnets = machine(shape, poles)
    radii = np.linspace(*extent(magnets), 41)
    ends = np.array(bend_radii(magnets.outline))
    radii = radii[np.abs(radii[:, None] - ends).min(axis=1) > OFF_EDGES]
    exact = stacked(ring_kernel_map(magnets, ROTORS[rotor], radii, HEIGHTS, ORDERS))
    r, z = np.meshgrid(radii, HEIGHTS, indexing="ij")
    found = amplitudes_at(ring_map(magnets, ROTORS[rotor]), r.ravel(), z.ravel())[:, : len(ORDERS)]
    miss = np.abs(found.reshape(exact.shape) - exact) / np.abs(exact[2, 0]).max(axis=0)
    assert miss.max() < FIELD


@pytest.mark.parametrize(("shape", "rotor", "poles"), CASES)
def test_flux_of_the_fundamental(shape: str, rotor: str, poles: int) -> None:
    """A Gauss rule on every stretch between two ends of the magnets, in pieces of a quarter of their length or less.

    Eighths move the integral by 3e-6 of itself.
    """
    magnets = machine(shape, poles)
    low, high = extent(magnets)
    x, weight = np.polynomial.legendre.leggauss(6)
    cuts = np.unique(
        np.concatenate([np.linspace(a, b, 5) for a, b in pairwise([low, *bend_radii(magnets.outline), high])])
    )
    half = np.diff(cuts)[:, None] / 2
    radii, dr = (cuts[:-1, None] + half + half * x).ravel(), (half * weight).ravel()
    exact = ring_kernel_map(magnets, ROTORS[rotor], radii, HEIGHTS, [1]).b_z_t[0].real
    rings = ring_map(magnets, ROTORS[rotor])
    for i, height in enumerate(HEIGHTS):
        found = amplitudes_at(rings, radii, np.full(len(radii), height))[2, 0].real
        assert dr @ (radii * found) == pytest.approx(dr @ (radii * exact[:, i]), rel=FLUX)


@pytest.mark.parametrize(("block", "poles"), [(Block(0.030, 0.003, 0.150), 120), (Block(0.040, 0.002, 0.300), 400)])
def test_narrow_blocks(block: Block, poles: int) -> None:
    """Inner side and inner corners are micrometres apart; from 0.05 pole pitches up, a fifth of one off the ends."""
    pitch = 2 * math.pi * block.pitch_radius_m / poles
    magnets = Magnets(block, poles, 0.4 * pitch, 1.3, 1.0, 7500.0)
    rotor = replace(FACE, faces=2, gap_m=0.6 * pitch)
    first, *_, last = bend_radii(block)
    radii = np.linspace(first - 0.4 * pitch, last + 0.4 * pitch, 121)
    radii = radii[np.abs(radii[:, None] - np.array([first, last])).min(axis=1) > 0.2 * pitch]
    heights = np.array([0.05, 0.15, 0.3]) * pitch
    exact = stacked(ring_kernel_map(magnets, rotor, radii, heights, [1, 3, 5, 7]))
    r, z = np.meshgrid(radii, heights, indexing="ij")
    found = amplitudes_at(ring_map(magnets, rotor), r.ravel(), z.ravel())[:, :4]
    miss = np.abs(found.reshape(exact.shape) - exact) / np.abs(exact[2, 0]).max(axis=0)
    assert miss.max() < FIELD
