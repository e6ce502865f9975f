"""The K1 kernel against magpylib's closed forms: sums over whole magnets, and images for ideal steel."""

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from fieldrun.design.model import Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.solve import slices_of
from fieldrun.reference.end_effects import spread_map

POLES = 16
HEIGHT = 0.004
IDEAL = Plate(None)
DISC = Magnets(Disc(0.020, 0.066), POLES, 0.006, 1.3, 1.0, 7500.0)
BLOCK = Magnets(Block(0.024, 0.014, 0.066), POLES, 0.006, 1.3, 1.0, 7500.0)
FACE = Rotor(1, None, None, None, 0.0, 0.1)
FACE_ON_STEEL = Rotor(1, None, IDEAL, None, 0.0, 0.1)
TWO_FACES = Rotor(2, 0.009, None, None, 0.0, 0.1)


def fundamental(field: Callable[[np.ndarray], np.ndarray], radius: float) -> float:
    """First harmonic of B_z on a circle at HEIGHT, from 64 points over one pole pair."""
    theta = 2 * math.pi / (POLES // 2) * np.arange(64) / 64
    points = np.stack([radius * np.cos(theta), radius * np.sin(theta), np.full(64, HEIGHT)], axis=1)
    return float(2 * np.mean(field(points)[:, 2] * np.cos(POLES // 2 * theta)))


@pytest.mark.parametrize(
    ("magnets", "rotor"),
    [
        (DISC, FACE),
        (DISC, FACE_ON_STEEL),
        (DISC, TWO_FACES),
        (BLOCK, TWO_FACES),
        (DISC, replace(FACE_ON_STEEL, gap_m=0.009, return_plate=IDEAL)),
        (BLOCK, replace(TWO_FACES, backing=IDEAL)),
    ],
    ids=[
        "disc",
        "disc on steel",
        "discs facing",
        "blocks facing",
        "disc on steel to a plate",
        "blocks facing on steel",
    ],
)
def test_spread_field_is_that_of_whole_magnets(
    magnets: Magnets, rotor: Rotor, whole_magnets: Callable[..., np.ndarray]
) -> None:
    radii = np.linspace(0.050, 0.082, 9)
    spread = spread_map(slices_of(magnets, rotor), magnets, rotor, radii, np.array([0.003, HEIGHT, 0.005]))
    found = amplitudes_at(spread, radii, np.full(9, HEIGHT))[2][0].real
    exact = np.array([fundamental(partial(whole_magnets, magnets, rotor), r) for r in radii])
    assert np.max(np.abs(found - exact)) < 0.01 * exact.max()
    # what a winding over the whole ring sees: the number the correction is made for
    assert np.trapezoid(radii * found, radii) == pytest.approx(np.trapezoid(radii * exact, radii), rel=3e-3)


def test_halbach_sources_are_no_sheets() -> None:
    halbach = Magnets(Block(0.024, 0.010, 0.066), 12, 0.006, 1.3, 1.0, 7500.0, pattern="halbach", segments_per_pole=2)
    with pytest.raises(ValueError, match="magnets along z only"):
        spread_map(slices_of(halbach, FACE), halbach, FACE, np.array([0.06, 0.07]), np.array([0.003, 0.005]))
