"""A winding's shape, small: one round of it over a few poles, as a sign to know it by."""

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from fieldrun.design.arrays import Ints
from fieldrun.design.units import MM
from fieldrun.outputs.colours import INK
from fieldrun.outputs.magnet_bodies import reach_mm
from fieldrun.outputs.magnet_shapes import Letters, draw_magnets
from fieldrun.outputs.wire_lines import wire_path
from fieldrun.studies.wound import Wound
from fieldrun.winding.factors import at_ends
from fieldrun.winding.sampling import selected

POLES = 4.0
"""Poles that a drawing reaches over, a third of the ring at most."""


THICK, THIN = 1.5, 0.4
"""Width of a single round's line, and of the many that a path may have [pt]."""


def draw_shape(axes: Axes, row: Wound) -> None:
    """Draw one round of each belt of the first phase over the magnets, the second belt dashed; a path's whole phase."""
    magnets = row.design.magnets
    pitch = math.pi / magnets.pole_pairs
    turn = math.pi / 2 - _middle_rad(row)
    draw_magnets(axes, magnets, turn, Letters(0.0, 1.0, within_rad=0.0))
    width = THIN if row.candidate.winding.shape == "path" else THICK
    for belt, dashes in zip(rounds_shown(row), ("solid", (0, (2.5, 1.5))), strict=False):
        path = wire_path(selected(row.lay.pieces, belt), turn)
        axes.add_patch(PathPatch(path, fill=False, edgecolor=INK, linewidth=width, linestyle=dashes, zorder=3))
    _frame(axes, row, min(POLES / 2 * pitch, math.pi / 3))


def rounds_shown(row: Wound) -> list[Ints]:
    """Numbers (k,) of the pieces of the middle round of each belt of phase 1; of all of a path's phase 1."""
    pieces, winding, count = row.lay.pieces, row.candidate.winding, row.lay.rounds_per_group
    if winding.shape == "path":
        return [np.flatnonzero(pieces.phase == 0)]
    per_round = pieces.count // (winding.phases * winding.belts * winding.layers * count)
    starts = [per_round * (belt * winding.layers * count + count // 2) for belt in range(winding.belts)]
    return [np.arange(start, start + per_round) for start in starts]


def _middle_rad(row: Wound) -> float:
    """Angle that the drawing is centred on: between the sides of the round's first turn."""
    shown = rounds_shown(row)[0]
    turn = selected(row.lay.pieces, shown[: max(1, len(shown) // row.lay.pole_pairs)])
    sides = turn if np.all(at_ends(turn)) else selected(turn, np.flatnonzero(~at_ends(turn)))
    return float(np.mean(sides.start[:, 1] + sides.end[:, 1])) / 2


def _frame(axes: Axes, row: Wound, half_rad: float) -> None:
    radii = np.concatenate([row.lay.pieces.start[:, 0], row.lay.pieces.end[:, 0]]) / MM
    inner, outer = reach_mm(row.design.magnets.outline)
    low, high = min(inner, float(radii.min())), max(outer, float(radii.max()))
    side = (low + high) / 2 * math.sin(half_rad)
    edge = 0.03 * (high - low)
    axes.set(xlim=(-side, side), ylim=(low * math.cos(half_rad) - edge, high + edge), aspect="equal")
    axes.axis("off")
