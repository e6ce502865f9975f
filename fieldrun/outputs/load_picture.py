"""A generator at work: voltages, currents and torque over one electrical period, and where the shaft's watts go."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fieldrun.design.arrays import Floats
from fieldrun.design.model import Load
from fieldrun.design.units import DEGREE, RPM
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.load.load_waves import LoadWaves, load_waves
from fieldrun.generator.losses import Circuit
from fieldrun.generator.result import RunResult
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET
from fieldrun.outputs.load_told import torque_text
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import PHASE_DASHES, in_house_style, new_figure

SWEPT = 30
"""Speeds from a little before the first current to the highest asked one."""

BEFORE = 0.9
"""Share of the speed of the first current at which the watts' picture begins."""

SHARES = (
    ("dc_power_w", "the load", PHASE_COLOURS[0], ""),
    ("copper_w", "copper", PHASE_COLOURS[1], "////"),
    ("diode_w", "diodes", PHASE_COLOURS[2], "...."),
    ("cable_w", "cable", "#B7BAB7", "\\\\\\\\"),
    ("idle_w", "eddy currents", "#6C5B7B", "xxxx"),
)
"""Where the shaft's watts go, from the bottom of the stack: part of a `Delivery`, name, colour, hatch."""

LITTLE = 0.004
"""Share of the whole at the top below which a part is too thin to be seen, which is said beside its name."""

DC_COLOUR, LINE_COLOUR = INK, "#737E83"


def works(result: RunResult) -> bool:
    """Whether the load gets power at one of the asked speeds, so that there is something to draw."""
    return result.delivery is not None and bool(np.max(result.delivery.dc_power_w, initial=0.0) > 0)


@in_house_style
def load_picture(result: RunResult) -> Figure:
    """Draw a design's load at its highest asked speed, and its watts up to there.

    Parameters
    ----------
    result : of a design whose load gets power there (see `works`)

    Raises
    ------
    ValueError
        If there is nothing to draw.
    """
    load, delivery = result.design.load, result.delivery
    if load is None or delivery is None or not works(result):
        raise ValueError("the load gets no power at the asked speeds")
    top = int(np.argmax(delivery.speed_rad_s))
    speed, idle = float(delivery.speed_rad_s[top]), float(delivery.idle_w[top])
    circuit = Circuit(result.emf, result.impedance, result.inductance)
    waves = load_waves(circuit, result.design.winding, load, speed, idle)
    swept = swept_speeds(result, load)
    figure = new_figure(13.5, 8.6, _says(result, delivery, top))
    rpm = plain(speed / RPM, "rpm")
    figure.text(0.015, 0.955, f"One electrical period at {rpm}", size="x-large", weight="bold")
    figure.text(0.015, 0.915, "no cogging: the torque swings with the current alone", color=QUIET)
    figure.text(0.58, 0.955, "Where the shaft's watts go", size="x-large", weight="bold")
    figure.text(0.58, 0.915, _in_numbers(delivery, top), color=QUIET)
    panels = [figure.add_axes((0.075, bottom, 0.43, 0.185)) for bottom in (0.665, 0.38, 0.095)]
    _draw_period(panels, waves, result)
    stack = figure.add_axes((0.63, 0.42, 0.35, 0.45))
    _draw_watts(stack, swept)
    _draw_efficiency(figure.add_axes((0.63, 0.095, 0.35, 0.2), sharex=stack), swept, delivery)
    return figure


def swept_speeds(result: RunResult, load: Load) -> Delivery:
    """What the load gets from a little before the first current up to the highest asked speed."""
    delivery = result.delivery
    top = float(np.max(delivery.speed_rad_s)) if delivery is not None else 0.0
    start = result.charging_starts_rad_s or 0.0
    above = start + (top - start) * np.linspace(0, 1, SWEPT) ** 2  # close together where the current begins
    speeds = above[1:] if start == 0 else np.append(BEFORE * start, above)
    winding = result.design.winding
    return deliver(result.emf, result.impedance, result.inductance, result.losses, winding, load, speeds)


