"""Next sizes of wire: the series of the table, gauge numbers, strands that still divide."""

from itertools import pairwise

import pytest

from fieldrun.design.wire import awg_diameter_m, litz_wire, preferred_sizes_m, solid_wire
from fieldrun.studies.changes.sizes import gauge_of, smaller_wires, thicker_wires


def test_preferred_sizes_step_by_a_twentieth_of_a_decade():
    """R 20: each is 10^(1/20) of the one before, rounded (ISO 3, from memory)."""
    sizes = preferred_sizes_m()
    ratios = [b / a for a, b in pairwise(sizes)]
    assert min(ratios) > 1.09
    assert max(ratios) < 1.15
    assert (sizes[-1] / sizes[0]) ** (1 / (len(sizes) - 1)) == pytest.approx(10 ** (1 / 20), rel=1e-3)


def test_solid_wire_of_the_table_and_between():
    assert thicker_wires(solid_wire(0.63e-3)) == [{"wire.copper_mm": 0.71}]
    assert smaller_wires(solid_wire(0.63e-3))[0] == {"wire.copper_mm": 0.56}
    assert thicker_wires(solid_wire(0.6e-3)) == [{"wire.copper_mm": 0.63}]
    assert smaller_wires(solid_wire(0.6e-3))[0] == {"wire.copper_mm": 0.56}
    assert thicker_wires(solid_wire(5e-3)) == []
    assert smaller_wires(solid_wire(0.02e-3)) == []


def test_gauge_numbers_stay_gauge_numbers():
    wire = solid_wire(awg_diameter_m(22))
    assert gauge_of(wire) == 22
    assert gauge_of(solid_wire(0.63e-3)) is None
    assert thicker_wires(wire) == [{"wire.awg": 21, "wire.copper_mm": None}]
    assert [keys["wire.awg"] for keys in smaller_wires(wire)] == [23, 24, 25, 26]


def test_bundles_keep_their_groups():
    wire = litz_wire(0.1e-3, 36, strands_in_series=3)
    counts = [keys["wire.strands"] for keys in smaller_wires(wire)]
    assert counts == sorted(set(counts), reverse=True)
    assert all(count % 3 == 0 and 0 < count < 36 for count in counts)
    assert thicker_wires(wire) == [{"wire.strands": 39}]
