"""Steps over half an electrical period: wide ones, and narrow ones where diodes switch, speed by speed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints

Flags = NDArray[np.bool_]

GAMMA = float(1 - np.sqrt(0.5))
"""Implicit share of each of the two stages of a smooth step."""

SMOOTH, NARROW, ROUGH = 0, 1, 2
"""Kinds of step. Smooth: wide, two implicit stages of order two (Alexander, SIAM J. Numer. Anal. 14 (1977) 1006, from
memory), exact enough while nothing switches, but apt to magnify a difference where something does. Narrow and rough:
two steps of implicit Euler, which never magnify a difference and err by their width where a diode switches: narrow ones
for the answer, rough wide ones to find out where diodes switch."""

PARTS = 16
"""Narrow steps in a wide one."""

WIDTHS = np.array([1.0, 1 / PARTS, 1.0])
STAGES = np.array([[GAMMA, 1.0], [0.5, 1.0], [0.5, 1.0]])
WEIGHTS = np.array([[1 - GAMMA, GAMMA], [0.5, 0.5], [0.5, 0.5]])
IMPLICIT = np.array([GAMMA, 0.5, 0.5])
CARRY = np.array([(1 - GAMMA) / GAMMA, 1.0, 1.0])
"""By kind: width in wide steps; places of the two stages in a step; their weights in a mean; the implicit share of each
stage; how far the second stage begins along the way from the step's start to its first stage."""


@dataclass(frozen=True, eq=False)
class Grid:
    """n steps of s speeds, u = 2 n stages.

    Parameters
    ----------
    wide : wide steps in half a period
    origin : (n, s) wide step that each step is, or is a part of
    part : (n, s) which part of it, 0 for a whole one
    kind : (n, s) SMOOTH, NARROW or ROUGH
    """

    wide: int
    origin: Ints
    part: Ints
    kind: Ints

    @property
    def angle_rad(self) -> Floats:
        """Electrical angles of the stages, (u, s)."""
        start = self.origin + self.part / PARTS
        inside = np.moveaxis(STAGES[self.kind], -1, 1) * WIDTHS[self.kind][:, None]
        return np.asarray((start[:, None] + inside).reshape(-1, start.shape[1]) * np.pi / self.wide)

    @property
    def weight(self) -> Floats:
        """Weights of the stages in a mean over half a period, (u, s)."""
        weights = np.moveaxis(WEIGHTS[self.kind], -1, 1) * WIDTHS[self.kind][:, None] / self.wide
        return np.asarray(weights.reshape(-1, self.kind.shape[1]))


def rough_grid(wide: int, speeds: int) -> Grid:
    """All steps wide and rough."""
    origin = np.repeat(np.arange(wide)[:, None], speeds, axis=1)
    return Grid(wide, origin, np.zeros_like(origin), np.full_like(origin, ROUGH))


def divided_grid(wide: int, switching: Flags) -> Grid:
    """Smooth steps, but those in which a diode switches divided into narrow ones, as many for every speed.

    Speeds with fewer of them have their neighbours divided too, where switching may move to.

    Parameters
    ----------
    wide : wide steps in half a period
    switching : (wide, s)
    """
    count = int(np.max(switching.sum(axis=0)))
    count = min(wide, count + 2) if count else 0
    beside = np.roll(switching, 1, axis=0) | np.roll(switching, -1, axis=0)
    order = np.argsort(-2 * switching.astype(np.int64) - beside, axis=0, kind="stable")
    divided = np.zeros_like(switching)
    np.put_along_axis(divided, order[:count], values=True, axis=0)
    columns = [_column(flags) for flags in divided.T]
    return Grid(wide, *(np.stack(rows, axis=1) for rows in zip(*columns, strict=True)))


def _column(divided: Flags) -> tuple[Ints, Ints, Ints]:
    """Origin, part and kind of one speed's steps."""
    origin = np.repeat(np.arange(len(divided)), np.where(divided, PARTS, 1))
    part = np.arange(len(origin)) - np.searchsorted(origin, origin)
    return origin, part, np.where(divided[origin], NARROW, SMOOTH)


def wide_steps(grid: Grid, steps: Flags) -> Flags:
    """Which wide steps hold any of the flagged steps (n, s), as (wide, s)."""
    flagged = np.zeros((grid.wide, steps.shape[1]), dtype=bool)
    step, speed = np.nonzero(steps)
    flagged[grid.origin[step, speed], speed] = True
    return flagged
