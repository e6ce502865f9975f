"""Textbook averages against their printed figures and against the waves they are means of."""

import math

import numpy as np
import pytest

from fieldrun.reference.rectifier import pulses_mean, smooth_current

ANGLE = 2 * math.pi * (np.arange(200000) + 0.5) / 200000


def test_printed_figures():
    """0.900316, 1.350474 and 2.339090: textbooks of power electronics, such as Mohan, Undeland & Robbins, ch. 5
    (from memory); 1.3505 for six pulses: poletoparis.com.
    """
    assert pulses_mean(2) == pytest.approx(0.900316, abs=5e-7)
    assert pulses_mean(6) == pytest.approx(1.350474, abs=5e-7)
    assert math.sqrt(3) * pulses_mean(6) == pytest.approx(2.339090, abs=1e-6)


@pytest.mark.parametrize(("phases", "pulses"), [(1, 2), (2, 4), (3, 6)])
def test_means_of_the_highest_of_so_many_rectified_sines(phases, pulses):
    waves = np.abs(np.cos(ANGLE - np.arange(phases)[:, None] * math.pi / phases)).max(axis=0)
    assert waves.mean() == pytest.approx(pulses_mean(pulses) / math.sqrt(2), rel=1e-9)


def test_current_never_flows_back():
    assert smooth_current(20.0, 14.0, 1.5) == pytest.approx(4.0)
    assert smooth_current(13.0, 14.0, 1.5) == 0
