"""How a winding is made, as the design file states it: the former, and what wire is cut with. Lengths in m."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Cutting:
    """What wire is cut with: a tail left over at each end, and `spare`, the share bought in excess."""

    tail_m: float = 0.15
    spare: float = 0.05


@dataclass(frozen=True)
class FormerPlan:
    """The former as the design file states it; None where the default depends on the winding (`winding.former`).

    `notch_m` is the width of a notch or the diameter of a pin, `clearance_m` the play of the wires in a notch, `kerf_m`
    what the saw or laser takes away, `rim_m` how far the board reaches beyond the winding's ends, `sheet` the paper.
    """

    notch_m: float | None = None
    ends: Literal["notches", "pins"] = "notches"
    comb: Literal["first round", "all"] = "first round"
    clearance_m: float = 2e-4
    kerf_m: float = 0.0
    hub_hole_m: float | None = None
    rim_m: float | None = None
    thickness_m: float | None = None
    sheet: Literal["A4", "Letter"] = "A4"
