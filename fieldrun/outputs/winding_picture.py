"""The winding to scale over the magnets, and where along its wire a phase makes its volts."""

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Wedge

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.model import Magnets
from fieldrun.design.units import MM, RPM
from fieldrun.outputs.colours import FAINT, INK, PAPER, PHASE_COLOURS, QUIET
from fieldrun.outputs.magnet_bodies import reach_mm
from fieldrun.outputs.magnet_shapes import Letters, draw_magnets, outline_magnets
from fieldrun.outputs.sentences import plain
from fieldrun.outputs.style import BASE_SIZE, PHASE_DASHES, PHASE_MARKERS, in_house_style, new_figure, nice_length
from fieldrun.outputs.wire_lines import phase_pieces, phase_start, wire_path, within
from fieldrun.outputs.wire_work import Window, WireWork, portions, work_lines
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import selected

FULL_SECTOR = 0.999 * math.pi
"""Half angle from which two poles are the whole disc, and no sector needs marking."""


def middles(count: int) -> Floats:
    """(count,) fractions [1], middles of equal parts of a piece: where `winding_picture` wants its contributions."""
    return (np.arange(count) + 0.5) / count


@dataclass(frozen=True)
class Scene:
    """Radii the drawing must hold [mm], the sector of two poles and the turn that brings it to the top [rad]."""

    inner_mm: float
    outer_mm: float
    turn_rad: float
    sector_rad: float


@in_house_style
def winding_picture(pieces: Pieces, magnets: Magnets, share: Floats, speed_rpm: float, phase: int = 0) -> Figure:
    """Draw the whole machine with its phases, and two poles with one phase's wire coloured by what it contributes.

    Parameters
    ----------
    pieces : the winding
    magnets : the face under it
    share : (m, q) what each q-th part of each piece gives to its own phase [V s/rad per m of wire], at its middle
        (`middles`); negative: against the rest of the phase
    speed_rpm : speed at which volts are shown
    phase : 0-based phase to colour
    """
    scene = _scene(pieces, magnets)
    work = WireWork(pieces, share * speed_rpm * RPM, phase)  # V per m is mV per mm
    verdict = _verdict(work)
    said = verdict.replace("its wire", f"phase {phase + 1}'s wire")
    figure = new_figure(13.0, 7.2, f"The winding to scale over {magnets.count} magnet poles. {said}.")
    _write_titles(figure, (0.015, "The winding over the magnets", _seen(magnets)))
    closer_title = f"Where phase {phase + 1} makes its volts, at {plain(speed_rpm, 'rpm')}"
    _write_titles(figure, (0.475, closer_title, verdict))
    _draw_machine(figure.add_axes((0.0, 0.0, 0.46, 0.88)), pieces, magnets, scene)
    closer = figure.add_axes((0.475, 0.19, 0.515, 0.66))
    wire = _draw_two_poles(closer, work, magnets, scene)
    _draw_key(figure, wire, work.best)
    return figure


def _seen(magnets: Magnets) -> str:
    lying = "; arrows: lying magnets" if magnets.pattern == "halbach" else ""
    return f"{magnets.count} poles seen from above, to scale{lying}"


def _write_titles(figure: Figure, column: tuple[float, str, str]) -> None:
    left, title, below = column
    figure.text(left, 0.945, title, size="x-large", weight="bold")
    figure.text(left, 0.9, below, color=QUIET)


def _scene(pieces: Pieces, magnets: Magnets) -> Scene:
    radii = np.concatenate([pieces.start[:, 0], pieces.end[:, 0]]) / MM
    inner, outer = reach_mm(magnets.outline)
    pitch = math.pi / magnets.pole_pairs
    # the pole pair nearest to the top, then turned the rest of the way
    pair = round((math.pi / 2 - pitch / 2) / (2 * pitch))
    turn = math.pi / 2 - (pair * 2 * pitch + pitch / 2)
    return Scene(min(inner, float(radii.min())), max(outer, float(radii.max())), turn, min(pitch, math.pi))


def _verdict(work: WireWork) -> str:
    works, against = (round(100 * part) for part in portions(work))
    return f"{works} % of its wire works, {100 - works - against} % idles, {against} % works against the rest"


def _draw_machine(axes: Axes, pieces: Pieces, magnets: Magnets, scene: Scene) -> None:
    letters = scene.outer_mm * 1.07
    draw_magnets(axes, magnets, scene.turn_rad, Letters(letters, min(15.0, 420 / magnets.count)))
    outline_magnets(axes, magnets, scene.turn_rad)
    for number in range(_phases(pieces)):
        path = wire_path(phase_pieces(pieces, number), scene.turn_rad)
        line: dict[str, Any] = {"edgecolor": PHASE_COLOURS[number], "linestyle": PHASE_DASHES[number], "linewidth": 0.7}
        axes.add_patch(PathPatch(path, fill=False, zorder=3, gid=f"phase-{number + 1}", **line))
        _mark_start(axes, pieces, number, scene)
    if scene.sector_rad < FULL_SECTOR:
        sector = _sector(Window(scene.inner_mm * 0.94, letters * 1.06, scene.sector_rad))
        sector.set(fill=False, edgecolor=INK, linewidth=1.2, zorder=6)
        axes.add_patch(sector)
    reach = letters * 1.08
    axes.set(xlim=(-reach, reach), ylim=(-reach * 1.1, reach), aspect="equal")
    axes.axis("off")
    _scale_bar(axes, -0.97 * reach, -1.06 * reach, 2 * reach)
    _name_phases(axes, pieces, scene.inner_mm / reach)


