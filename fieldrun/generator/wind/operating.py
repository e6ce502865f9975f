"""Where rotor and generator agree: speed and power at every wind, started from standstill."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.generator.load.delivery import Delivery
from fieldrun.generator.wind.turbine import (
    WindRotor,
    free_speed_rad_s,
    rotor_torque_nm,
    starts_at_m_s,
    tip_speed_ratio,
    wind_power_w,
)

SPEEDS = 60
"""Speeds at which the generator is computed; between them torque and watts run smoothly."""

STEPS_BETWEEN = 8
"""Places between two of them where the balance of torques is looked at before it is narrowed down."""

HALVINGS = 40

PARTS, NARROWINGS = 32, 8
"""Winds between two winds are looked at many at a time, which costs no more than one: 32^8 is 2^40."""

WIND_STEP_M_S = 0.1

TOP_WIND_M_S = 25.0
"""Where a rotor that neither furls nor is stopped is taken to be tied up: a storm, Beaufort 10."""

NEARLY_FREE = 0.8
"""A rotor beyond this share of the way from its best to its free tip-speed ratio is not held by the load any more."""

Flags = NDArray[np.bool_]

Machine = Callable[[Floats], Delivery]
"""The generator with its load: what it delivers at speeds of its own shaft [rad/s]."""


@dataclass(frozen=True, eq=False)
class PowerCurve:
    """The machine in steady winds, one entry for each, (w,).

    Parameters
    ----------
    wind_m_s : rising
    speed_rad_s : of the rotor; the generator's is that times the gear ratio
    rotor_w, drag_w, dc_w : what the rotor takes from the wind, what bearings and brushes waste, what the load gets; the
        difference is what winding, diodes and cable waste
    phase_rms_a : effective current of a phase
    tip_speed_ratio, cp : where on its curve the rotor works [1]
    stalled : slower than where it gives most torque, by the load more than by the drag: it holds back too hard
    loose : so fast that the load hardly holds it back: always so where current begins to flow, and all the way up where
        the machine runs away
    """

    wind_m_s: Floats
    speed_rad_s: Floats
    rotor_w: Floats
    drag_w: Floats
    dc_w: Floats
    phase_rms_a: Floats
    tip_speed_ratio: Floats
    cp: Floats
    stalled: Flags
    loose: Flags

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for field in fields(self):
            values = np.asarray(getattr(self, field.name))
            object.__setattr__(self, field.name, frozen_array(values, values.dtype.type))


@dataclass(frozen=True, eq=False)
class Coupled:
    """A rotor, and its generator tabulated over speed.

    Parameters
    ----------
    rotor : with gear and drag
    table : the generator from standstill to where the rotor runs free in the strongest wind
    """

    rotor: WindRotor
    table: Delivery


def coupled(
    rotor: WindRotor, machine: Machine, kink_rad_s: float | None, top_wind_m_s: float, speeds: int = SPEEDS
) -> Coupled:
    """Tabulate a generator as far as its rotor can drive it.

    Parameters
    ----------
    rotor, machine : what meets at the shaft
    kink_rad_s : generator speed at which current begins to flow into a battery; None without one
    top_wind_m_s : the strongest wind
    speeds : in the table
    """
    top = max(rotor.gear_ratio * free_speed_rad_s(rotor, top_wind_m_s), 1.05 * (kink_rad_s or 0.0))
    table = machine(table_speeds(kink_rad_s, top, speeds))
    return Coupled(rotor, table if kink_rad_s is None else _nothing_up_to(kink_rad_s, table))


def _nothing_up_to(kink_rad_s: float, table: Delivery) -> Delivery:
    """The table without power up to where current begins.

    That speed goes by the highest of 128 samples of a wave, whose true peak lies up to 3e-4 higher: the nanowatts that
    flow at it already would be drawn out to half that speed, and a rotor barely turning would seem to charge.
    """
    power = np.where(table.speed_rad_s <= kink_rad_s, 0.0, table.dc_power_w)
    return replace(table, dc_power_w=power)


def table_speeds(kink_rad_s: float | None, top_rad_s: float, count: int = SPEEDS) -> Floats:
    """Speeds (count,) [rad/s] from 0 to the top, close together above the kink, where torque rises most steeply."""
    if kink_rad_s is None:
        return np.linspace(0, top_rad_s, count)
    above = kink_rad_s + (top_rad_s - kink_rad_s) * np.linspace(0, 1, count - 2) ** 2
    return np.concatenate([[0.0, kink_rad_s / 2], above])


def top_wind_m_s(furl_m_s: float | None, stop_m_s: float | None) -> float:
    """The strongest wind in which the rotor still faces the wind and turns [m/s]."""
    return min((wind for wind in (furl_m_s, stop_m_s) if wind is not None), default=TOP_WIND_M_S)


def settled_rad_s(pair: Coupled, wind_m_s: Floats) -> Floats:
    """Rotor speed in steady winds, (w,), reached from standstill [rad/s].

    The torque left over, Q_rotor(v, w) - G (Q_generator(G w) + drag), speeds the rotor up as long as it is positive.
    It stays at the lowest speed where that turns negative, which is stable; with none left at standstill it does not
    start. The winding has no cogging that would hold it.
    """
    rotor, gear = pair.rotor, pair.rotor.gear_ratio
    held = PchipInterpolator(pair.table.speed_rad_s, pair.table.torque_nm)
    winds = np.asarray(wind_m_s, dtype=float)

    def left_over(wind: Floats, speed: Floats) -> Floats:
        return np.asarray(rotor_torque_nm(rotor, wind, speed) - gear * (held(gear * speed) + rotor.drag_nm))

    speeds = _between(pair.table.speed_rad_s / gear)
    spare = left_over(winds[:, None], speeds[None, :])
    starts = spare[:, 0] > 0
    braked = spare <= 0
    above = np.where(braked.any(axis=1), np.argmax(braked, axis=1), len(speeds) - 1)
    low, high = speeds[np.maximum(above - 1, 0)], speeds[above]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        faster = left_over(winds, middle) > 0
        low, high = np.where(faster, middle, low), np.where(faster, high, middle)
    return np.where(starts, (low + high) / 2, 0.0)


def _between(knots: Floats) -> Floats:
    inner = knots[:-1, None] + np.diff(knots)[:, None] * np.arange(STEPS_BETWEEN) / STEPS_BETWEEN
    return np.append(inner.ravel(), knots[-1])


def power_curve(
    pair: Coupled, wind_m_s: Floats, furl_m_s: float | None = None, stop_m_s: float | None = None
) -> PowerCurve:
    """Speed and watts in steady winds: torques balance (`settled_rad_s`), cp = rotor's watts over rho A v^3 / 2.

    Parameters
    ----------
    pair : rotor and generator
    wind_m_s : (w,) rising [m/s]
    furl_m_s : above it the rotor turns out of the wind so far that it goes on as in this wind [m/s]
    stop_m_s : above it the rotor stands still [m/s]; None for a storm
    """
    rotor, gear = pair.rotor, pair.rotor.gear_ratio
    wind = np.asarray(wind_m_s, dtype=float)
    felt = np.minimum(wind, furl_m_s) if furl_m_s is not None else wind
    speed = np.where(wind <= stops_above_m_s(furl_m_s, stop_m_s), settled_rad_s(pair, felt), 0.0)
    columns = np.column_stack([pair.table.dc_power_w, pair.table.phase_rms_a])
    power, current = PchipInterpolator(pair.table.speed_rad_s, columns)(gear * speed).T
    ratio = tip_speed_ratio(rotor, felt, speed)
    taken = rotor_torque_nm(rotor, felt, speed) * speed
    carried = wind_power_w(rotor, felt)
    drag = gear * rotor.drag_nm * speed
    curve, works = rotor.curve, (speed > 0) & (power > 0)
    loose = curve.best_tip_speed_ratio + NEARLY_FREE * (curve.free_tip_speed_ratio - curve.best_tip_speed_ratio)
    return PowerCurve(
        wind_m_s=wind,
        speed_rad_s=speed,
        rotor_w=taken,
        drag_w=drag,
        dc_w=np.maximum(power, 0.0),
        phase_rms_a=np.maximum(current, 0.0),
        tip_speed_ratio=ratio,
        cp=taken / np.where(carried > 0, carried, 1.0),
        stalled=works & (ratio < curve.strongest_tip_speed_ratio) & (taken > 2 * drag),
        loose=works & (ratio > loose),
    )


def runs_away_from_m_s(curve: PowerCurve, top_m_s: float) -> float | None:
    """Wind from which a rotor runs loose all the way up to the strongest that it faces [m/s]; None if it is held."""
    faced = curve.wind_m_s <= top_m_s
    loose, wind = curve.loose[faced], curve.wind_m_s[faced]
    if not loose[-1]:
        return None
    held = np.flatnonzero(~loose)
    return float(wind[held[-1] + 1]) if len(held) else float(wind[0])


def stalls_from_m_s(curve: PowerCurve) -> float | None:
    """The least wind in which the load stalls the rotor [m/s]; None if it never does."""
    return float(curve.wind_m_s[np.argmax(curve.stalled)]) if curve.stalled.any() else None


def stops_above_m_s(furl_m_s: float | None, stop_m_s: float | None) -> float:
    """Wind above which the rotor stands still, whether somebody stops it or a storm is assumed to [m/s]."""
    return max(TOP_WIND_M_S, furl_m_s or 0.0) if stop_m_s is None else stop_m_s


def wind_grid(rotor: WindRotor, stop_m_s: float) -> Floats:
    """Winds (w,) fine enough for a year's energy, with either side of where the rotor starts and is stopped [m/s]."""
    start = starts_at_m_s(rotor)
    even = np.linspace(0, stop_m_s, max(2, round(stop_m_s / WIND_STEP_M_S) + 1))
    sides = [start * (1 - 1e-9), start * (1 + 1e-9)] if start and start < stop_m_s else []
    return np.unique(np.concatenate([even, [stop_m_s * (1 + 1e-12)], sides]))


def cut_in_m_s(pair: Coupled, curve: PowerCurve) -> float | None:
    """Lowest wind in which the load gets power, narrowed down from the curve [m/s]; None if it never does."""
    feeds = np.flatnonzero(curve.dc_w > 0)
    if len(feeds) == 0:
        return None
    first = int(feeds[0])
    low, high = float(curve.wind_m_s[max(first - 1, 0)]), float(curve.wind_m_s[first])
    for _ in range(NARROWINGS):
        between = np.linspace(low, high, PARTS + 1)
        feeding = power_curve(pair, between[1:-1]).dc_w > 0
        at = int(np.argmax(feeding)) + 1 if feeding.any() else PARTS
        low, high = float(between[at - 1]), float(between[at])
    return high
