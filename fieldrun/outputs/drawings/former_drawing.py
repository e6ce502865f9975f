"""The former full size: what is cut, the first rounds of every phase, and a number beside every notch."""

import math

import numpy as np

from fieldrun.design.model import Design
from fieldrun.design.units import MM
from fieldrun.outputs.drawings.board import outline_shapes, wire_shapes
from fieldrun.outputs.drawings.record import PHASE_PENS, Drawing, Line, Shape
from fieldrun.outputs.drawings.station_labels import station_labels
from fieldrun.outputs.drawings.words import LINE_MM, cross, written
from fieldrun.outputs.sentences import plain
from fieldrun.winding.former import Former
from fieldrun.winding.former_outline import outline_of
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces, points_along
from fieldrun.winding.sampling import selected
from fieldrun.winding.stations import PHASE_LETTERS

AROUND = 1.0
"""Paper left around the board [mm]."""

PEN_WORDS = {"plain": "unbroken line", "dashed": "dashes", "dotted": "dots"}

ARROW = 2.2
"""Length of an arrow's head [mm]."""

WORDS_MM, CROSS_MM = 35.0, 6.0
"""A circle of this radius holds the drawing's words, a smaller one the cross between them."""


def board_drawing(former: Former, laid: Lay, design: Design, facts: tuple[tuple[str, str], ...]) -> Drawing:
    """The winding former full size; `facts` are what the file says of its origin."""
    reach = former.outer_radius_m / MM + AROUND
    shapes = [
        *outline_shapes(outline_of(former, kerf=True)),
        *_wires(former, laid),
        *_starts(former, laid),
        *station_labels(former),
        *cross(),
    ]
    sizes, phases = _sizes(former), _phases(former)
    roomy = _roomy(former, laid)
    below = [*sizes, *phases]
    low = -reach if roomy else -reach - LINE_MM * len(below) - 2
    placed = (
        [*written(sizes, LINE_MM * len(sizes) + 2.5), *written(phases, -10.0)]
        if roomy
        else written(below, -reach - 4.0)
    )
    return Drawing(f"{design.title}: winding former", (*shapes, *placed), (-reach, low), (reach, reach), facts)


def _roomy(former: Former, laid: Lay) -> bool:
    """Whether words go into the middle: all of it free, and no edge of a hole across them."""
    free = max(former.hub_radius_m, laid.inner_radius_m - former.slot_m) / MM
    hub = former.hub_radius_m / MM
    return free >= WORDS_MM and not CROSS_MM < hub < WORDS_MM


def _wires(former: Former, laid: Lay) -> list[Shape]:
    """The first rounds of every phase, as the winder lays them."""
    loops = former.loops
    first = np.flatnonzero((loops.layer == 0) & (loops.round == 0))
    shapes: list[Shape] = []
    for i in first:
        own = selected(laid.pieces, loops.first[i] + np.arange(loops.pieces[i]))
        shapes += wire_shapes(own, int(loops.phase[i]))
    return shapes


def _starts(former: Former, laid: Lay) -> list[Shape]:
    """An arrow head half way along the first piece of every phase."""
    phases = former.loops.phase[former.corners.loop]
    firsts = {int(k): int(former.corners.piece[np.flatnonzero(phases == k)[0]]) for k in np.unique(phases)}
    return [
        shape for phase, piece in firsts.items() for shape in _arrow(selected(laid.pieces, np.array([piece])), phase)
    ]


def _arrow(piece: Pieces, phase: int) -> list[Shape]:
    places = points_along(piece, np.array([[0.49, 0.5]]))[0]
    (x0, y0), (x, y) = [(r * math.cos(turn) / MM, r * math.sin(turn) / MM) for r, turn, _ in places.tolist()]
    way = math.atan2(y - y0, x - x0)
    barbs = [(x - ARROW * math.cos(way + turn), y - ARROW * math.sin(way + turn)) for turn in (0.4, -0.4)]
    return [Line("mark", barb, (x, y), phase=phase) for barb in barbs]


def _sizes(former: Former) -> list[tuple[str, bool]]:
    """Which face is seen, and the board's sizes; True for a heading."""
    what = "notches" if former.notched else "pins"
    kerf = plain(former.plan.kerf_m / MM, "mm")
    return [
        ("front face", True),
        (f"board {plain(2 * former.outer_radius_m / MM, 'mm')} across", False),
        (f"{plain(former.thickness_m / MM, 'mm')} thick, hole {plain(2 * former.hub_radius_m / MM, 'mm')}", False),
        (f"{what} {former.notch_m / MM:.2f} mm", False),
        (f"allows for a cut of {kerf}" if former.plan.kerf_m > 0 else "lines: finished edge", False),
    ]


def _phases(former: Former) -> list[tuple[str, bool]]:
    """How the phases' lines are told apart."""
    phases = sorted({station.phase for station in former.stations})
    words = [(f"{PHASE_LETTERS[k]}: {PEN_WORDS[PHASE_PENS[k]]}", False) for k in phases]
    return words if len(phases) > 1 else []
