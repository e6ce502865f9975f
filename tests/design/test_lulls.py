"""The longest time below a speed, for all speeds at once, against looking at every stretch."""

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.lulls import longest_below_h, lulls_of


def looked_at(spans, speed):
    """The longest run of readings below a speed, run by run."""
    runs = itertools.groupby(spans, key=lambda span: span is not None and span[0] < speed)
    return max((sum(span[1] for span in run) for below, run in runs if below), default=0)


SPANS = st.lists(
    st.one_of(st.none(), st.tuples(st.integers(0, 6).map(float), st.integers(1, 3).map(float))), max_size=30
)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(SPANS, st.integers(0, 14).map(lambda half: half / 2))
def test_as_run_by_run(spans, speed):
    assert longest_below_h(lulls_of(spans), speed) == looked_at(spans, speed)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(SPANS)
def test_speeds_and_hours_rise(spans):
    lulls = lulls_of(spans)
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in itertools.pairwise(lulls))


def test_by_hand():
    spans = [(1.0, 2.0), (3.0, 1.0), (1.0, 1.0), None, (0.0, 4.0)]
    assert lulls_of(spans) == ((0.0, 4.0),)  # the gap: what blew in it might have charged
    assert lulls_of(spans[:3]) == ((1.0, 2.0), (3.0, 4.0))
    assert longest_below_h(lulls_of(spans[:3]), 3.0) == 2.0  # less than 3, not as much
    assert longest_below_h((), 5.0) == 0
