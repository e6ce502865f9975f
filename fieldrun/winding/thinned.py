"""Interpolation turned round: many places share few, with weights, where what is summed over them is smooth.

A sum of f over many places equals the sum over the nodes of a grid, each weighted with what cubic interpolation of f at
the places takes from it. Neumann's integral over a distance is smooth on the scale of that distance.
"""

import numpy as np

from fieldrun.design.arrays import Floats, Ints

LIFT_STEP = 0.12
"""Ratio from node to node of the lifts, as a logarithm."""

TURN_STEP = 0.2
"""Step of the turns as a share of lift over radius."""


def cubic_shares(position: Floats) -> tuple[Ints, Floats]:
    """Nodes that cubic interpolation at given positions needs, and their weights.

    Parameters
    ----------
    position : (k,) in steps of an even grid [1]

    Returns
    -------
    (k, 4) numbers of the nodes, (k, 4) Lagrange's weights, which add up to 1
    """
    base = np.floor(position).astype(np.int64)
    t = np.asarray(position - base)
    weights = [
        -t * (t - 1) * (t - 2) / 6,
        (t + 1) * (t - 1) * (t - 2) / 2,
        -t * (t + 1) * (t - 2) / 2,
        t * (t * t - 1) / 6,
    ]
    return base[:, None] + np.arange(-1, 3), np.stack(weights, axis=1)


def spread_lifts(rows: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Move rows to lifts on a geometric grid, four for each row; what then is alike is one row.

    Parameters
    ----------
    rows : (k, 7), the lift [m] in column 5, not 0, the turn [rad] in column 6
    weight : (k,) how often each occurs

    Returns
    -------
    (n, 7) rows, and (n,) cubic interpolation's weights over the lift's logarithm
    """
    node, share = cubic_shares(np.log(np.abs(rows[:, 5])) / LIFT_STEP)
    keys = np.repeat(rows, 4, axis=0)
    keys[:, 5] = np.where(keys[:, 5] < 0, -1, 1) * np.exp(LIFT_STEP * node.ravel())
    keys[:, 6] = np.round(keys[:, 6], 9)
    moved, which = np.unique(keys, axis=0, return_inverse=True)
    return moved, np.bincount(which.reshape(-1), (share * weight[:, None]).ravel(), len(moved)).astype(float)


def thinned_turns(turn: Floats, count: Floats, scale: float) -> tuple[Floats, Floats]:
    """Move turns to an even grid, unless there are few enough already.

    Parameters
    ----------
    turn, count : (k,) angles [rad] and how often each occurs
    scale : angle over which what is summed changes [rad]
    """
    step = TURN_STEP * scale
    node, share = cubic_shares(turn / step)
    first = node.min()
    weight = np.bincount((node - first).ravel(), (share * count[:, None]).ravel()).astype(float)
    used = np.flatnonzero(weight)
    if len(used) >= len(turn):
        return turn, count
    return np.asarray((first + used) * step), weight[used]
