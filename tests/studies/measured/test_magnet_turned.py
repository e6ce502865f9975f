"""One magnet turned over, against whole magnets in closed form and Faraday's law at every angle of a whole turn.

magpylib (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466): its magnets have recoil permeability 1 and know
nothing of harmonics, pole pairs or the study's shares.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from fieldrun.generator.machine import read_design, run
from fieldrun.studies.measured.guess import parts_of
from fieldrun.studies.measured.study import measured
from fieldrun.studies.measured.winding_faults import winding_faults
from fieldrun.winding.pieces import points_along

BLOCKS = {
    "magnets.shape": "block",
    "magnets.arc_share": None,
    "magnets.inner_radius_mm": None,
    "magnets.outer_radius_mm": None,
    "magnets.grade": None,
    "magnets.radial_mm": 24,
    "magnets.tangential_mm": 18,
    "magnets.pitch_diameter_mm": 116,
    "magnets.remanence_t": 1.2,
    "magnets.recoil_permeability": 1.0,
}

ANGLES, FINE = 120, 1440
"""Rotor angles in a whole turn, and angles of the field's table."""

PARTS = 16
"""Straight steps along every piece of wire."""


def one_magnet(magpylib, magnets, heights, radii, theta):
    """B_z of one block at angle 0, (z, r, theta)."""
    outline = magnets.outline
    sides = (outline.radial_m, outline.tangential_m, magnets.thickness_m)
    place = (outline.pitch_radius_m, 0, -magnets.thickness_m / 2)
    block = magpylib.magnet.Cuboid(polarization=(0, 0, magnets.remanence_t), dimension=sides, position=place)
    z, r, t = np.meshgrid(heights, radii, theta, indexing="ij")
    return magpylib.getB(block, np.stack([r * np.cos(t), r * np.sin(t), z], axis=-1))[..., 2]


def emf(table, grid, pieces, phase, turned):
    """-sum of r B_z dr over one phase's wire with the rotor turned [V s/rad]."""
    (heights, radii), mine = grid, pieces.phase == phase
    part = replace(pieces, **{n: getattr(pieces, n)[mine] for n in ("kind", "start", "end", "phase", "loop")})
    edge = points_along(part, np.broadcast_to(np.linspace(0, 1, PARTS + 1), (part.count, PARTS + 1)))
    middle = points_along(part, np.broadcast_to((np.arange(PARTS) + 0.5) / PARTS, (part.count, PARTS)))
    cut = middle[..., 0] * np.diff(edge[..., 0], axis=1)
    level = np.argmin(np.abs(middle[:, 0, 2][:, None] - heights), axis=1)
    total = np.zeros(len(turned))
    theta = np.linspace(0, 2 * np.pi, FINE + 1)
    for k in range(len(heights)):
        here = level == k
        look = RegularGridInterpolator((radii, theta), np.concatenate([table[k], table[k][:, :1]], axis=1))
        r, t, weight = (x[here].ravel() for x in (middle[..., 0], middle[..., 1], cut))
        moving = np.abs(weight) > 1e-12
        for index, angle in enumerate(turned):
            there = np.stack([r[moving], (t[moving] - angle) % (2 * np.pi)], axis=1)
            total[index] -= weight[moving] @ look(there)
    return total


@pytest.mark.slow
def test_what_it_does_to_the_volts(design_file, bench):
    magpylib = pytest.importorskip("magpylib")
    design = read_design(design_file("plank-ring", BLOCKS | {"winding.layers": 2, "winding.rounds": 8}))
    result = run(design)
    magnets, heights = design.magnets, result.lay.sheet_heights_m
    radii = np.linspace(result.lay.inner_radius_m - 1e-4, result.lay.outer_radius_m + 1e-4, 56)
    theta = 2 * np.pi * np.arange(FINE) / FINE
    single = one_magnet(magpylib, magnets, heights, radii, theta)
    pitch = FINE // magnets.count
    whole = sum((-1) ** j * np.roll(single, j * pitch, axis=2) for j in range(magnets.count))
    over = whole - 2 * single
    turned = 2 * np.pi * np.arange(ANGLES) / ANGLES
    drawn, wrong = (
        np.array([emf(table, (heights, radii), result.paths, phase, turned) for phase in (0, 1, 2)])
        for table in (whole, over)
    )
    rms = np.sqrt(np.mean(drawn**2, axis=1))
    assert rms[0] == pytest.approx(result.emf.rms[0], rel=0.005)

    guess = next(one for one in winding_faults(parts_of(result)) if one.key == "magnet_turned_over")
    share = np.sqrt(np.mean(wrong**2, axis=1)) / rms
    told = math.sqrt(np.sum(np.abs(guess.amplitudes[0]) ** 2) / 2) / result.emf.rms[0]
    assert told == pytest.approx(1 - 2 / magnets.count, rel=1e-6)
    assert share == pytest.approx(np.full(3, told), rel=0.005)

    machine = bench.Real(wrong, share[0] * bench.round_wave(result), result.impedance.resistance_20c_ohm)
    for seed in (1, 2, 3):
        found = measured(result, bench.readings_of(machine, seed=seed))
        assert found.best.guess.key == "magnet_turned_over"


def test_two_faces_have_a_magnet_that_does_half_as_much(bundled):
    """Of 32 magnets one: its own field at mid-gap is half of what both faces make there."""
    result = bundled("quiet-halbach")
    magnets = result.design.magnets
    guess = next(one for one in winding_faults(parts_of(result)) if one.key == "magnet_turned_over")
    told = abs(guess.amplitudes[0, 0] / result.emf.amplitudes[0, 0])
    assert told == pytest.approx(1 - 1 / (magnets.count * magnets.segments_per_pole), rel=0.003)
