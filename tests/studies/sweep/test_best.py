"""Best points and fronts against looking at every pair."""

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from fieldrun.studies.sweep.best import as_good, best_index, pareto_front, ranking, spread

# few distinct numbers, so that ties of every kind come up; None is a point without a value
NUMBER = st.one_of(st.none(), st.integers(-3, 3), st.floats(-1e6, 1e6))
POINTS = st.lists(st.tuples(NUMBER, NUMBER), max_size=40)


def column(values):
    absent = [value is None for value in values]
    return np.ma.masked_array([0.0 if value is None else float(value) for value in values], absent)


def beats(one, other, largest):
    """Whether a point is as good as another in both values, and better in one."""
    signs = [1 if most else -1 for most in largest]
    gains = [sign * (a - b) for sign, a, b in zip(signs, one, other, strict=True)]
    return min(gains) >= 0 and max(gains) > 0


@settings(derandomize=True, max_examples=300, deadline=None)
@given(POINTS, st.tuples(st.booleans(), st.booleans()))
def test_front_is_what_no_point_beats(points, largest):
    known = {i: pair for i, pair in enumerate(points) if None not in pair}
    expected = {i for i, pair in known.items() if not any(beats(other, pair, largest) for other in known.values())}
    first, second = column([a for a, _ in points]), column([b for _, b in points])
    front = pareto_front(first, second, largest=largest).tolist()
    assert set(front) == expected
    assert len(front) == len(expected)
    signs = [1 if most else -1 for most in largest]
    keys = [(-signs[0] * known[i][0], -signs[1] * known[i][1], i) for i in front]
    assert keys == sorted(keys)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.lists(NUMBER, max_size=40), st.booleans())
def test_best_and_ranking_are_those_of_a_sort(values, largest):
    known = [(-value if largest else value, i) for i, value in enumerate(values) if value is not None]
    found = column(values)
    assert ranking(found, largest=largest).tolist() == [i for _, i in sorted(known)]
    best = best_index(found, largest=largest)
    assert best == (min(known)[1] if known else None)
    if best is not None:
        assert as_good(found, best) == values.count(values[best])


def test_front_of_ten_thousand_points_on_a_circle_is_its_quarter():
    angle = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    front = pareto_front(np.cos(angle), np.sin(angle), largest=(True, True))
    assert front.tolist() == list(range(2501))


def test_a_mask_hides_nan_and_nothing_else_does():
    values = np.ma.masked_array([1.0, np.nan, 3.0], [False, True, False])
    assert best_index(values, largest=True) == 2
    with pytest.raises(ValueError, match="only finite numbers can be ranked"):
        best_index(np.array([1.0, np.nan]), largest=True)
    with pytest.raises(ValueError, match="only finite numbers can be ranked"):
        pareto_front(np.array([1.0, 2.0]), np.array([1.0, np.inf]), largest=(True, True))


def test_values_of_other_points_are_refused():
    with pytest.raises(ValueError, match="values of the same points are needed; received 2 and 3"):
        pareto_front(np.zeros(2), np.zeros(3), largest=(True, True))


def test_spread_holds_both_ends():
    assert spread(5, 12).tolist() == [0, 1, 2, 3, 4]
    assert spread(100, 12).tolist()[::11] == [0, 99]
    assert len(spread(100, 12)) == 12
    assert spread(1, 12).tolist() == [0]
