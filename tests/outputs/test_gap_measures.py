"""Labels beside a drawing: apart, in order, and no farther from their layers than they must be."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.outputs.gap_measures import spread


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(st.floats(-20, 20), min_size=1, max_size=6).map(sorted), st.floats(0.1, 5))
def test_places_come_apart_in_order_and_keep_their_mean(wanted, least):
    places = spread(np.array(wanted), least)
    assert (np.diff(places) >= least - 1e-9).all()
    assert np.mean(places) == pytest.approx(np.mean(wanted), abs=1e-9)


def test_only_neighbours_that_are_too_close_move():
    assert spread(np.array([0.0, 1.0, 1.5, 9.0]), 1.0) == pytest.approx([-1 / 6, 5 / 6, 11 / 6, 9.0])
    assert spread(np.array([0.0, 3.0, 3.5]), 1.0) == pytest.approx([0.0, 2.75, 3.75])
    assert spread(np.array([2.0]), 1.0) == pytest.approx([2.0])
