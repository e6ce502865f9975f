"""Periodic currents of a network with diodes: implicit steps, each of which finds who conducts by least cost."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.errors import SolveError
from fieldrun.generator.network import Network

GAMMA = 1 - np.sqrt(0.5)
"""Both stages of a step end where this share of it is implicit: order two, and no ringing where a diode opens."""

STAGES = np.array([GAMMA, 1.0])
"""Places of the two stages within a step."""

WEIGHTS = np.array([1 - GAMMA, GAMMA])
"""Their weights in a mean."""

STEPS = 180
"""Steps in half an electrical period: one degree each."""

CLOSED = 1e-7
"""Share of the largest voltage across inductances by which the end of a half period may miss its start."""

TRIES = 60
"""Half periods after which the search gives up; usually three to five are enough."""


@dataclass(frozen=True, eq=False)
class Drive:
    """What drives the network, for s speeds and u = 2 * steps stages of half an electrical period.

    Parameters
    ----------
    emf_v : (u, s, f) EMF of the loops
    resistance_ohm : (f, f) of the winding
    reactance_ohm : (s, f, f) inductance over the implicit part of a step
    drop_v : (s,) voltage against each line's current
    """

    emf_v: Floats
    resistance_ohm: Floats
    reactance_ohm: Floats
    drop_v: Floats


@dataclass(frozen=True, eq=False)
class _Modes:
    """Currents in each way of conducting, f = answer b + shift, and the cost whose least tells which is true."""

    answer: Floats  # (s, m, f, f)
    shift: Floats  # (s, m, f)
    stiffness: Floats  # (s, f, f)


def stage_angles(steps: int = STEPS) -> Floats:
    """Electrical angles of all stages in half a period, (2 steps,) [rad]."""
    return np.asarray((np.arange(steps)[:, None] + STAGES).ravel() * np.pi / steps)


def stage_weights(steps: int = STEPS) -> Floats:
    """Their weights in a mean over half a period, (2 steps,)."""
    return np.tile(WEIGHTS / steps, steps)


def periodic_currents(network: Network, drive: Drive, start_v: Floats | None = None) -> tuple[Floats, Floats]:
    """Loop currents at all stages in the steady state, in which half a period later everything has changed its sign.

    L di/dt + R i + v(i) = e by the two-stage, stiffly accurate, diagonally implicit rule of order two; v the diodes'
    and the load's answer. Each stage minimises the convex cost of its step exactly, by comparing all ways of
    conducting, so that inductance may be tiny or nothing. The start is found by Newton's method on the piecewise
    linear map of half a period.

    Parameters
    ----------
    network : s and f as in `drive`
    drive : emf, resistance, reactance and drops
    start_v : (s, f) voltage across the reactances to begin the search with

    Returns
    -------
    (u, s, f) currents [A], and (s, f) the start that belongs to them [V]

    Raises
    ------
    SolveError
        If no periodic state is found.
    """
    modes = _modes(network, drive)
    start = np.zeros(drive.emf_v.shape[1:]) if start_v is None else start_v
    scale = CLOSED * (np.max(np.abs(drive.emf_v), axis=(0, 2))[:, None] + 1e-300)
    for tried in range(TRIES):
        currents, chosen, end = _half_period(network, drive, modes, start)
        miss = end + start
        if np.all(np.abs(miss) <= scale):
            return currents, start
        slope = _slope(drive, modes, chosen) + np.eye(miss.shape[1])
        newton = start - np.linalg.solve(slope, miss[..., None])[..., 0]
        start = -end if tried % 10 == 9 else newton  # plain repetition always draws nearer, if slowly
    raise SolveError(f"the currents behind the diodes do not become periodic within {TRIES} half periods")


def _modes(network: Network, drive: Drive) -> _Modes:
    lines, signs = network.lines_of, network.signs
    stiffness = drive.resistance_ohm + drive.reactance_ohm + network.resistance_ohm * lines.T @ lines
    direct = network.share * signs @ lines
    answers, shifts = [], []
    for sign, out in zip(signs, direct, strict=True):
        free = _null_space(lines[sign == 0])
        whole = free.T @ (stiffness + network.common_ohm * np.outer(out, out)) @ free
        answer = free @ np.linalg.solve(whole, np.broadcast_to(free.T, (len(whole), *free.T.shape)))
        answers.append(answer)
        shifts.append(-drive.drop_v[:, None] * (answer @ (lines.T @ sign)))
    return _Modes(np.stack(answers, axis=1), np.stack(shifts, axis=1), stiffness)


def _null_space(rows: Floats) -> Floats:
    """Orthonormal columns that `rows` map to nothing."""
    _, size, right = np.linalg.svd(rows)
    rank = int(np.sum(size > 1e-9))
    return np.asarray(right[rank:].T)


def _half_period(network: Network, drive: Drive, modes: _Modes, start: Floats) -> tuple[Floats, Ints, Floats]:
    """Currents (u, s, f), ways of conducting (u, s), and the voltage across reactances at the end."""
    currents = np.empty_like(drive.emf_v)
    chosen = np.empty(drive.emf_v.shape[:2], dtype=np.int64)
    held = start
    for stage, emf in enumerate(drive.emf_v):
        first = stage % 2 == 0
        pull = emf + held
        currents[stage], chosen[stage] = _least_cost(network, drive, modes, pull)
        across = (drive.reactance_ohm @ currents[stage][..., None])[..., 0]
        held = held + (1 - GAMMA) / GAMMA * (across - held) if first else across
    return currents, chosen, held


def _least_cost(network: Network, drive: Drive, modes: _Modes, pull: Floats) -> tuple[Floats, Ints]:
    """The currents (s, f) that cost least, and in which way they flow (s,)."""
    every = (modes.answer @ pull[:, None, :, None])[..., 0] + modes.shift
    size = np.abs(every @ network.lines_of.T).sum(axis=-1)
    half = 0.5 * (every @ modes.stiffness) - pull[:, None, :]
    cost = (half * every).sum(axis=-1) + drive.drop_v[:, None] * size
    if network.common_ohm:
        cost += 0.5 * network.common_ohm * (network.share * size) ** 2
    which = cost.argmin(axis=1)
    return every[np.arange(len(which)), which], which


def _slope(drive: Drive, modes: _Modes, chosen: Ints) -> Floats:
    """How the end of the half period follows its start, (s, f, f): the product of all steps' slopes."""
    speeds = np.arange(chosen.shape[1])
    across = (drive.reactance_ohm[:, None] @ modes.answer)[speeds, chosen]
    one, ratio = np.eye(across.shape[-1]), (1 - GAMMA) / GAMMA
    product = across[1::2] @ ((1 - ratio) * one + ratio * across[0::2])
    while len(product) > 1:
        rest = product[len(product) // 2 * 2 :]
        product = np.concatenate(
            [product[1 : len(product) // 2 * 2 : 2] @ product[0 : len(product) // 2 * 2 : 2], rest]
        )
    return np.asarray(product[0])
