"""What meters show at a winding's terminals with nothing connected, per mechanical speed."""

import math
from itertools import combinations

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints
from fieldrun.design.model import Connection, Load
from fieldrun.generator.emf import waveform
from fieldrun.generator.load.charging import highest_rectified

AVERAGE_METER = math.pi / (2 * math.sqrt(2))
"""Effective over rectified mean value of a sine, 1.1107: meters that average are marked in it, whatever the wave."""

TINY_CURRENT_DROP = 0.5
"""Share of a diode's stated drop that is left at a meter's own current: silicon loses 60 to 120 mV for every tenth of
the current, and a meter takes some millionths of what the drop is stated for (judgement, from the diode law)."""

USUAL_DROP_V = 0.7
"""Of a silicon diode, where the design has no load that states one."""


def average_reading(orders: Ints, amplitudes: Complexes) -> Floats:
    """What a meter that averages shows: 1.1107 times the rectified mean, (..., n) to (...) [V s/rad].

    Raises
    ------
    ValueError
        If one of the orders (n,) is 64 or higher.
    """
    return np.asarray(AVERAGE_METER * np.mean(np.abs(waveform(orders, amplitudes)), axis=-1))


def peak(orders: Ints, amplitudes: Complexes) -> Floats:
    """Highest of 128 instantaneous values over a period, (..., n) to (...) [V s/rad].

    Raises
    ------
    ValueError
        If one of the orders (n,) is 64 or higher.
    """
    return np.asarray(np.max(np.abs(waveform(orders, amplitudes)), axis=-1))


def lines(amplitudes: Complexes, connection: Connection) -> Complexes:
    """Every voltage that may be read between two leads, (phases, n) to (lines, n), in the amplitudes' unit.

    Star: the difference of two phases. Delta: a phase less the mean of all, which drives a current round the loop and
    is used up there. Else the phases themselves.
    """
    if connection == "star" and len(amplitudes) > 1:
        return np.array([amplitudes[i] - amplitudes[k] for i, k in combinations(range(len(amplitudes)), 2)])
    if connection == "delta":
        return np.asarray(amplitudes - amplitudes.mean(axis=0))
    return amplitudes


def open_dc_v(
    orders: Ints, amplitudes: Complexes, connection: Connection, load: Load | None, speed_rad_s: float
) -> float:
    """Direct voltage on a meter behind the diodes with nothing else connected [V].

    The highest voltage between lines, less the two drops that stand in the way at the meter's own tiny current; of a
    doubler twice what one drop leaves of the highest phase voltage. Without a rectifier in the design a bridge is
    taken.

    Parameters
    ----------
    orders, amplitudes : (n,) and (phases, n), EMF per speed [V s/rad]
    connection, load : how phases are joined, and whose rectifier and diodes count
    speed_rad_s : mechanical [rad/s]

    Raises
    ------
    ValueError
        If an order is 64 or higher.
    """
    rectifier = load.rectifier if load is not None and load.rectifier != "none" else "bridge"
    drop = TINY_CURRENT_DROP * (load.diode_drop_v if load is not None else USUAL_DROP_V)
    top = highest_rectified(waveform(orders, amplitudes), connection, rectifier) * speed_rad_s
    return max(2 * (top - drop if rectifier == "doubler" else top / 2 - drop), 0.0)


def between_leads(connection: Connection, phases: int) -> float:
    """Ohms between two leads over those of one phase: star 2, delta 2/3 (one phase beside the two others in series)."""
    if phases == 1 or connection == "separate":
        return 1.0
    return 2.0 if connection == "star" else (phases - 1) / phases
