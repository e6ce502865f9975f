"""The readings as they stand against the prediction: what hung on the machine, and how far each row can be trusted.

Noise. A row's own: 1 % that is assumed, counted as three observations, and the spread of the ratios measured/predicted
within each kind, pooled: from the middle one of the steps between neighbours, so that two lines that differ by a
mistake are not taken for noise; between 0.3 and 2 %. It is multiplied by how steeply the reading follows the EMF, which
for a battery's current just above its first charging is steep. All volts and amperes together: 1 % of a meter's and the
speed's own calibration. All ohms together: 2 %, the tolerance of bought wire and the leads of the meter. These errors
are shared, so that many rows do not average them away.
"""

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Load
from fieldrun.design.readings import Reading, Readings
from fieldrun.generator.metering import TINY_CURRENT_DROP, USUAL_DROP_V
from fieldrun.generator.result import RunResult
from fieldrun.studies.measured.guess import Guess, scaled
from fieldrun.studies.measured.predict import LOADED, predicted

Bools = NDArray[np.bool_]

ASSUMED, LEAST, MOST = 0.01, 0.003, 0.02
"""Noise of a row: without a spread to tell it, and the ends of what a spread may tell."""

ASSUMED_COUNT = 3
"""Observations that the assumed noise counts for."""

MEAN_STEP = (1.128, 0.846, 0.686, 0.582, 0.507, 0.451, 0.407, 0.371, 0.342)
"""Mean step between neighbours of 2, 3, ... normal values in order, over their standard deviation: tables of the range
d2 of quality control (from memory), over their number less one."""

MIDDLE_STEP = 0.77
"""Middle step over the mean one: 0.85 of two values, towards ln 2 of many."""

COMMON_VOLTS, COMMON_OHMS = 0.01, 0.02
"""Errors that all volts and amperes, and all ohms, share."""

DROP_UNSURE = 0.3
"""Share of the diodes' drop that is not known at a meter's current."""

FLOOR = 0.03
"""Share of the prediction as drawn below which a voltage counts as nothing: what cancels never cancels altogether."""

LEAST_CURRENT = 0.05
"""Share of the largest predicted current below which a current counts as nothing."""

STEP = 0.02
"""Share by which the EMF is raised to see how steeply a reading follows it."""


