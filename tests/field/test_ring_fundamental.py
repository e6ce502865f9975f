"""The fundamental alone on a coarse mesh, against the whole field on the default one."""

from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.ring_fundamental import fundamental_map
from tests.rings import ring_map

MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
STEEL = Plate(steel_curve("mild steel"), 0.006)
ROTORS = {
    "steel": Rotor(2, 0.008, STEEL, None, 0.050, 0.082),
    "wood": Rotor(2, 0.008, None, None, 0.050, 0.082),
    "plate": Rotor(1, 0.008, Plate(None), STEEL, 0.050, 0.082),
    "bare": Rotor(1, None, None, None, 0.050, 0.082),
}


@pytest.mark.parametrize("name", ROTORS)
def test_it_is_the_first_of_all_harmonics(name):
    alone, whole = fundamental_map(MAGNETS, ROTORS[name]), ring_map(MAGNETS, ROTORS[name])
    radii, heights = np.full(3, 0.066), np.array([0.002, 0.004, 0.006])
    found, wanted = (amplitudes_at(field_map, radii, heights)[2][0] for field_map in (alone, whole))
    assert list(alone.orders) == [1]
    assert found == pytest.approx(wanted, rel=3e-3)


def test_thin_steel_that_saturates_is_told_by_the_fundamental_well_enough_for_a_change():
    thin = replace(ROTORS["steel"], backing=replace(STEEL, thickness_m=0.003))
    changes = []
    for solve in (fundamental_map, ring_map):
        narrow, wide = (
            abs(
                amplitudes_at(solve(MAGNETS, replace(thin, gap_m=gap)), np.array([0.066]), np.array([gap / 2]))[2][0, 0]
            )
            for gap in (0.0078, 0.0082)
        )
        changes.append(wide / narrow - 1)
    assert changes[0] == pytest.approx(changes[1], rel=0.05)
    assert -0.04 < changes[1] < -0.02
