import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.outputs.sentences import plain, weight


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4.1234, "V", "4.12 V"),
        (4.1, "V", "4.1 V"),
        (310.4, "rpm", "310 rpm"),
        (12.6, "V", "12.6 V"),
        (3.0, "m/s", "3 m/s"),
        (0.0, "N", "0 N"),
        (-12.55, "%", "-12.6 %"),
        (0.00412, "T", "0.00412 T"),
        (0.000100, "T", "0.0001 T"),
        (12345.0, "N", "12300 N"),
        (1234567.0, "Pa", "1230000 Pa"),
        (999.6, "rpm", "1000 rpm"),
        (0.9996, "V", "1 V"),
        (22.5, "", "22.5"),
        (1.2566e-6, "H", "1.26e-6 H"),
        (2.0e9, "Pa", "2e9 Pa"),
        (9.999e6, "Pa", "1e7 Pa"),
    ],
)
def test_plain(value, unit, text):
    assert plain(value, unit) == text


@pytest.mark.parametrize(
    ("mass_kg", "text"), [(0.2163, "216 g"), (9.5, "9500 g"), (10.0, "10 kg"), (1590.0, "1590 kg")]
)
def test_weight(mass_kg, text):
    assert weight(mass_kg) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_not_shown(value):
    with pytest.raises(ValueError, match=r"only finite numbers can be shown; received -?(nan|inf)"):
        plain(value, "V")


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.floats(-1e300, 1e300))
def test_what_is_written_is_the_number_to_three_figures(value):
    text = plain(value)
    assert abs(float(text) - value) <= 0.00501 * abs(value)
    assert sum(c.isdigit() for c in text.split("e")[0].lstrip("-0.").rstrip("0").replace(".", "")) <= 3
    if value == 0 or 1e-4 <= abs(value) < 9.99e6:
        assert "e" not in text