@dataclass(frozen=True, eq=False)
class Bench:
    """Readings, with what belongs to each row.

    Parameters
    ----------
    result : the machine as drawn
    rows : what was read
    loads : what hung on it in each row
    used : (r,) whether a row tells anything about the machine: a battery sets its own voltage
    as_drawn : (r,) prediction, in the rows' units [V, A or ohm]
    floor : (r,) below that a reading counts as nothing [V, A or ohm]
    noise, noise_assumed : one row's own, a share [1]; and whether it was assumed
    sigma : (r,) own error of every logarithm [1]
    common : (r,) error of the logarithm shared by all volts and amperes, or all ohms [1]
    """

    result: RunResult
    rows: tuple[Reading, ...]
    loads: tuple[Load | None, ...]
    used: Bools
    as_drawn: Floats
    floor: Floats
    noise: float
    noise_assumed: bool
    sigma: Floats
    common: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "used", frozen_array(self.used, np.bool_))
        for name in ("as_drawn", "floor", "sigma", "common"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @cached_property
    def measured(self) -> Floats:
        """What was read, (r,) [V, A or ohm]."""
        return frozen_array([row.value for row in self.rows])

    @cached_property
    def log_measured(self) -> Floats:
        """Natural logarithm of what was read, or of the floor where next to nothing was, (r,)."""
        return frozen_array(np.log(np.maximum(self.measured, self.floor)))

    @property
    def ratio(self) -> Floats:
        """Measured over predicted, (r,) [1]; over the floor where next to nothing is predicted."""
        return self.measured / np.maximum(self.as_drawn, self.floor)

    @cached_property
    def is_ohm(self) -> Bools:
        """Which rows are ohms, (r,)."""
        return frozen_array([row.kind == "phase_ohm" for row in self.rows], np.bool_)

    @cached_property
    def is_loaded(self) -> Bools:
        """Which rows need a load's currents, (r,)."""
        return frozen_array([row.kind in LOADED for row in self.rows], np.bool_)


def bench_of(result: RunResult, drawn: Guess, readings: Readings) -> Bench:
    """Set readings against the machine as drawn.

    Raises
    ------
    DesignError
        If a row of a load stands there and the design has none.
    """
    rows = readings.rows
    if faults := _load_faults(result, readings):
        raise DesignError(faults)
    loads = tuple(_load_of(row, rows, result.design.load) for row in rows)
    used = np.array([not _is_given(row, rows, result.design.load) for row in rows])
    value = _values(result, drawn, rows, loads)
    slope = np.log(_safe(_values(result, scaled(drawn, _more(result)), rows, loads)) / _safe(value)) / np.log(1 + STEP)
    slope = np.clip(np.abs(slope), 1.0, 1 / STEP)
    floor = np.maximum(FLOOR * value, _least(rows, value))
    ratio = np.array([row.value for row in rows]) / np.maximum(value, floor)
    noise, assumed = _noise(rows, np.where(used, ratio, 0.0), slope)
    is_ohm = np.array([row.kind == "phase_ohm" for row in rows])
    return Bench(
        result=result,
        rows=rows,
        loads=loads,
        used=used,
        as_drawn=value,
        floor=floor,
        noise=noise,
        noise_assumed=assumed,
        sigma=np.hypot(noise * np.where(is_ohm, 1.0, slope), _drop_error(rows, value, floor, result.design.load)),
        common=np.where(is_ohm, COMMON_OHMS, COMMON_VOLTS * slope),
    )


def _more(result: RunResult) -> Complexes:
    return np.full(len(result.emf.orders), 1 + STEP, dtype=complex)


def _safe(values: Floats) -> Floats:
    return np.maximum(values, 1e-6 * max(float(np.max(values)), 1e-12))


def _values(result: RunResult, drawn: Guess, rows: tuple[Reading, ...], loads: tuple[Load | None, ...]) -> Floats:
    return np.array([predicted(result, drawn, row, load).values[0] for row, load in zip(rows, loads, strict=True)])


def _least(rows: tuple[Reading, ...], value: Floats) -> Floats:
    """A current of next to nothing is judged beside the largest: near the first charging all is uncertain."""
    is_amps = np.array([row.kind == "loaded_dc_a" for row in rows])
    read = np.array([row.value for row in rows])
    largest = np.max(np.where(is_amps, value, 0.0)) or np.max(np.where(is_amps, read, 0.0))
    return np.where(is_amps, max(LEAST_CURRENT * largest, 1e-6), 1e-9)


def _drop_error(rows: tuple[Reading, ...], value: Floats, floor: Floats, load: Load | None) -> Floats:
    drops = 2 * TINY_CURRENT_DROP * (load.diode_drop_v if load else USUAL_DROP_V)
    share = DROP_UNSURE * drops / np.maximum(value, floor)
    return np.where([row.kind == "open_dc_v" for row in rows], np.minimum(share, 1.0), 0.0)


def _noise(rows: tuple[Reading, ...], ratio: Floats, slope: Floats) -> tuple[float, bool]:
    by_kind: defaultdict[tuple[str, str], list[float]] = defaultdict(list)
    for row, one, steep in zip(rows, ratio.tolist(), slope.tolist(), strict=True):
        if one > 0:
            by_kind[row.kind, row.speed_in].append(float(np.log(one) / steep))
    steps = np.concatenate([_steps(values) for values in by_kind.values()] or [np.zeros(0)])
    if not len(steps):
        return ASSUMED, True
    spread = float(np.median(steps)) / MIDDLE_STEP
    pooled = (ASSUMED_COUNT * ASSUMED**2 + len(steps) * spread**2) / (ASSUMED_COUNT + len(steps))
    return float(np.clip(np.sqrt(pooled), LEAST, MOST)), False


def _steps(values: list[float]) -> Floats:
    """Steps between neighbours, each over what it is on average for a standard deviation of 1."""
    mean = MEAN_STEP[min(len(values), len(MEAN_STEP) + 1) - 2] if len(values) > 1 else 1.0
    return np.diff(np.sort(values)) / mean


def _load_faults(result: RunResult, readings: Readings) -> list[Fault]:
    load = result.design.load
    if load is not None and load.kind != "open":
        return []
    text = (
        'the design has no [load] that takes power; add one with kind = "battery" or "resistor", or leave the row out'
    )
    return [Fault("kind", text, readings.file, row.line) for row in readings.rows if row.kind in LOADED]


def _partner(row: Reading, rows: tuple[Reading, ...], kind: str) -> Reading | None:
    """The other reading of the same load at the same speed."""
    same = (other for other in rows if other.kind == kind)
    return next((other for other in same if (other.speed, other.speed_in) == (row.speed, row.speed_in)), None)


def _load_of(row: Reading, rows: tuple[Reading, ...], load: Load | None) -> Load | None:
    """A battery at the voltage that was read beside its current; a resistor of the ohms that both readings give."""
    if load is None or row.kind not in LOADED:
        return load
    volts, amps = _partner(row, rows, "loaded_dc_v"), _partner(row, rows, "loaded_dc_a")
    if volts is None or amps is None or volts.value == 0:
        return load
    if load.kind == "open":
        return load
    if load.kind == "battery":
        told = row.kind == "loaded_dc_a"
        return replace(load, voltage_v=volts.value, resistance_ohm=None) if told else load
    if load.kind == "resistor":
        return replace(load, resistance_ohm=volts.value / amps.value) if amps.value > 0 else load
    assert_never(load.kind)


def _is_given(row: Reading, rows: tuple[Reading, ...], load: Load | None) -> bool:
    """Whether a row says nothing of its own: a battery's voltage; a resistor's current beside its voltage."""
    if load is None or load.kind == "open" or row.kind not in LOADED:
        return False
    if load.kind == "battery":
        return row.kind == "loaded_dc_v"
    if load.kind == "resistor":
        return row.kind == "loaded_dc_a" and _partner(row, rows, "loaded_dc_v") is not None
    assert_never(load.kind)
