"""Periodic currents of a network with diodes: implicit steps, each of which finds who conducts by least cost."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.generator.load.angle_grid import (
    CARRY,
    IMPLICIT,
    NARROW,
    WIDTHS,
    Flags,
    Grid,
    divided_grid,
    rough_grid,
    wide_steps,
)
from fieldrun.generator.load.network import Network

CLOSED, ROUGHLY = 1e-7, 1e-3
"""Share of the largest EMF by which reactance times current may miss its start at the end of a half period; the second
to find out where diodes switch."""

TRIES = 200
"""Half periods after which the search gives up; three to five are usual, ten where reactance dwarfs resistance."""

DIVISIONS = 4
"""Times that steps are divided where diodes turn out to switch; one or two are usual."""

SHORTEST = 0.1
"""Share of a leap below which it is given up for a plain half period, which always draws nearer, if slowly."""


@dataclass(frozen=True, eq=False)
class Drive:
    """What drives the network at s speeds.

    Parameters
    ----------
    emf_v : EMF of the loops at electrical angles (u, s) [rad], as (u, s, f)
    resistance_ohm : (f, f) of the winding
    reactance_ohm : (s, f, f) inductance times the electrical angular frequency
    drop_v : (s,) voltage against each line's current
    """

    emf_v: Callable[[Floats], Floats]
    resistance_ohm: Floats
    reactance_ohm: Floats
    drop_v: Floats


@dataclass(frozen=True, eq=False)
class Periodic:
    """Loop currents in the steady state, (u, s, f) [A], on the grid they were found on, and the EMF there [V].

    `start_v` (s, f) is reactance times current at the start of the half period; `chosen` (u, s) tells who conducts, as
    a row of the network's signs.
    """

    grid: Grid
    emf_v: Floats
    current_a: Floats
    start_v: Floats
    chosen: Ints


@dataclass(frozen=True, eq=False)
class _Ways:
    """All m ways of conducting in steps of k kinds: currents answer b + shift, and what decides between them.

    `rate` is one over the implicit part of a step [1/rad], `carry` as in the grid; `rows` (n, s) leads from steps to
    the axis k s.
    """

    answer: Floats  # (k s, m f, f)
    shift: Floats  # (k s, m f)
    half_stiffness: Floats  # (k s, f, f)
    rate: Floats  # (k s, 1)
    carry: Floats  # (k s, 1)
    rows: Ints

    def at(self, row: Ints) -> "_Ways":
        """Only those of one step, (s, ...)."""
        return _Ways(self.answer[row], self.shift[row], self.half_stiffness[row], self.rate[row], self.carry[row], row)


def periodic_currents(network: Network, drive: Drive, wide: int) -> Periodic:
    """Loop currents in the steady state, in which half a period later everything has changed its sign.

    L di/dt + R i + v(i) = e by implicit steps, v the diodes' and the load's answer. Each stage minimises the convex
    cost of its step exactly, by comparing all ways of conducting, so that inductance may be tiny or nothing. The start
    is found by Newton's method on the piecewise linear map of half a period. Rough steps tell where diodes switch;
    smooth ones follow, divided there, until all switching is in narrow steps.

    Parameters
    ----------
    network, drive : what flows where, and what drives it
    wide : wide steps in half a period

    Raises
    ------
    SolveError
        If no periodic state is found.
    """
    found = periodic_on(network, drive, rough_grid(wide, len(drive.drop_v)), closed=ROUGHLY)
    divided = wide_steps(found.grid, _switching(network, found.chosen))
    for _ in range(DIVISIONS):
        found = periodic_on(network, drive, divided_grid(wide, divided), found.start_v)
        switching = _switching(network, found.chosen) & (found.grid.kind != NARROW)
        if not switching.any():
            break
        divided |= wide_steps(found.grid, switching)
    return found


def periodic_on(
    network: Network, drive: Drive, grid: Grid, start_v: Floats | None = None, closed: float = CLOSED
) -> Periodic:
    """The same on a grid as it stands.

    Parameters
    ----------
    network, drive : as of `periodic_currents`
    grid : steps over half a period
    start_v : (s, f) reactance times current to start from [V]; one from a similar question shortens the search
    closed : share of the largest EMF by which the end may miss the start

    Raises
    ------
    SolveError
        If no periodic state is found.
    """
    ways = _ways(network, drive, grid)
    emf = drive.emf_v(grid.angle_rad)
    largest = np.max(np.abs(emf), axis=(0, 2)) + 1e-300
    search = _begin(np.zeros(emf.shape[1:]) if start_v is None else start_v)
    for _ in range(TRIES):
        currents, chosen, end = _half_period(network, drive, ways, emf, search.start)
        if np.all(np.abs(end + search.start).max(axis=-1) <= closed * largest):
            return Periodic(grid, emf, currents, search.start, chosen)
        search = _next(search, end, _slope(drive, ways, chosen))
    raise SolveError(f"the currents behind the diodes do not become periodic within {TRIES} half periods")


@dataclass(frozen=True, eq=False)
class _Search:
    """Where the search for a start stands at each speed: loop currents (s, f) [A].

    `best` is the best start so far, from which the half period came to `end` and missed by `miss`, (s, 1) [A], and
    `leap` is Newton's step to the next; of it the share `stride`, (s, 1), was gone to `start`.
    """

    start: Floats
    best: Floats
    end: Floats
    leap: Floats
    miss: Floats
    stride: Floats


def _begin(start: Floats) -> _Search:
    nothing = np.zeros((len(start), 1))
    return _Search(start, start, start, start, nothing + np.inf, nothing + 1.0)


def _next(search: _Search, end: Floats, slope: Floats) -> _Search:
    """Leap on from where the miss shrank; else go back and leap less far, or let the half period itself draw nearer."""
    miss = end + search.start
    size: Floats = np.sqrt((miss**2).sum(axis=-1, keepdims=True))
    better = size < (1 - 0.1 * search.stride) * search.miss
    better |= search.stride == 0
    leap = -np.linalg.solve(slope + np.eye(miss.shape[1]), miss[..., None])[..., 0]
    best, end = np.where(better, search.start, search.best), np.where(better, end, search.end)
    leap, size = np.where(better, leap, search.leap), np.where(better, size, search.miss)
    stride = np.where(better, 1.0, search.stride / 2)
    stride = np.where(stride < SHORTEST, 0.0, stride)
    return _Search(np.where(stride > 0, best + stride * leap, -end), best, end, np.asarray(leap), size, stride)


def _ways(network: Network, drive: Drive, grid: Grid) -> _Ways:
    speeds, kinds = len(drive.drop_v), np.unique(grid.kind)
    rate = np.repeat(grid.wide / (np.pi * WIDTHS * IMPLICIT)[kinds], speeds)
    reactance = np.concatenate([drive.reactance_ohm] * len(kinds))
    drop = np.concatenate([drive.drop_v] * len(kinds))
    lines, signs = network.lines_of, network.signs
    stiffness = drive.resistance_ohm + rate[:, None, None] * reactance + network.resistance_ohm * lines.T @ lines
    answers, shifts = [], []
    for sign in signs:
        out, free = network.share * sign @ lines, _null_space(lines[sign == 0])
        whole = free.T @ (stiffness + network.common_ohm * np.outer(out, out)) @ free
        answer = free @ np.linalg.solve(whole, np.broadcast_to(free.T, (len(whole), *free.T.shape)))
        answers.append(answer)
        shifts.append(-drop[:, None] * (answer @ (lines.T @ sign)))
    return _Ways(
        answer=np.concatenate(answers, axis=1),
        shift=np.concatenate(shifts, axis=1),
        half_stiffness=0.5 * stiffness,
        rate=rate[:, None],
        carry=np.repeat(CARRY[kinds], speeds)[:, None],
        rows=np.searchsorted(kinds, grid.kind) * speeds + np.arange(speeds),
    )


def _null_space(rows: Floats) -> Floats:
    """Orthonormal columns that `rows` map to nothing."""
    _, size, right = np.linalg.svd(rows)
    rank = int(np.sum(size > 1e-9))
    return np.asarray(right[rank:].T)


def _half_period(
    network: Network, drive: Drive, ways: _Ways, emf: Floats, start: Floats
) -> tuple[Floats, Ints, Floats]:
    """Currents (u, s, f), ways of conducting (u, s), and reactance times current at the end (s, f)."""
    currents, chosen = np.empty_like(emf), np.empty(emf.shape[:2], dtype=np.int64)
    held = start
    here = ways.at(ways.rows[0])
    another = [False, *(ways.rows[1:] != ways.rows[:-1]).any(axis=1).tolist()]
    for step, row in enumerate(ways.rows):
        if another[step]:  # most steps are of the kinds of those before them
            here = ways.at(row)
        for stage in (2 * step, 2 * step + 1):
            pull = emf[stage] + here.rate * held
            currents[stage], chosen[stage] = _least_cost(network, drive, here, pull)
            now = (drive.reactance_ohm @ currents[stage][..., None])[..., 0]
            held = now if stage % 2 else held + here.carry * (now - held)
    return currents, chosen, held


def _least_cost(network: Network, drive: Drive, ways: _Ways, pull: Floats) -> tuple[Floats, Ints]:
    """The currents (s, f) that cost least, and in which way they flow (s,).

    Sums as short as these are slow as sums, and so are products in many small parts: both are products of all rows.
    """
    speeds, loops = pull.shape
    rows = ((ways.answer @ pull[..., None])[..., 0] + ways.shift).reshape(-1, loops)
    size = (np.abs(rows @ network.lines_of.T) @ _ones(len(network.lines_of))).reshape(speeds, -1)
    every = rows.reshape(speeds, -1, loops)
    half = every @ ways.half_stiffness - pull[:, None]
    cost = ((half * every).reshape(-1, loops) @ _ones(loops)).reshape(speeds, -1) + drive.drop_v[:, None] * size
    if network.common_ohm:
        cost += 0.5 * network.common_ohm * (network.share * size) ** 2
    which = cost.argmin(axis=1)
    return every[np.arange(speeds), which], which


@lru_cache(maxsize=8)
def _ones(count: int) -> Floats:
    return frozen_array(np.ones(count))


def _slope(drive: Drive, ways: _Ways, chosen: Ints) -> Floats:
    """How the end of the half period follows its start, (s, f, f): the product of all steps' slopes."""
    one = np.eye(drive.reactance_ohm.shape[-1])
    answer = ways.answer.reshape(len(ways.answer), -1, *one.shape)
    kinds = len(answer) // len(drive.reactance_ohm)
    held = ways.rate[..., None, None] * (np.concatenate([drive.reactance_ohm] * kinds)[:, None] @ answer)
    first, second = held[ways.rows, chosen[0::2]], held[ways.rows, chosen[1::2]]
    carry = ways.carry[ways.rows][..., None]
    product = second @ ((1 - carry) * one + carry * first)
    while len(product) > 1:
        even = len(product) // 2 * 2
        product = np.concatenate([product[1:even:2] @ product[0:even:2], product[even:]])
    return np.asarray(product[0])


def _switching(network: Network, chosen: Ints) -> Flags:
    """Steps within which the way of conducting changes, (n, s)."""
    if len(network.signs) == 1:
        return np.zeros((len(chosen) // 2, chosen.shape[1]), dtype=bool)
    opposite = np.array([np.flatnonzero((network.signs == -sign).all(axis=1))[0] for sign in network.signs])
    before = np.vstack([opposite[chosen[-1:]], chosen[:-1]])
    return np.asarray((chosen != before).reshape(-1, 2, chosen.shape[1]).any(axis=1))
