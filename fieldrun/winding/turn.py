"""One turn of a shape as directed edges with heights, ready to be repeated round the ring."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.model import Winding
from fieldrun.winding.pieces import ARC, LINE, SPIRAL
from fieldrun.winding.shapes import SHAPES, Corner, Side, ring_of

NO_LENGTH = 1e-12
"""An arc shorter than this [rad] has vanished."""


@dataclass(frozen=True)
class Edge:
    """A directed edge of a turn in the plane: kind of piece, start and end (radius [m], angle [rad]), side."""

    kind: int
    start: tuple[float, float]
    end: tuple[float, float]
    side: Side


def turn_edges(winding: Winding, pole_pairs: int) -> tuple[Edge, ...]:
    """Edges of one turn (one pole pair) of a named shape, in winding order, those of no length left out.

    Assumes neither rounds, phases, start angle nor heights: the turn stands where the shape draws it.
    """
    ring, shape = ring_of(winding, pole_pairs), SHAPES[winding.shape]
    corners = shape.draw(ring, winding)
    first = corners[0]
    home = first.theta if shape.closed else first.theta + 2 * ring.tau
    after = [*((c.radius_m, c.theta) for c in corners[1:]), (first.radius_m, home)]
    leg = LINE if winding.leg == "chord" else SPIRAL
    edges = (_edge(corner, end, leg) for corner, end in zip(corners, after, strict=True))
    return tuple(edge for edge in edges if not _vanished(edge))


def _edge(corner: Corner, end: tuple[float, float], leg: int) -> Edge:
    kind = {"leg": leg, "radial": LINE, "arc": ARC}[corner.edge]
    return Edge(kind, (corner.radius_m, corner.theta), end, corner.side)


def _vanished(edge: Edge) -> bool:
    return edge.start[0] == edge.end[0] and abs(edge.end[1] - edge.start[1]) < NO_LENGTH


def raised(edges: tuple[Edge, ...], out_m: float, in_m: float) -> tuple[Ints, Floats, Floats]:
    """Give the edges of a turn their heights.

    Sides lie in their sheets. The change from one sheet to the other happens along the end arc between them where
    there is one, with the height linear along it, else on a short vertical line at the tip.

    Parameters
    ----------
    edges : a turn's edges; the last one is followed by the first one of the next turn
    out_m, in_m : heights of the sheets of the outward and the inward sides [m]

    Returns
    -------
    kind (u,), start (u, 3), end (u, 3) as in `Pieces`
    """
    kinds: list[int] = []
    starts: list[tuple[float, float, float]] = []
    ends: list[tuple[float, float, float]] = []
    heights = {"out": out_m, "in": in_m}
    for i, edge in enumerate(edges):
        before = heights.get(edge.side, heights.get(edges[i - 1].side, out_m))
        following = edges[(i + 1) % len(edges)].side
        after = heights.get(edge.side, heights.get(following, in_m))
        kinds.append(edge.kind)
        starts.append((*edge.start, before))
        ends.append((*edge.end, after))
        if heights.get(following, after) != after:
            kinds.append(LINE)
            starts.append((*edge.end, after))
            ends.append((*edge.end, heights[following]))
    return np.array(kinds, dtype=np.int64), np.array(starts), np.array(ends)
