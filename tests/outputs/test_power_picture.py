"""The picture of a year in the wind shows what the numbers say."""

import dataclasses

import numpy as np
import pytest

from fieldrun.generator.wind.energy import WindClass
from fieldrun.outputs.file_names import LOAD_FILES, OUR_FILES, WIND_FILES
from fieldrun.outputs.power_picture import power_picture
from fieldrun.outputs.run_folder import figures_of
from fieldrun.outputs.wind_classes import MOST_BARS, shown_classes


@pytest.fixture
def wind(bundled):
    return bundled("hut-charger").wind


def drawn(axes, gid):
    return next(artist for artist in axes.lines if artist.get_gid() == gid)


def words(figure):
    texts = [text.get_text() for text in figure.texts]
    return " ".join(texts + [text.get_text() for axes in figure.axes for text in axes.texts])


def test_curves_are_the_machine_s(wind):
    watts, speeds, *_ = power_picture(wind, wind.fed).axes
    x, y = drawn(watts, "load-power").get_data()
    assert y == pytest.approx(np.interp(x, wind.fed.curve.wind_m_s, wind.fed.curve.dc_w))
    x, y = drawn(watts, "rotor-power").get_data()
    assert y == pytest.approx(np.interp(x, wind.fed.curve.wind_m_s, wind.fed.curve.rotor_w))
    x, y = drawn(speeds, "generator-speed").get_data()
    assert y == pytest.approx(np.interp(x, wind.fed.curve.wind_m_s, wind.fed.curve.speed_rad_s) * 30 / np.pi)
    assert [text.get_text() for text in watts.get_legend().get_texts()] == ["the rotor takes", "the load gets"]


def test_bars_stand_side_by_side(wind):
    *_, hours, brought = power_picture(wind, wind.fed).axes
    classes = shown_classes(wind.fed.energy)
    assert [bar.get_width() for bar in hours.patches] == pytest.approx([c.hours for c in classes])
    assert [bar.get_width() for bar in brought.patches] == pytest.approx([c.energy_kwh for c in classes])
    assert [label.get_text() for label in hours.get_yticklabels()][:3] == ["0 to 1", "1 to 2", "2 to 3"]
    dashed = [line.get_ydata()[0] for axes in (hours, brought) for line in axes.lines]
    assert dashed == pytest.approx([4.0, 4.0])  # 4.5 m/s is the middle of the bar "4 to 5", the fifth from 0


def test_it_says_what_light_winds_bring(wind):
    figure = power_picture(wind, wind.fed)
    told = words(figure)
    energy = wind.fed.energy
    assert f"below it 54 % of the hours, {100 * energy.below_mean_energy:.0f} % of the kWh" in told
    assert "furls" in told
    assert f"54 % of the hours and {100 * energy.below_mean_energy:.0f} % of the energy" in figure.get_label()


def test_many_classes_are_joined_in_pairs(wind):
    many = tuple(WindClass(float(i), i + 1.0, 100.0, 2.0) for i in range(25))
    shown = shown_classes(dataclasses.replace(wind.fed.energy, classes=many))
    assert len(shown) == 13 <= MOST_BARS
    assert shown[0] == WindClass(0.0, 2.0, 200.0, 4.0)
    assert shown[-1] == WindClass(24.0, 25.0, 100.0, 2.0)
    assert sum(c.hours for c in shown) == 2500


def test_without_a_year_only_the_curve_is_drawn(wind):
    figure = power_picture(wind, dataclasses.replace(wind.fed, energy=None))
    assert len(figure.axes) == 2
    assert figure.axes[0].get_xlim() == (0, 25)


@pytest.mark.slow
def test_a_run_with_a_rotor_leaves_it_behind(bundled):
    """That every figure is written is seen of a smaller machine, in the test of the load's picture."""
    files = {f"{stem}.{end}" for stem in figures_of(bundled("hut-charger")) for end in ("svg", "png")}
    assert files == {name for name in OUR_FILES if name.endswith(("svg", "png"))} | LOAD_FILES | WIND_FILES
