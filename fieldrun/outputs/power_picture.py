"""The machine in the wind: watts and speed at every wind, and a year's hours and kilowatt-hours side by side."""

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.units import RPM
from fieldrun.generator.wind.energy import YEAR_H, Energy, WindClass
from fieldrun.generator.wind.operating import PowerCurve
from fieldrun.generator.wind.year import Fed, Wind
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import in_house_style, new_figure
from fieldrun.outputs.wind_classes import bar_text, shown_classes

CLEARING = {"boxstyle": "square,pad=0.05", "facecolor": PAPER, "edgecolor": "none"}
"""Ground behind a number, so that no line runs through it."""

LOAD_COLOUR, ROTOR_COLOUR, HOURS_COLOUR = PHASE_COLOURS[0], PHASE_COLOURS[2], "#9AA5A8"


@in_house_style
def power_picture(wind: Wind, fed: Fed) -> Figure:
    """Draw watts over wind (the rotor's and the load's), the generator's speed, and hours and energy by wind class.

    Parameters
    ----------
    wind, fed : the rotor and what it feeds
    """
    energy = fed.energy
    classes = [] if energy is None else shown_classes(energy)
    highest = classes[-1].to_m_s if classes else wind.stop_m_s
    figure = new_figure(13.0 if classes else 8.0, 6.2, _says(wind, fed, highest))
    right = 0.55 if classes else 0.96
    left = 0.07 if classes else 0.11
    figure.text(left - 0.05, 0.945, "Power in steady wind", size="x-large", weight="bold")
    figure.text(left - 0.05, 0.895, _in_numbers(wind, fed), color=QUIET)
    watts = figure.add_axes((left, 0.375, right - left, 0.475))
    _draw_watts(watts, wind, fed.curve, highest)
    speeds = figure.add_axes((left, 0.11, right - left, 0.2), sharex=watts)
    _draw_speed(speeds, wind, fed.curve, highest)
    if energy is not None and classes:
        figure.text(0.60, 0.945, "A year, by wind", size="x-large", weight="bold")
        figure.text(0.60, 0.895, _year_in_numbers(energy), color=QUIET)
        hours = figure.add_axes((0.645, 0.11, 0.155, 0.68))
        _draw_bars(hours, classes, [c.hours for c in classes], "hours", HOURS_COLOUR)
        brought = figure.add_axes((0.83, 0.11, 0.155, 0.68))
        _draw_bars(brought, classes, [c.energy_kwh for c in classes], "kWh", LOAD_COLOUR)
        _label_classes(hours, brought, classes)
        _mark_mean((hours, brought), energy, classes)
        figure.text(0.60, 0.04, _below_in_numbers(energy), color=QUIET, size="small")
    return figure


def _in_numbers(wind: Wind, fed: Fed) -> str:
    parts = [f"turns from {plain(wind.starts_at_m_s, 'm/s')}"]
    if fed.cut_in_m_s is not None:
        parts.append(f"power from {plain(fed.cut_in_m_s, 'm/s')}")
        parts.append(f"at most {plain(float(fed.curve.dc_w.max()), 'W')}")
    return ", ".join(parts)


def _year_in_numbers(energy: Energy) -> str:
    text = f"mean {plain(energy.mean_m_s, 'm/s')}: {plain(energy.annual_kwh, 'kWh')}"
    return f"{text}; {100 * energy.hours_without_charge / YEAR_H:.0f} % of the time nothing"


def _below_in_numbers(energy: Energy) -> str:
    shares = f"{100 * energy.below_mean_hours:.0f} % of the hours, {100 * energy.below_mean_energy:.0f} % of the kWh"
    return f"mean wind dashed; below it {shares}"


def _says(wind: Wind, fed: Fed, highest: float) -> str:
    text = f"Watts and generator speed in winds up to {plain(highest, 'm/s')}: {_in_numbers(wind, fed)}."
    if fed.energy is None:
        return text
    below = f"{100 * fed.energy.below_mean_hours:.0f} % of the hours and {100 * fed.energy.below_mean_energy:.0f} %"
    return f"{text} Beside it, hours and kWh of a year by wind: winds below the mean have {below} of the energy."


