"""How many rounds fit: the step from round to round, and the belt that a phase may cover."""

import math
from itertools import pairwise

from fieldrun.design.model import Winding
from fieldrun.design.stack import CROSSED_SHAPES
from fieldrun.winding.pieces import LINE
from fieldrun.winding.turn import Edge

DEFAULT_BELT = 2 * math.pi / 3
"""Widest belt wound unasked [electrical rad]: beyond it more wire brings ever less."""

PHASE_STEP = {1: 0.0, 2: math.pi / 2, 3: 2 * math.pi / 3}
"""Electrical angle from one phase to the next, by number of phases."""

ROUNDING = 1e-9
"""A belt that lacks no more than this part of a round holds that round."""


def tightest_radius_m(edges: tuple[Edge, ...]) -> float:
    """Radius t that sets the step: turned by an angle, no leg moves sideways by less than t times it [m].

    Straight leg: distance from its nearer end to the foot of the perpendicular from the axis on its line. Spiral:
    r / sqrt(1 + (r dtheta/dr)^2) at its inner end. The least over all legs; not positive if a straight leg passes its
    foot, which `hub_faults` refuses.
    """
    return min(_sideways(edge) for edge in edges if edge.side != "end")


def _sideways(edge: Edge) -> float:
    (near, far) = sorted((edge.start[0], edge.end[0]))
    turn = edge.end[1] - edge.start[1]
    if edge.kind == LINE:
        along = far * math.cos(turn) - near
        return near * along / math.hypot(along, far * math.sin(turn))
    return near / math.hypot(1.0, near * turn / (far - near))


def step_rad(wire_diameter_m: float, tightest_m: float) -> float:
    """Mechanical angle from one round to the next so that wires touch where they are tightest: 2 asin(d / 2t) [rad].

    The chord of that angle at radius t is d. A wire thicker than the way round allows gives half a turn, of which
    nothing fits.

    Parameters
    ----------
    wire_diameter_m : largest overall diameter d [m]
    tightest_m : t of `tightest_radius_m` [m]
    """
    if tightest_m <= wire_diameter_m / 2:
        return math.pi
    return 2 * math.asin(wire_diameter_m / (2 * tightest_m))


def available_belt_rad(winding: Winding, edges: tuple[Edge, ...], pole_pairs: int) -> float:
    """Widest belt [electrical rad] that one group of one layer may cover before it meets another.

    Legs of one sheet are copies of one form; each belt may grow until it meets the next one of the same sheet, over all
    phases and both belts. So 360 / 90 / 120 deg for one / two / three phases of a crossed lay, half of it for two
    belts, and 180 / 90 / 60 deg for a flat lay whose legs stand one pole pitch apart.
    """
    own = _leg_angles(winding, edges, pole_pairs)
    phase = PHASE_STEP[winding.phases]
    shifts = [k * phase + g * math.pi for k in range(winding.phases) for g in range(winding.belts)]
    places = sorted((a + s) % (2 * math.pi) for a in own for s in shifts)
    gaps = [b - a for a, b in pairwise([*places, places[0] + 2 * math.pi])]
    least = min(gaps)
    return least if least > ROUNDING else 0.0


def _leg_angles(winding: Winding, edges: tuple[Edge, ...], pole_pairs: int) -> list[float]:
    if winding.shape in CROSSED_SHAPES:
        return [0.0]
    feet = [min(edge.start, edge.end) for edge in edges if edge.side != "end"]
    innermost = min(feet)[0]
    return [pole_pairs * angle for radius, angle in feet if radius == innermost]


def allowed_belt_rad(winding: Winding, available_rad: float) -> float:
    """The belt to fill [electrical rad]: as asked, else as available but no wider than 120 deg."""
    return winding.belt_rad if winding.belt_rad is not None else min(available_rad, DEFAULT_BELT)


def rounds_that_fit(belt_rad: float, pole_pairs: int, step: float) -> int:
    """Whole rounds in a belt [electrical rad] at `step` [mechanical rad]."""
    return math.floor(belt_rad / (pole_pairs * step) + ROUNDING)