def _in_numbers(delivery: Delivery, top: int) -> str:
    point = delivery.points[top]
    shaft = point.torque_nm * point.speed_rad_s
    return (
        f"at {plain(point.speed_rad_s / RPM, 'rpm')} {plain(point.dc_power_w, 'W')} of {plain(shaft, 'W')} arrive, "
        f"{100 * point.efficiency:.0f} %"
    )


def _says(result: RunResult, delivery: Delivery, top: int) -> str:
    phases = result.design.winding.phases
    each = "one phase" if phases == 1 else f"{phases} phases"
    point = delivery.points[top]
    return (
        f"Voltages and currents of {each} and the shaft's torque over one electrical period: "
        f"{torque_text(phases, point)}. Beside it the shaft's watts by speed: {_in_numbers(delivery, top)}."
    )


def _draw_period(panels: list[Axes], waves: LoadWaves, result: RunResult) -> None:
    degrees = waves.angle_rad / DEGREE
    volts, amps, torque = panels
    for phase, wave in enumerate(waves.emf_v.T):
        volts.plot(degrees, wave, gid=f"emf-{phase + 1}", linewidth=1.6, **_line(phase))
    _name_tops(volts, degrees, waves.emf_v)
    volts.set(ylabel="volts", title=_volts_title(waves))
    _draw_currents(amps, degrees, waves, result)
    torque.plot(degrees, waves.torque_nm, color=INK, linewidth=2.2, gid="torque")
    torque.axhline(float(_top(result).torque_nm), color=QUIET, linewidth=1.2, linestyle=(0, (3, 2)), zorder=0)
    torque.set(ylabel="N m", ylim=(0, 1.15 * float(np.max(waves.torque_nm))), title=_torque_title(result))
    torque.set_xlabel("electrical degrees (360: two poles pass); mean torque dashed")
    for axes in panels:
        axes.axhline(0, color=FAINT, linewidth=1, zorder=0)
        axes.set(xlim=(0, 360), xticks=range(0, 361, 60))
    for axes in (volts, amps):
        axes.tick_params(labelbottom=False)


def _line(phase: int) -> dict[str, Any]:
    return {"color": PHASE_COLOURS[phase], "linestyle": PHASE_DASHES[phase]}


def _volts_title(waves: LoadWaves) -> str:
    return f"Each phase makes up to {plain(float(np.max(waves.emf_v)), 'V')}"


def _torque_title(result: RunResult) -> str:
    point = _top(result)
    mean, ripple = float(point.torque_nm), float(point.torque_ripple)
    if result.design.winding.phases > 1:
        return f"Torque swings by {plain(100 * ripple, '%')} round {plain(mean, 'N m')}"
    return f"Torque of one phase pulses up to {plain(ripple, 'times')} its mean"


def _name_tops(axes: Axes, degrees: Floats, waves: Floats) -> None:
    """Number each phase at its highest point."""
    if waves.shape[1] == 1:
        return
    for phase, wave in enumerate(waves.T):
        top = int(np.argmax(wave))
        place: dict[str, Any] = {"xytext": (0, 2), "textcoords": "offset points", "ha": "center", "va": "bottom"}
        axes.annotate(str(phase + 1), (degrees[top], wave[top]), color=PHASE_COLOURS[phase], weight="bold", **place)
    largest = float(np.max(np.abs(waves)))
    axes.set_ylim(-1.12 * largest, 1.3 * largest)


