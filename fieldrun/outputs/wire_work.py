"""What each bit of a phase's wire contributes, as coloured lines and as parts of its length."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize
from numpy.typing import NDArray

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.outputs.colours import PAPER
from fieldrun.outputs.style import WORKS
from fieldrun.outputs.wire_lines import phase_pieces, plan_points
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import selected

IDLE = 0.1
"""Wire that gives less than this part of the best wire's volts, either way, is called idle."""

EDGE = 0.01
"""Share of a window's radius within which a line counts as reaching over its edge: more than half the widest line."""


@dataclass(frozen=True, eq=False)
class WireWork:
    """A winding, the phase looked at, and what each equal part of each piece gives to its own phase.

    Parameters
    ----------
    pieces : m pieces
    millivolts : (m, q) [mV per mm of wire]; negative: against the rest of the phase
    phase : 0-based phase
    """

    pieces: Pieces
    millivolts: Floats
    phase: int

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "millivolts", frozen_array(self.millivolts))

    @property
    def own(self) -> Floats:
        """What the phase's own pieces give, (own pieces, q) [mV/mm]."""
        return np.asarray(self.millivolts[self.pieces.phase == self.phase])

    @property
    def cuts(self) -> Floats:
        """Fractions of a piece where its parts begin and end, (q + 1,) [1]."""
        return np.linspace(0, 1, self.millivolts.shape[1] + 1)

    @property
    def best(self) -> float:
        """Largest contribution of the phase, either way; 1 if there is none, so that a scale exists."""
        return float(np.max(np.abs(self.own), initial=0.0)) or 1.0


def portions(work: WireWork) -> tuple[float, float]:
    """Parts of the phase's wire, by length, that work and that work against the rest; what is left idles."""
    ends = plan_points(phase_pieces(work.pieces, work.phase), work.cuts, 0.0)
    length = np.linalg.norm(np.diff(ends, axis=1), axis=2)
    working, against = (float(np.sum(length[side * work.own > IDLE * work.best])) for side in (1, -1))
    total = float(np.sum(length))
    return working / total, against / total


@dataclass(frozen=True)
class Window:
    """The sector of a ring about the top that a drawing shows: its radii [mm] and half its angle [rad]."""

    low_mm: float
    high_mm: float
    half_rad: float


@dataclass(frozen=True)
class WorkLines:
    """Lines of some pieces, and the light core of those that work against the rest.

    `wire` and `hollow` lie clear of the window's edge, `cut` reach over it and are to be cut off there; what lies
    beyond is left out. An SVG names the edge at every line that is to be cut, which takes longer than to draw it.
    """

    wire: LineCollection
    hollow: LineCollection
    cut: tuple[LineCollection, LineCollection]


def work_lines(work: WireWork, chosen: Ints, turn_rad: float, window: Window) -> WorkLines:
    """Lines of some pieces: wider the more they give, and a light core for what works against the rest.

    Parameters
    ----------
    work : the phase
    chosen : (k,) numbers of the pieces to draw
    turn_rad : the drawing is turned by this much
    window : what is seen of it
    """
    ends = plan_points(selected(work.pieces, chosen), work.cuts, turn_rad)
    segments = np.stack([ends[:, :-1], ends[:, 1:]], axis=2).reshape(-1, 2, 2)
    values = work.millivolts[chosen].ravel()
    inside, over = _seen(segments, window)
    wire, hollow = _lines(segments[inside], values[inside], work.best)
    wire.set_gid("contribution")
    return WorkLines(wire, hollow, _lines(segments[over], values[over], work.best))


def _seen(segments: Floats, window: Window) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which straight lines (m, 2, 2) lie clear of a window's edge inside it, and which may reach over it."""
    x, y = segments[..., 0], segments[..., 1]
    radius, spare_rad = np.hypot(x, y), window.half_rad - np.abs(np.arctan2(x, y))
    aside = radius * np.sin(np.clip(spare_rad, -np.pi / 2, np.pi / 2))  # to the nearer side; negative beyond it
    clear = EDGE * window.high_mm
    room = np.minimum(aside, np.minimum(radius - window.low_mm, window.high_mm - radius))
    inside = (room > clear).all(axis=1)
    beyond = (aside < -clear).all(axis=1) & (x[:, 0] * x[:, 1] > 0)  # of one side: else it may cross the window
    return inside, ~inside & ~beyond


def _lines(segments: Floats, values: Floats, best: float) -> tuple[LineCollection, LineCollection]:
    widths = 1.0 + 2.4 * np.abs(values) / best
    wire = LineCollection(list(segments), cmap=WORKS, norm=Normalize(-best, best), linewidths=widths, zorder=4)
    wire.set_array(values)
    against = values < -IDLE * best
    core: dict[str, Any] = {"colors": PAPER, "linewidths": 0.4 * widths[against], "zorder": 5}
    return wire, LineCollection(list(segments[against]), **core)
