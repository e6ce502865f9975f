"""Single magnets on their axis: Furlani, Permanent Magnet and Electromechanical Devices (2001), ch. 4 (from memory).

The table was computed for the project's brief and agreed with magpylib 6.3.0 to 1e-15; magpylib is asked again here.
"""

import numpy as np
import pytest

from fieldrun.reference.closed_forms import cuboid_on_axis, cylinder_on_axis

magpylib = pytest.importorskip("magpylib")

BR = 1.30
Z = np.array([0, 0.001, 0.002, 0.005, 0.01, 0.02, 0.04])
H = 0.010


def ring_on_axis(outer, inner, h, remanence_t, z):
    return cylinder_on_axis(outer, h, remanence_t, z) - cylinder_on_axis(inner, h, remanence_t, z)


# formula, table of B_z [T] at Z
MAGNETS = {
    "block 20 x 20": (
        lambda z: cuboid_on_axis(0.020, 0.020, H, BR, z),
        [0.4333333333, 0.3974188891, 0.3601223476, 0.2542936443, 0.1333441848, 0.04187291735, 0.008435982963],
    ),
    "block 46 x 30": (
        lambda z: cuboid_on_axis(0.046, 0.030, H, BR, z),
        [0.2908123035, 0.2800078866, 0.2680805731, 0.2286384823, 0.164757429, 0.08039716077, 0.02298934126],
    ),
    "disc 20": (
        lambda z: cylinder_on_axis(0.010, H, BR, z),
        [0.4596194078, 0.4162836303, 0.3718683439, 0.2501438542, 0.1217582664, 0.03526646958, 0.006784814105],
    ),
    "ring 30 / 10": (
        lambda z: ring_on_axis(0.015, 0.005, H, BR, z),
        [-0.2208225466, -0.123113698, -0.03845069752, 0.0970466239, 0.1102299215, 0.05081424875, 0.0121795662],
    ),
}


def outside(name):
    place = {"polarization": (0, 0, BR), "position": (0, 0, -H / 2)}
    if name == "ring 30 / 10":
        return magpylib.magnet.CylinderSegment(dimension=(0.005, 0.015, H, 0, 360), **place)
    if name == "disc 20":
        return magpylib.magnet.Cylinder(dimension=(0.020, H), **place)
    sides = (0.020, 0.020, H) if name == "block 20 x 20" else (0.046, 0.030, H)
    return magpylib.magnet.Cuboid(dimension=sides, **place)


@pytest.mark.parametrize("name", MAGNETS)
def test_table(name):
    formula, table = MAGNETS[name]
    assert formula(Z) == pytest.approx(table, rel=1e-8)


@pytest.mark.parametrize("name", MAGNETS)
def test_magpylib(name):
    points = np.stack([0 * Z[1:], 0 * Z[1:], Z[1:]], axis=1)
    assert MAGNETS[name][0](Z[1:]) == pytest.approx(outside(name).getB(points)[:, 2], rel=1e-10)


def test_a_block_twice_as_wide_as_high_has_a_third_of_its_remanence_at_the_face():
    assert cuboid_on_axis(2.0, 2.0, 1.0, BR, 0.0) == pytest.approx(BR / 3, rel=1e-14)
