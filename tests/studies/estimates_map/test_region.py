"""The largest box in which something holds, against trying every box."""

from itertools import combinations_with_replacement, product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from fieldrun.studies.estimates_map.grid import Axes
from fieldrun.studies.estimates_map.region import Region, region_where

AXES = Axes((0.1, 0.2, 0.3, 0.4), (0.1, 0.2, 0.3), (0.5, 0.8))


@settings(derandomize=True, max_examples=100, deadline=None)
@given(hnp.arrays(bool, (2, 3, 4), elements=st.booleans()))
def test_no_box_that_holds_is_larger(holds):
    sizes = [
        holds[a : b + 1, c : d + 1, e : f + 1].size
        for (a, b), (c, d), (e, f) in product(*(combinations_with_replacement(range(n), 2) for n in holds.shape))
        if d > c and f > e and np.all(holds[a : b + 1, c : d + 1, e : f + 1])
    ]
    found = region_where(holds, AXES)
    assert (found.machines if found else 0) == max(sizes, default=0)


def test_limits_are_named_only_where_there_are_any():
    holds = np.ones((2, 3, 4), bool)
    assert region_where(holds, AXES) == Region((None, None), (None, None), (None, None), 24)
    holds[:, :, 2:] = False
    assert region_where(holds, AXES) == Region((None, 0.2), (None, None), (None, None), 12)
    holds[0] = False
    holds[:, 0] = False
    assert region_where(holds, AXES) == Region((None, 0.2), (0.2, None), (0.8, None), 4)


def test_one_line_is_no_region_unless_there_is_no_other():
    holds = np.zeros((2, 3, 4), bool)
    assert region_where(holds, AXES) is None
    holds[:, :, 1] = True
    assert region_where(holds, AXES) is None
    single = Axes((0.2,), AXES.thicknesses, AXES.shares)
    assert region_where(holds[:, :, 1:2], single) == Region((None, None), (None, None), (None, None), 6)
