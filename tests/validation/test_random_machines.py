"""Forty random machines: the rings' finite elements against the exact kernel of charge sheets, harmonic by harmonic."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor, Winding, Wire
from fieldrun.field.solve import field_of
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.reference.ring_kernel import ring_kernel_map
from fieldrun.reference.shares import bend_radii
from fieldrun.winding.lay import Lay, lay

SEED, MACHINES = 20, 40
ALLOWED = 1e-3
"""What any harmonic may miss, as a part of the fundamental."""

ORDERS = range(1, 16, 2)
CONFIGURATIONS = [  # faces, backed, with a return plate
    (1, False, False),
    (1, True, False),
    (1, True, True),
    (1, False, True),
    (2, False, False),
    (2, True, False),
]


def random_outline(rng: np.random.Generator, poles: int) -> tuple[Outline, float]:
    """Magnets of 0.55 to 0.97 of the room that their neighbours leave, and the pole pitch [m]."""
    pitch = rng.uniform(0.012, 0.04)
    radius = pitch * poles / (2 * math.pi)
    share, half = rng.uniform(0.55, 0.97), math.pi / poles
    shape = rng.choice(["disc", "block", "arc"])
    if shape == "disc":
        return Disc(share * 2 * radius * math.sin(half), radius), pitch
    depth = min(rng.uniform(0.5, 1.6) * pitch, 1.2 * radius)
    if shape == "arc":
        return Arc(radius - depth / 2, radius + depth / 2, share), pitch
    return Block(depth, share * 2 * (radius - depth / 2) * math.tan(half), radius), pitch


def random_machine(rng: np.random.Generator, number: int) -> tuple[Magnets, Rotor, Winding, Wire]:
    poles = 2 * int(rng.integers(2, 13))
    outline, pitch = random_outline(rng, poles)
    magnets = Magnets(outline, poles, rng.uniform(0.15, 0.5) * pitch, rng.uniform(0.4, 1.4), 1.0, 7500.0)
    faces, backed, plated = CONFIGURATIONS[number % len(CONFIGURATIONS)]
    gap = rng.uniform(0.15, 0.6) * pitch if plated or faces == 2 else None
    ideal = Plate(None)
    rotor = Rotor(faces, gap, ideal if backed else None, ideal if plated else None, 0.0, 1.0)  # type: ignore[arg-type]
    return magnets, rotor, *random_winding(rng, outline, pitch, gap)


def random_winding(rng: np.random.Generator, outline: Outline, pitch: float, gap: float | None) -> tuple[Winding, Wire]:
    """One round of one phase, in the gap's middle half, between radii inside the magnets' ring or beyond it."""
    first, *_, last = bend_radii(outline)
    inner, outer = first + rng.uniform(-0.25, 0.2) * (last - first), last + rng.uniform(-0.2, 0.25) * (last - first)
    room = 0.3 * pitch if gap is None else gap
    height, wire = rng.uniform(0.3, 0.7) * room, 0.1 * room
    shape = str(rng.choice(["serpentine", "zigzag"]))
    plain = Winding("serpentine", inner, outer, 1, 1, 1, height, leg="spiral", span=rng.uniform(0.3, 1.0))
    return replace(plain, shape=shape), Wire("solid", wire, 1, wire)


def by_kernel(magnets: Magnets, rotor: Rotor, winding: Winding, wire: Wire, laid: Lay) -> Emf:
    low, high = laid.sheet_heights_m[0], laid.sheet_heights_m[-1]
    heights = np.unique(laid.sheet_heights_m)
    if len(heights) == 1:
        heights = np.array([low, high + wire.overall_diameter_m])
    first, *_, last = bend_radii(magnets.outline)
    inner, outer = min(laid.inner_radius_m, first) - 1e-4, max(laid.outer_radius_m, last) + 1e-4
    radii = np.linspace(inner, outer, int((outer - inner) / (0.5 * low)) + 20)
    return emf_per_speed(ring_kernel_map(magnets, rotor, radii, heights, ORDERS), laid, winding, wire)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(MACHINES))
def test_rings_against_the_exact_kernel(number: int) -> None:
    magnets, rotor, winding, wire = random_machine(np.random.default_rng([SEED, number]), number)
    laid = lay(winding, magnets.pole_pairs, wire)
    exact = by_kernel(magnets, rotor, winding, wire, laid)
    found = emf_per_speed(field_of(magnets, rotor), laid, winding, wire)
    same = [list(found.orders).index(n) for n in exact.orders]
    miss = np.abs(found.amplitudes[0, same] - exact.amplitudes[0]) / abs(exact.amplitudes[0, 0])
    assert miss.max() < ALLOWED, f"{magnets}, {rotor}, {winding}"
