"""Open-circuit voltage over one electrical period, and what it holds besides the main wave."""

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats
from fieldrun.design.units import DEGREE, RPM
from fieldrun.generator.emf import Emf
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import PHASE_DASHES, in_house_style, new_figure

CLEARING = {"boxstyle": "square,pad=0.05", "facecolor": PAPER, "edgecolor": "none"}
"""Ground behind a name, so that no curve runs through it."""

HIGHEST_SHOWN = 15
"""Harmonics above this order are too small to matter to a builder, and are not drawn."""

LINE_COLOUR, LINE_DASHES = "#737E83", (0, (8, 2, 1.5, 2))
"""How the voltage between two lines is drawn, unlike any phase."""


@in_house_style
def waveform_picture(emf: Emf, speed_rpm: float, *, star: bool) -> Figure:
    """Draw every phase's voltage, the voltage between two lines of a star, and bars of the harmonics of phase 1.

    Parameters
    ----------
    emf : open-circuit EMF per speed
    speed_rpm : speed at which volts are shown
    star : three phases joined in star: the line voltage is drawn too, and third harmonics are said to cancel in it
    """
    volts = emf.waveform * speed_rpm * RPM
    lines = star and len(volts) > 1
    figure = new_figure(12.0, 5.6, _says(emf, volts, speed_rpm))
    figure.text(0.015, 0.94, f"Voltage at {plain(speed_rpm, 'rpm')}, nothing connected", size="x-large", weight="bold")
    figure.text(0.015, 0.885, _in_numbers(emf, volts, speed_rpm, lines=lines), color=QUIET)
    left = figure.add_axes((0.075, 0.13, 0.55, 0.68))
    _draw_waves(left, emf, volts, lines=lines)
    figure.text(0.7, 0.94, "Overtones", size="x-large", weight="bold")
    figure.text(0.7, 0.885, "% of the main wave", color=QUIET)
    _draw_harmonics(figure.add_axes((0.745, 0.13, 0.23, 0.68)), emf, lines=lines)
    return figure


def _in_numbers(emf: Emf, volts: Floats, speed_rpm: float, *, lines: bool) -> str:
    rms, peak = float(emf.rms[0]) * speed_rpm * RPM, float(np.max(np.abs(volts[0])))
    text = f"Each phase: {plain(rms, 'V')} rms, {plain(peak, 'V')} peak"
    return f"{text}; between two lines: {plain(emf.line_rms * speed_rpm * RPM, 'V')} rms" if lines else text


def _says(emf: Emf, volts: Floats, speed_rpm: float) -> str:
    phases = "one phase" if len(volts) == 1 else f"{len(volts)} phases"
    return f"Open-circuit voltage of {phases} over one electrical period at {plain(speed_rpm, 'rpm')}. " + _in_numbers(
        emf, volts, speed_rpm, lines=False
    )


def _draw_waves(axes: Axes, emf: Emf, volts: Floats, *, lines: bool) -> None:
    period = 2 * math.pi / emf.pole_pairs / DEGREE
    angle = np.append(emf.rotor_angle_rad / DEGREE, period)
    for number, wave in enumerate(volts):
        colour, dashes = PHASE_COLOURS[number], PHASE_DASHES[number]
        _draw_wave(axes, angle, wave, f"phase {number + 1}", {"color": colour, "linestyle": dashes, "linewidth": 2.6})
    between = volts[0] - volts[1] if lines else volts[0]
    if lines:
        _draw_wave(axes, angle, between, "line 1 to 2", {"color": LINE_COLOUR, "linestyle": LINE_DASHES, "zorder": 1})
    axes.axhline(0, color=FAINT, linewidth=1, zorder=0)
    top = 1.18 * max(float(np.max(np.abs(volts))), float(np.max(np.abs(between)))) or 1.0
    ticks = np.linspace(0, period, 7)
    axes.set(
        xlim=(0, period), ylim=(-top, top), xlabel="rotor angle, degrees, over one electrical period", ylabel="volts"
    )
    axes.set_xticks(ticks, [plain(tick) for tick in ticks])


def _draw_wave(axes: Axes, angle: Floats, wave: Floats, name: str, line: dict[str, Any]) -> None:
    """Draw a closed period and write its name over its highest point, where no other curve runs."""
    closed = np.append(wave, wave[0])
    axes.plot(angle, closed, gid=name.replace(" ", "-"), **line)
    top = int(np.argmax(closed))
    side = "left" if top < 0.08 * len(closed) else "right" if top > 0.92 * len(closed) else "center"
    place: dict[str, Any] = {
        "xytext": (0, 7),
        "textcoords": "offset points",
        "ha": side,
        "va": "bottom",
        "bbox": CLEARING,
    }
    axes.annotate(name, (angle[top], closed[top]), color=line["color"], weight="bold", **place)


def _draw_harmonics(axes: Axes, emf: Emf, *, lines: bool) -> None:
    shown = (emf.orders > 1) & (emf.orders <= HIGHEST_SHOWN)
    orders, percent = emf.orders[shown], _percent(emf)[shown]
    cancels = lines & (orders % 3 == 0)
    rows = np.arange(len(orders))
    bars = axes.barh(rows, percent, color=PHASE_COLOURS[0], height=0.62)
    for bar, third in zip(bars, cancels, strict=True):
        if third:
            bar.set(facecolor="none", edgecolor=PHASE_COLOURS[0], hatch="////", linewidth=1.2)
    for row, value in zip(rows, percent, strict=True):
        axes.annotate(_few(value), (value, row), (5, 0), textcoords="offset points", va="center", color=INK)
    axes.set_yticks(rows, [f"{order}th" if order > 3 else "3rd" for order in orders])
    axes.set(xlim=(0, 1.3 * max(1.0, float(np.max(percent, initial=0)))), xticks=[], ylim=(len(rows) - 0.4, -0.6))
    axes.spines["bottom"].set_visible(False)
    axes.tick_params(length=0, labelcolor=INK)
    if np.any(cancels):
        note = "hatched: cancels between\nthe lines of a star"
        axes.text(-0.2, -0.02, note, transform=axes.transAxes, va="top", color=QUIET)


def _few(percent: float) -> str:
    return f"{percent:.1f} %" if percent >= 0.05 else "under 0.1 %"


def _percent(emf: Emf) -> Floats:
    """Harmonics of phase 1 in per cent of its fundamental; zero where there is none to compare with."""
    size = np.abs(emf.amplitudes[0])
    first = float(np.sum(size[emf.orders == 1]))
    return np.asarray(100 * size / first) if first > 0 else np.zeros_like(size)
