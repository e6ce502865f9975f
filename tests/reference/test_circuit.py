import dataclasses
import math

import pytest

from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.reference.circuit import circuit_b1, closes_a_circuit
from fieldrun.reference.closed_forms import cuboid_on_axis, cylinder_on_axis
from fieldrun.reference.shares import covered_share

IDEAL = Plate(None)
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
ARCS = Magnets(Arc(0.050, 0.080, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)


def rotor(faces=2, gap=0.009, backing=IDEAL, plate=None):
    return Rotor(faces, gap, backing, plate, 0.05, 0.082)


def square_wave(share):
    return 4 / math.pi * math.sin(share * math.pi / 2)


@pytest.mark.parametrize(("faces", "plate", "loop"), [(2, None, 0.012), (1, IDEAL, 0.006)])
def test_circuit_closed_by_steel(faces, plate, loop):
    flat = 1.3 * loop / (loop + 1.05 * 0.009)
    got = circuit_b1(ARCS, rotor(faces, plate=plate), 0.004, 0.065)
    assert got == pytest.approx(square_wave(0.7) * flat, rel=1e-12)


def test_disc_open_above_is_the_single_magnet_on_its_axis():
    share = covered_share(DISCS, 0.066)
    flat = cylinder_on_axis(0.010, 0.006, 1.3, 0.003)
    got = circuit_b1(DISCS, rotor(1, None, None), 0.003, 0.066)
    assert got == pytest.approx(square_wave(share) * flat, rel=1e-12)


def test_steel_behind_mirrors_the_magnet():
    thick = dataclasses.replace(DISCS, thickness_m=0.012)
    on_steel = circuit_b1(DISCS, rotor(1, None, IDEAL), 0.003, 0.066)
    assert on_steel == pytest.approx(circuit_b1(thick, rotor(1, None, None), 0.003, 0.066), rel=1e-12)


def test_arc_counts_as_a_block_of_its_mean_width():
    width = 0.7 * 2 * math.pi * 0.065 / 16
    flat = cuboid_on_axis(0.030, width, 0.006, 1.3, 0.003)
    assert circuit_b1(ARCS, rotor(1, None, None), 0.003, 0.065) == pytest.approx(square_wave(0.7) * flat, rel=1e-12)


def test_two_faces_in_air_add_their_axis_fields():
    blocks = Magnets(Block(0.030, 0.015, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
    flat = cuboid_on_axis(0.030, 0.015, 0.006, 1.3, 0.003) + cuboid_on_axis(0.030, 0.015, 0.006, 1.3, 0.006)
    got = circuit_b1(blocks, rotor(backing=None), 0.003, 0.066)
    assert got == pytest.approx(square_wave(covered_share(blocks, 0.066)) * flat, rel=1e-12)


def test_plate_without_backing_mirrors_across_the_gap():
    facing = circuit_b1(DISCS, rotor(2, 0.018, None), 0.003, 0.066)
    assert circuit_b1(DISCS, rotor(1, 0.009, None, IDEAL), 0.003, 0.066) == pytest.approx(facing, rel=1e-12)


@pytest.mark.parametrize(
    ("machine", "closed"),
    [
        (rotor(), True),
        (rotor(1, plate=IDEAL), True),
        (rotor(backing=None), False),
        (rotor(1, None), False),
        (rotor(1, backing=None, plate=IDEAL), False),
    ],
)
def test_when_steel_closes_the_circuit(machine, closed):
    assert closes_a_circuit(machine) is closed
