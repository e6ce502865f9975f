"""One turn of a shape as directed edges with heights, ready to be repeated round the ring."""

import math
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

    Raises
    ------
    ValueError
        If the winding has no radii (a path).
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


def passes_its_foot(edge: Edge) -> bool:
    """Whether a straight leg dips inside its inner end before it goes outward: r2 cos(leg angle) <= r1."""
    near, far = sorted((edge.start[0], edge.end[0]))
    return edge.kind == LINE and edge.side != "end" and far * math.cos(edge.end[1] - edge.start[1]) <= near


def raised(edges: tuple[Edge, ...], out_m: float, in_m: float) -> tuple[Ints, Floats, Floats]:
    """Give the edges of a turn their heights.

    Sides lie in their sheets. The change from one sheet to the other happens along the end arc between them where
    there is one, with the height linear along it (along the first of several), else on a short vertical line at the
    tip.

    Parameters
    ----------
    edges : a turn's edges; the last one is followed by the first one of the next turn
    out_m, in_m : heights of the sheets of the outward and the inward sides [m]

    Returns
    -------
    kind (u,), start (u, 3), end (u, 3) as in `Pieces`
    """
    height = {"out": out_m, "in": in_m}
    after = [height[_next_side(edges, i)] for i in range(len(edges))]
    rows: list[tuple[int, tuple[float, float, float], tuple[float, float, float]]] = []
    for i, edge in enumerate(edges):
        before = after[i] if edge.side != "end" else after[i - 1]
        rows.append((edge.kind, (*edge.start, before), (*edge.end, after[i])))
        following = edges[(i + 1) % len(edges)]
        if following.side != "end" and height[following.side] != after[i]:
            rows.append((LINE, (*edge.end, after[i]), (*edge.end, height[following.side])))
    kinds, starts, ends = zip(*rows, strict=True)
    return np.array(kinds, dtype=np.int64), np.array(starts), np.array(ends)


def _next_side(edges: tuple[Edge, ...], index: int) -> Side:
    """Side of this edge, or of the next one that is a side; a ring of arcs alone lies with the outward sides."""
    following = (edges[(index + ahead) % len(edges)].side for ahead in range(len(edges)))
    return next((side for side in following if side != "end"), "out")