def _phases(pieces: Pieces) -> int:
    return int(pieces.phase.max()) + 1


def _name_phases(axes: Axes, pieces: Pieces, hole: float) -> None:
    """Write the key into the hole of the ring, smaller where the hole takes less of the drawing."""
    handles = [
        Line2D([], [], color=PHASE_COLOURS[k], linestyle=PHASE_DASHES[k], linewidth=2.5, label=f"phase {k + 1}")
        for k in range(_phases(pieces))
    ]
    starts = Line2D([], [], linestyle="none", marker="o", markersize=12, color=QUIET, label="where it starts")
    size = BASE_SIZE * min(1.0, max(0.7, hole / 0.47))
    axes.legend(handles=[*handles, starts], loc="center", edgecolor="none", handlelength=3.4, fontsize=size)


def _mark_start(axes: Axes, pieces: Pieces, phase: int, scene: Scene) -> None:
    x, y = phase_start(pieces, phase, scene.turn_rad)
    pointed = PHASE_MARKERS[phase] == "^"  # its middle holds less
    size, drop = (20, -2) if pointed else (15, 0)
    dot: dict[str, Any] = {"marker": PHASE_MARKERS[phase], "markersize": size, "color": PHASE_COLOURS[phase]}
    axes.plot([x], [y], zorder=7, markeredgecolor=PAPER, **dot)
    middle: dict[str, Any] = {"ha": "center", "va": "center", "xytext": (0, drop), "textcoords": "offset points"}
    axes.annotate(str(phase + 1), (x, y), color=PAPER, size=9, weight="bold", zorder=8, **middle)


def _draw_two_poles(axes: Axes, work: WireWork, magnets: Magnets, scene: Scene) -> LineCollection:
    letters = scene.outer_mm * 1.08
    draw_magnets(axes, magnets, scene.turn_rad, Letters(letters, 17, 0.95 * scene.sector_rad))
    for number in range(_phases(work.pieces)):
        if number != work.phase:
            path = wire_path(selected(work.pieces, _near(work.pieces, number, scene)), scene.turn_rad)
            line: dict[str, Any] = {"edgecolor": QUIET, "linestyle": PHASE_DASHES[number], "linewidth": 0.5}
            axes.add_patch(PathPatch(path, fill=False, zorder=3, alpha=0.55, **line))
    window = Window(scene.inner_mm * 0.96, letters * 1.05, scene.sector_rad)
    lines = work_lines(work, _near(work.pieces, work.phase, scene), scene.turn_rad, window)
    for drawn in lines.cut:
        axes.add_collection(drawn)
    _frame_sector(axes, window)
    for drawn in (lines.wire, lines.hollow):
        axes.add_collection(drawn)
    return lines.wire


def _near(pieces: Pieces, phase: int, scene: Scene) -> Ints:
    return within(pieces, phase, math.pi / 2 - scene.turn_rad, scene.sector_rad)


def _sector(window: Window) -> Wedge:
    low, high, half = window.low_mm, window.high_mm, math.degrees(window.half_rad)
    return Wedge((0, 0), high, 90 - half, 90 + half, width=high - low)


def _frame_sector(axes: Axes, window: Window) -> None:
    """Cut everything off that is drawn so far at the window's edge, and fit the axes to it."""
    low, high, half = window.low_mm, window.high_mm, window.half_rad
    frame = _sector(window)
    frame.set(fill=False, edgecolor=FAINT)
    axes.add_patch(frame)
    for artist in (*axes.collections, *axes.patches[:-1]):
        artist.set_clip_path(frame)
    side = high * math.sin(min(half, math.pi / 2))
    bottom = math.cos(half) * (low if half < math.pi / 2 else high)
    tall = high - bottom
    axes.set(xlim=(-1.01 * side, 1.01 * side), ylim=(bottom - 0.14 * tall, high * 1.005), aspect="equal")
    axes.axis("off")
    _scale_bar(axes, -side, bottom - 0.09 * tall, side)


def _draw_key(figure: Figure, wire: LineCollection, best: float) -> None:
    most = plain(best, "mV/mm")
    bar = figure.colorbar(wire, cax=figure.add_axes((0.5, 0.125, 0.465, 0.028)), orientation="horizontal")
    bar.set_ticks(
        [-best, 0, best], labels=[f"-{most}\nworks against (pale core)", "0\nidles", f"{most} of wire\nworks"]
    )
    bar.ax.tick_params(length=0, labelcolor=INK)
    sides: tuple[Literal["left", "center", "right"], ...] = ("left", "center", "right")
    for label, side in zip(bar.ax.get_xticklabels(), sides, strict=True):
        label.set_horizontalalignment(side)
    bar.outline.set_visible(False)


def _scale_bar(axes: Axes, left: float, height: float, width: float) -> None:
    length = nice_length(width / 4)
    axes.plot([left, left + length], [height, height], color=INK, linewidth=3, solid_capstyle="butt")
    axes.annotate(plain(length, "mm"), (left + length, height), (6, 0), textcoords="offset points", va="center")