def _draw_currents(axes: Axes, degrees: Floats, waves: LoadWaves, result: RunResult) -> None:
    """Draw phases, the first line where it carries another current than a phase, and what the load gets."""
    for phase, wave in enumerate(waves.phase_a.T):
        axes.plot(degrees, wave, gid=f"phase-current-{phase + 1}", linewidth=1.6, **_line(phase))
    handles = []
    if waves.line_a.shape != waves.phase_a.shape or not np.allclose(waves.line_a, waves.phase_a):
        style: dict[str, Any] = {"color": LINE_COLOUR, "linestyle": (0, (8, 2, 1.5, 2)), "linewidth": 1.6}
        handles += axes.plot(degrees, waves.line_a[:, 0], gid="line-current-1", label="line 1", **style)
    title = f"Each phase carries {plain(float(_top(result).phase_rms_a), 'A')} effective"
    if np.any(waves.dc_a > 0):
        handles += axes.plot(degrees, waves.dc_a, color=DC_COLOUR, linewidth=2.6, gid="dc-current", label="direct")
        how = "Current in pulses" if waves.phase_a.shape[1] == 1 else "Phases share it"
        title = f"{how}: the load gets {plain(float(_top(result).dc_current_a), 'A')} on average"
    largest = max(float(np.max(np.abs(waves.phase_a))), float(np.max(waves.dc_a)), float(np.max(np.abs(waves.line_a))))
    axes.set(ylabel="amperes", ylim=(-1.15 * largest, 1.45 * largest), title=title)
    if handles:
        axes.legend(loc="upper right", frameon=False, ncols=2, fontsize="small", borderaxespad=0.1)


def _top(result: RunResult) -> Any:
    points = result.delivery.points if result.delivery is not None else ()
    return max(points, key=lambda point: point.speed_rad_s)


def _draw_watts(axes: Axes, swept: Delivery) -> None:
    rpm, below = swept.speed_rad_s / RPM, np.zeros(len(swept.speed_rad_s))
    total = float(np.max(swept.shaft_power_w))
    for key, name, colour, hatch in SHARES:
        part = getattr(swept, key)
        if float(np.max(part)) <= 0:
            continue
        above = below + part
        light = 0.85 if key == "dc_power_w" else 0.55
        axes.fill_between(
            rpm, below, above, facecolor=colour, alpha=light, hatch=hatch, edgecolor=PAPER, linewidth=0.0, gid=name
        )
        label = name if float(part[-1]) > LITTLE * total else f"{name} (under {plain(100 * LITTLE, '%')})"
        axes.fill_between([], [], [], facecolor=colour, alpha=light, hatch=hatch, edgecolor=PAPER, label=label)
        below = above
    handles, labels = axes.get_legend_handles_labels()
    axes.legend(handles[::-1], labels[::-1], loc="upper left", frameon=False)
    axes.set(xlim=(rpm[0], rpm[-1]), ylim=(0, 1.02 * total), ylabel="watts at the shaft")
    axes.tick_params(labelbottom=False)


def _draw_efficiency(axes: Axes, swept: Delivery, delivery: Delivery) -> None:
    rpm, percent = swept.speed_rad_s / RPM, 100 * swept.efficiency
    axes.plot(rpm, percent, color=PHASE_COLOURS[0], linewidth=2.4, gid="efficiency")
    asked, found = delivery.speed_rad_s / RPM, 100 * delivery.efficiency
    seen = (asked >= rpm[0]) & (asked <= rpm[-1])
    axes.plot(asked[seen], found[seen], "o", color=PHASE_COLOURS[0], clip_on=False, gid="asked-speeds")
    axes.set(ylim=(0, 100), xlabel="generator, rpm (dots: speeds asked about)", ylabel="arrives, %")
    axes.set_title(_efficiency_title(rpm, percent))


def _efficiency_title(rpm: Floats, percent: Floats) -> str:
    """Where most arrives, if it is somewhere on the way; else what arrives at the top."""
    best = int(np.argmax(percent))
    if 0 < best < len(rpm) - 1 and percent[best] > percent[-1] + 1:
        return f"Most arrives at {plain(float(rpm[best]), 'rpm')}: {percent[best]:.0f} %"
    return f"At {plain(float(rpm[-1]), 'rpm')} {percent[-1]:.0f} % arrive"