def _draw_watts(axes: Axes, wind: Wind, curve: PowerCurve, highest: float) -> None:
    seen = curve.wind_m_s <= highest
    winds, load, rotor = curve.wind_m_s[seen], curve.dc_w[seen], curve.rotor_w[seen]
    axes.fill_between(winds, load, color=LOAD_COLOUR, alpha=0.14, linewidth=0)
    axes.plot(
        winds,
        rotor,
        color=ROTOR_COLOUR,
        linewidth=2.2,
        linestyle=(0, (5.0, 1.6)),
        gid="rotor-power",
        label="the rotor takes",
    )
    axes.plot(winds, load, color=LOAD_COLOUR, linewidth=2.8, gid="load-power", label="the load gets")
    top = float(np.max(rotor, initial=0.0)) or 1.0
    axes.set(xlim=(0, highest), ylim=(0, 1.16 * top), ylabel="watts")
    axes.tick_params(labelbottom=False)
    axes.legend(loc="upper left", frameon=False)
    if wind.top_m_s < min(highest, wind.stop_m_s):
        axes.axvline(wind.top_m_s, color=FAINT, linewidth=1.2, zorder=0)
        axes.annotate("furls", (wind.top_m_s, 0.02 * top), (4, 0), textcoords="offset points", color=QUIET)
    if wind.stop_m_s < highest:
        axes.annotate("stopped", (wind.stop_m_s, 0.02 * top), (4, 0), textcoords="offset points", color=QUIET)


def _draw_speed(axes: Axes, wind: Wind, curve: PowerCurve, highest: float) -> None:
    seen = curve.wind_m_s <= highest
    rpm = wind.rotor.gear_ratio * curve.speed_rad_s[seen] / RPM
    axes.plot(curve.wind_m_s[seen], rpm, color=INK, linewidth=2.0, gid="generator-speed")
    axes.set(xlim=(0, highest), ylim=(0, 1.15 * float(np.max(rpm, initial=0.0)) or 1.0))
    axes.set(xlabel="wind, m/s", ylabel="generator, rpm")
    step = max(1, math.ceil(highest / 14))
    axes.set_xticks(np.arange(0, highest + 0.5, step))


def _draw_bars(axes: Axes, classes: list[WindClass], values: list[float], unit: str, colour: str) -> None:
    rows = np.arange(len(classes))
    axes.barh(rows, values, color=colour, height=0.78, gid=f"{unit}-by-wind")
    largest = max(values) or 1.0
    for row, value in zip(rows, values, strict=True):
        if value >= 0.005 * largest:
            axes.annotate(
                bar_text(value), (value, row), (4, 0), textcoords="offset points", va="center", color=INK, bbox=CLEARING
            )
    axes.set(xlim=(0, 1.35 * largest), ylim=(-0.6, len(classes) - 0.4), xticks=[])
    axes.set_title(unit, color=QUIET, weight="normal", size="medium")
    axes.spines["bottom"].set_visible(False)
    axes.tick_params(length=0, labelcolor=INK)


def _label_classes(hours: Axes, brought: Axes, classes: list[WindClass]) -> None:
    hours.set_yticks(range(len(classes)), [f"{c.from_m_s:g} to {c.to_m_s:g}" for c in classes])
    hours.set_ylabel("wind, m/s")
    brought.set_yticks([])


def _mark_mean(panels: tuple[Axes, Axes], energy: Energy, classes: list[WindClass]) -> None:
    """Draw a line at the mean wind through both panels."""
    width = classes[0].to_m_s - classes[0].from_m_s
    for axes in panels:
        axes.axhline(
            (energy.mean_m_s - classes[0].from_m_s) / width - 0.5,
            color=QUIET,
            linewidth=1.2,
            linestyle=(0, (3, 2)),
            zorder=0,
        )
