"""The case that the section's benchmarks share: two iron-backed discs, one radius unrolled, lengths varied.

Pole pitch 40 mm, magnets 10 mm thick over 0.7 of it, half gap 6.5 mm, remanence 1.3 T, recoil permeability 1.05 in the
magnets only, 8 mm of iron of constant permeability 2000 behind them with air behind that. The truth is mode matching:
cosines across the pole, exact along the shaft, coupled by the air between the magnets.
"""

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg

from fieldrun.design.arrays import Floats
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.section import Region, Section, rectangle, section_at

PITCH, SHARE, THICKNESS, HALF_GAP, REMANENCE, RECOIL = 0.040, 0.7, 0.010, 0.0065, 1.3, 1.05
IRON, IRON_PERMEABILITY, AIR = 0.008, 2000.0, 0.010
STEEL = 0.0045
"""Thickness of the saturating disc: linear iron would be several per cent wrong there."""

RADIUS = PITCH * 8 / math.pi
MAGNETS = Magnets(Arc(RADIUS - 0.01, RADIUS + 0.01, SHARE), 16, THICKNESS, REMANENCE, RECOIL, 7500.0)
IDEAL = Rotor(2, 2 * HALF_GAP, Plate(None), None, 0.0, 1.0)
ORDERS = 2 * np.arange(16) + 1


@dataclass(frozen=True)
class Lengths:
    """What a point of the sweep varies [m]."""

    half_gap: float = HALF_GAP
    thickness: float = THICKNESS


def sweep(gaps: int, thicknesses: int) -> list[Lengths]:
    """Half gaps 3 to 13 mm, magnets 5 to 20 mm; gaps change first."""
    grid = itertools.product(np.linspace(0.005, 0.020, thicknesses), np.linspace(0.003, 0.013, gaps))
    return [Lengths(float(gap), float(thickness)) for thickness, gap in grid]


def on_iron(lengths: Lengths) -> Section:
    """The section with iron of constant permeability."""
    magnets = replace(MAGNETS, thickness_m=lengths.thickness)
    section = section_at(magnets, replace(IDEAL, gap_m=2 * lengths.half_gap), RADIUS)
    back = -lengths.thickness - IRON
    iron = Region("iron", rectangle(0, section.width_m, back, -lengths.thickness), IRON_PERMEABILITY)
    return replace(section, bottom_m=back - AIR, bottom="open", regions=(*section.regions, iron))


def on_steel(lengths: Lengths) -> Section:
    """The section with 4.5 mm of mild steel, which saturates."""
    rotor = replace(IDEAL, gap_m=2 * lengths.half_gap, backing=Plate(steel_curve("mild steel"), STEEL))
    return section_at(replace(MAGNETS, thickness_m=lengths.thickness), rotor, RADIUS)


def truth(lengths: Lengths, modes: int = 120) -> Floats:
    """B_z at mid-gap, (n,) [T] of `ORDERS`, `modes` harmonics kept.

    H = -grad phi, phi = sum of f_n(z) cos(k_n x). In the magnets' layer M f'' = K f, M = <mu cos cos>, K = k <mu>
    k of sines, mu's products taken by its reciprocal (B_x is continuous across a magnet's sides); in air and iron f
    grows and falls by k alone. Continuous phi and weighted B_z at both faces leave 2 n unknowns.
    """
    n = 2 * np.arange(modes) + 1
    k = n * np.pi / PITCH
    inside = _toeplitz(n, sign=1.0)
    mass = np.eye(modes) + (RECOIL - 1) * inside
    stiffness = k[:, None] * np.linalg.inv(np.eye(modes) + (1 / RECOIL - 1) * _toeplitz(n, sign=-1.0)) * k
    squares, shapes = scipy.linalg.eigh(stiffness, mass)
    rate = np.sqrt(squares)
    fall = np.exp(-rate * lengths.thickness)
    source = 4 * REMANENCE / (np.pi * n) * np.sin(n * SHARE * np.pi / 2)
    iron = np.tanh(k * IRON)
    below = IRON_PERMEABILITY * k * (1 + IRON_PERMEABILITY * iron) / (IRON_PERMEABILITY + iron)
    above = k / np.tanh(k * lengths.half_gap)
    slope, value = mass @ (shapes * rate), shapes
    system = np.block(
        [
            [slope + above[:, None] * value, (-slope + above[:, None] * value) * fall],
            [(slope - below[:, None] * value) * fall, -slope - below[:, None] * value],
        ]
    )
    falling, rising = np.split(np.linalg.solve(system, np.concatenate([source, source])), 2)
    face = shapes @ (falling + fall * rising)
    return np.asarray((k * face / np.sinh(k * lengths.half_gap))[: len(ORDERS)])


def _toeplitz(n: np.ndarray, sign: float) -> Floats:
    """2/tau INT over a magnet of cos cos (sign 1) or sin sin (-1), (n, n)."""
    half = SHARE * np.pi / 2

    def part(order: np.ndarray) -> Floats:
        safe = np.where(order == 0, 1, order)
        return np.where(order == 0, 2 * half / np.pi, 2 * np.sin(safe * half) / (np.pi * safe))

    return np.asarray(part(n[:, None] - n) + sign * part(n[:, None] + n))


def errors(found: Floats, exact: Floats) -> tuple[float, float]:
    """Of the fundamental, and root mean square of the waveform at mid-gap, both relative."""
    return abs(float(found[0] / exact[0]) - 1), float(np.linalg.norm(found - exact) / np.linalg.norm(exact))
