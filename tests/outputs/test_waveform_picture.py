import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from fieldrun.generator.emf import emf_of
from fieldrun.outputs.style import save_figure
from fieldrun.outputs.waveform_picture import waveform_picture

ORDERS = np.arange(1, 20, 2)
SIZES = 0.2 * np.array([1.0, 0.1, 0.04, 0.0002, 0.01, 0, 0, 0, 0, 0])


def emf(phases=3, sizes=SIZES, *, star=True):
    lag = 2 * np.pi / 3 * np.arange(phases)[:, None] * ORDERS
    return emf_of(8, ORDERS, sizes * np.exp(1j * lag), star=star)


def words_of(figure, folder):
    svg, png = save_figure(figure, folder, "wave", {})
    text = svg.read_text()
    assert not re.search(r"\bnan\b|\binf\b", text)
    assert png.stat().st_size > 20_000
    return "".join(ET.fromstring(text).itertext())  # noqa: S314 our own file


def test_three_phases_in_star(tmp_path):
    figure = waveform_picture(emf(), 200.0, star=True)
    words = words_of(figure, tmp_path)
    for name in ("phase 1", "phase 2", "phase 3", "line 1 to 2", "volts", "rotor angle, degrees", "hatched: cancels"):
        assert name in words
    curves = [line for line in figure.axes[0].lines if line.get_gid()]
    assert len({line.get_color() for line in curves}) == 4
    assert len({str(line.get_linestyle()) + str(line._unscaled_dash_pattern) for line in curves}) == 4


@pytest.mark.parametrize(("phases", "star"), [(1, False), (2, False), (3, False), (1, True)])
def test_without_lines_there_is_no_line_voltage(phases, star, tmp_path):
    words = words_of(waveform_picture(emf(phases, star=star), 200.0, star=star), tmp_path)
    assert "line 1 to 2" not in words
    assert "between two lines" not in words
    assert f"phase {phases}" in words
    assert "hatched" not in words


def test_volts_at_the_speed_and_angle_over_one_period():
    """0.2 V s/rad at 200 rpm is 4.19 V; 8 pole pairs: one period every 45 degrees."""
    alone = np.where(ORDERS == 1, SIZES, 0)
    figure = waveform_picture(emf(sizes=alone), 200.0, star=True)
    first = next(line for line in figure.axes[0].lines if line.get_gid() == "phase-1")
    angle, volts = np.array(first.get_xdata()), np.array(first.get_ydata())
    assert volts == pytest.approx(0.2 * 200 * np.pi / 30 * np.cos(8 * np.radians(angle)), abs=1e-12)
    assert angle[[0, -1]] == pytest.approx([0, 45])
    between = next(line for line in figure.axes[0].lines if line.get_gid() == "line-1-to-2")
    assert np.max(between.get_ydata()) == pytest.approx(np.sqrt(3) * np.max(volts), rel=1e-3)
    assert "2.96 V rms, 4.19 V peak" in figure.get_label()
    assert any("between two lines: 5.13 V rms" in text.get_text() for text in figure.texts)


def test_bars_are_per_cent_of_the_fundamental_and_thirds_are_hatched():
    bars = waveform_picture(emf(), 200.0, star=True).axes[1]
    widths = [bar.get_width() for bar in bars.patches]
    assert widths == pytest.approx([10, 4, 0.02, 1, 0, 0, 0])
    assert [bool(bar.get_hatch()) for bar in bars.patches] == [True, False, False, True, False, False, True]
    names = [text.get_text() for text in bars.texts]
    assert names[:4] == ["10.0 %", "4.0 %", "under 0.1 %", "1.0 %"]
    assert [tick.get_text() for tick in bars.get_yticklabels()] == ["3rd", "5th", "7th", "9th", "11th", "13th", "15th"]


def test_no_voltage_at_all_still_draws(tmp_path):
    words = words_of(waveform_picture(emf(sizes=0 * SIZES), 200.0, star=True), tmp_path)
    assert "0 V rms, 0 V peak" in words


def test_the_same_wave_gives_the_same_bytes(tmp_path):
    first, second = (save_figure(waveform_picture(emf(), 200.0, star=True), tmp_path / n, "w", {}) for n in "ab")
    assert first[0].read_bytes() == second[0].read_bytes()
