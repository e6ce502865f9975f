"""What every reading would be if a guess were true."""

from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Complexes, Floats
from fieldrun.design.materials import COPPER_RESISTIVITY_20C_OHM_M, copper_resistivity
from fieldrun.design.model import Load
from fieldrun.design.readings import Reading
from fieldrun.design.units import RPM
from fieldrun.generator.emf import emf_of, rms
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.metering import average_reading, lines, open_dc_v, peak
from fieldrun.generator.result import RunResult
from fieldrun.studies.measured.guess import Guess

COLD_C = 20.0
"""Temperature of ohms that were read without one."""

STEPS = 24
"""Of a load's currents in half a period: within 0.05 % of five times as many."""

LOADED = ("loaded_dc_v", "loaded_dc_a")

CHOICES = 3
"""Most voltages that a reading between lines may have met."""


@dataclass(frozen=True)
class Candidates:
    """What a reading may be, and how likely each is beforehand: one value but between uneven lines."""

    values: tuple[float, ...]
    shares: tuple[float, ...] = (1.0,)


def speed_rad_s(row: Reading, pole_pairs: int, guess: Guess) -> float:
    """Mechanical speed of a row; hertz are electrical: f = p n [rad/s]."""
    written = row.speed * RPM if row.speed_in == "speed_rpm" else 2 * np.pi * row.speed / pole_pairs
    return float(written * guess.speed.get(row.speed_in, 1.0))


def predicted(result: RunResult, guess: Guess, row: Reading, load: Load | None) -> Candidates:
    """What one reading would be.

    Parameters
    ----------
    result : the machine as drawn
    guess : the machine as it may be
    row : what was read, and when
    load : what hung on it, for rows of a load
    """
    kind, factor = guess.shown.get(row.kind, (row.kind, 1.0))
    if kind == "phase_ohm":
        return Candidates((factor * ohms(result, guess, row),))
    speed = speed_rad_s(row, result.emf.pole_pairs, guess)
    if kind in LOADED and load is not None:
        return Candidates((loaded(result, guess, row, load, speed),))
    if kind == "open_dc_v":
        value = open_dc_v(result.emf.orders, guess.amplitudes, guess.connection, result.design.load, speed)
        return Candidates((value,))
    per_speed = _per_speed(guess, kind, result)
    return _distinct(factor * speed * np.atleast_1d(per_speed))


def _per_speed(guess: Guess, kind: str, result: RunResult) -> Floats:
    orders, phase = result.emf.orders, guess.amplitudes[0]
    between: Complexes = lines(guess.amplitudes, guess.connection)
    return {
        "open_phase_rms_v": lambda: rms(phase),
        "open_phase_average_v": lambda: average_reading(orders, phase),
        "open_peak_v": lambda: peak(orders, phase),
        "open_line_rms_v": lambda: rms(between),
        "line_peak_v": lambda: peak(orders, between),
        "one_round_rms_v": lambda: rms(guess.one_round),
        "round_peak_v": lambda: peak(orders, guess.one_round),
    }[kind]()


ALIKE = 1e-3
"""Voltages nearer than this share of the largest count as one."""


def _distinct(values: Floats) -> Candidates:
    """Values that differ, with their shares among all."""
    kept: list[float] = []
    counts: list[int] = []
    largest = float(np.max(values))
    for value in values.tolist():
        same = next((i for i, other in enumerate(kept) if abs(value - other) <= ALIKE * largest), None)
        if same is None:
            kept, counts = [*kept, value], [*counts, 1]
        else:
            counts[same] += 1
    return Candidates(tuple(kept), tuple(count / len(values) for count in counts))


def ohms(result: RunResult, guess: Guess, row: Reading) -> float:
    """Resistance of the phase that was measured, at the temperature of the row, else at 20 C [ohm]."""
    temperature = COLD_C if row.temperature_c is None else row.temperature_c
    warming = copper_resistivity(temperature) / COPPER_RESISTIVITY_20C_OHM_M
    return float(result.impedance.resistance_20c_ohm * warming * guess.ohm[0])


def loaded(result: RunResult, guess: Guess, row: Reading, load: Load, speed: float) -> float:
    """Direct voltage or current of the load. Every phase has its own ohms and EMF; the couplings are as drawn."""
    design = result.design
    emf = emf_of(result.emf.pole_pairs, result.emf.orders, guess.amplitudes, star=guess.connection == "star")
    winding = replace(design.winding, connection=guess.connection)
    copper = _warm(
        result.impedance, guess, design.wire.temperature_c if row.temperature_c is None else row.temperature_c
    )
    out = deliver(emf, copper, result.inductance, result.losses, winding, load, np.array([speed]), STEPS)
    return float(out.dc_voltage_v[0] if row.kind == "loaded_dc_v" else out.dc_current_a[0])


def _warm(copper: Impedance, guess: Guess, temperature_c: float) -> Impedance:
    warming = copper_resistivity(temperature_c) / COPPER_RESISTIVITY_20C_OHM_M
    each = copper.phase_lengths_m * guess.ohm
    more = float(each.mean() / copper.phase_lengths_m.mean())
    hot = copper.resistance_20c_ohm * warming * more
    return replace(copper, phase_lengths_m=each, resistance_hot_ohm=hot)
