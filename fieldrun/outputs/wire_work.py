"""What each bit of a phase's wire contributes, as coloured lines and as parts of its length."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.collections import LineCollection
from matplotlib.colors import Normalize

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.outputs.style import PAPER, WORKS
from fieldrun.outputs.wire_lines import phase_pieces, plan_points
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import selected

IDLE = 0.1
"""Wire that gives less than this part of the best wire's volts, either way, is called idle."""


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


def work_lines(work: WireWork, chosen: Ints, turn_rad: float) -> tuple[LineCollection, LineCollection]:
    """Lines of some pieces: wider the more they give, and a light core for what works against the rest.

    Parameters
    ----------
    work : the phase
    chosen : (k,) numbers of the pieces to draw
    turn_rad : the drawing is turned by this much
    """
    values, best = work.millivolts[chosen].ravel(), work.best
    ends = plan_points(selected(work.pieces, chosen), work.cuts, turn_rad)
    segments = np.stack([ends[:, :-1], ends[:, 1:]], axis=2).reshape(-1, 2, 2)
    widths = 1.0 + 2.4 * np.abs(values) / best
    scale = Normalize(-best, best)
    wire = LineCollection(list(segments), cmap=WORKS, norm=scale, linewidths=widths, zorder=4, gid="contribution")
    wire.set_array(values)
    against = values < -IDLE * best
    core: dict[str, Any] = {"colors": PAPER, "linewidths": 0.4 * widths[against], "zorder": 5}
    return wire, LineCollection(list(segments[against]), **core)
