"""Steps over half an electrical period: wide ones, and narrow ones where diodes switch, speed by speed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints

Flags = NDArray[np.bool_]

GAMMA = float(1 - np.sqrt(0.5))
"""Share of a step that is implicit in each of its two stages: order two, and no ringing where a diode opens."""

STAGES = np.array([GAMMA, 1.0])
"""Places of the two stages within a step."""

WEIGHTS = np.array([1 - GAMMA, GAMMA])
"""Their weights in a mean."""

NARROW = 16
"""Narrow steps in a wide one. Where a diode switches a step is right to first order only, and so must be short."""


@dataclass(frozen=True, eq=False)
class Grid:
    """n steps of s speeds, u = 2 n stages.

    Parameters
    ----------
    wide : wide steps in half a period
    origin : (n, s) wide step that each step is, or is a part of
    part : (n, s) number of the part, -1 for a whole wide step
    """

    wide: int
    origin: Ints
    part: Ints

    @property
    def narrow(self) -> Flags:
        """Which steps are narrow, (n, s)."""
        return np.asarray(self.part >= 0)

    @property
    def widths_rad(self) -> Floats:
        """Electrical angle of a wide and of a narrow step, (2,)."""
        return np.pi / self.wide * np.array([1.0, 1 / NARROW])

    @property
    def angle_rad(self) -> Floats:
        """Electrical angles of the stages, (u, s)."""
        wide, narrow = self.widths_rad
        start = self.origin * wide + np.maximum(self.part, 0) * narrow
        angles = start[:, None] + STAGES[:, None] * np.where(self.narrow, narrow, wide)[:, None]
        return np.asarray(angles.reshape(-1, start.shape[1]))

    @property
    def weight(self) -> Floats:
        """Weights of the stages in a mean over half a period, (u, s)."""
        wide, narrow = self.widths_rad / np.pi
        weights = WEIGHTS[:, None] * np.where(self.narrow, narrow, wide)[:, None]
        return np.asarray(weights.reshape(-1, self.part.shape[1]))


def even_grid(wide: int, speeds: int) -> Grid:
    """All steps wide."""
    origin = np.repeat(np.arange(wide)[:, None], speeds, axis=1)
    return Grid(wide, origin, np.full(origin.shape, -1))


def divided_grid(wide: int, switching: Flags) -> Grid:
    """Wide steps in which a diode switches divided into narrow ones, as many for every speed.

    Speeds with fewer of them have their neighbours divided too, where switching may move to.

    Parameters
    ----------
    wide : wide steps in half a period
    switching : (wide, s)
    """
    beside = np.roll(switching, 1, axis=0) | np.roll(switching, -1, axis=0)
    order = np.argsort(-2 * switching.astype(np.int64) - beside, axis=0, kind="stable")
    count = min(wide, int(np.max(switching.sum(axis=0))) + 2)
    divided = np.zeros_like(switching)
    np.put_along_axis(divided, order[:count], values=True, axis=0)
    columns = [_column(flags) for flags in divided.T]
    return Grid(wide, *(np.stack(rows, axis=1) for rows in zip(*columns, strict=True)))


def _column(divided: Flags) -> tuple[Ints, Ints]:
    """Origin and part of one speed's steps."""
    origin = np.repeat(np.arange(len(divided)), np.where(divided, NARROW, 1))
    first = np.searchsorted(origin, origin)
    return origin, np.where(divided[origin], np.arange(len(origin)) - first, -1)


def wide_steps(grid: Grid, steps: Flags) -> Flags:
    """Which wide steps hold any of the flagged steps (n, s), as (wide, s)."""
    flagged = np.zeros((grid.wide, steps.shape[1]), dtype=bool)
    step, speed = np.nonzero(steps)
    flagged[grid.origin[step, speed], speed] = True
    return flagged
