"""No sentence shows a power of ten for a size that a builder could mean."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.digits import digits


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [
        (560.4, 2, "560"),
        (1e6, 6, "1000000"),
        (123456.0, 3, "123000"),
        (1.5, 6, "1.5"),
        (0.1, 6, "0.1"),
        (-2.0, 6, "-2"),
        (0.0, 6, "0"),
        (2.5e-5, 6, "0.000025"),
        (1e300, 6, "1e+300"),
        (1e-30, 6, "1e-30"),
    ],
)
def test_digits(value, figures, text):
    assert digits(value, figures) == text


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.floats(-1e15, 1e15), st.integers(1, 8))
def test_only_the_way_of_writing_differs(value, figures):
    assert float(digits(value, figures)) == float(f"{value:.{figures}g}")
    if value == 0 or abs(value) > 1e-8:
        assert "e" not in digits(value, figures)
