"""Benches made up for tests: what meters would show on a machine whose conductors or magnets really are other ones.

The readings are taken off waves, sampled in time, of conductors that were turned, reversed or left out one by one; the
study itself puts weighted harmonics together.
"""

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from types import SimpleNamespace

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.readings import Reading, Readings
from fieldrun.design.units import RPM
from fieldrun.field.solve import rotor_field
from fieldrun.generator.chain import Chain
from fieldrun.generator.emf import emf_harmonics
from fieldrun.generator.machine import read_design
from fieldrun.studies.measured.bench import bench_of
from fieldrun.studies.measured.guess import drawn, parts_of
from fieldrun.studies.measured.ranking import ranked, unseen
from fieldrun.studies.measured.reading_faults import reading_faults
from fieldrun.studies.measured.study import judged, known_of

ROWS = (
    ("open_phase_rms_v", 150),
    ("open_phase_rms_v", 250),
    ("open_line_rms_v", 150),
    ("open_line_rms_v", 200),
    ("open_line_rms_v", 250),
    ("open_peak_v", 200),
    ("open_dc_v", 200),
    ("open_dc_v", 300),
    ("one_round_rms_v", 200),
    ("phase_ohm", 0),
)
"""Ten readings."""


@dataclass(frozen=True)
class Real:
    """A machine as it really is: waves (phases, t) over a whole period or turn [V s/rad], one round's, ohms."""

    waves: np.ndarray
    one_round: np.ndarray
    ohm: float
    connection: str = "star"
    drop_v: float = 0.7


def waves_of(result, pieces, samples=720):
    """EMF per speed over one electrical period, by adding harmonics up in time."""
    winding, wire = result.design.winding, result.design.wire
    scale = wire.strands_in_series / winding.parallel
    amplitudes = scale * emf_harmonics(result.field_map, pieces, winding.phases)
    angle = 2 * np.pi * np.arange(samples) / samples
    return (amplitudes @ np.exp(-1j * np.outer(result.emf.orders, angle))).real


def selected(pieces, here):
    return replace(pieces, **{n: getattr(pieces, n)[here] for n in ("kind", "start", "end", "phase", "loop")})


def round_wave(result):
    """One whole round of the first phase; the mean of the layers' first ones."""
    laid, winding = result.lay, result.design.winding
    loops = np.unique(laid.pieces.loop[laid.pieces.phase == 0])
    each = len(loops) // laid.rounds_per_phase
    first = [layer * laid.rounds_per_group * each + k for layer in range(winding.layers) for k in range(each)]
    here = np.isin(laid.pieces.loop, loops[first])
    return waves_of(result, selected(laid.pieces, here))[0] * winding.parallel / winding.layers


def real(result, pieces=None, ohm_factor=1.0, connection=None):
    """The machine as drawn, but for other conductors, ohms or connection."""
    load = result.design.load
    return Real(
        waves_of(result, result.paths if pieces is None else pieces),
        round_wave(result),
        result.impedance.resistance_20c_ohm * ohm_factor,
        connection or result.design.winding.connection,
        load.diode_drop_v if load else 0.7,
    )


def meter(machine, kind, omega, pair=(0, 1)):
    """What an honest meter shows."""
    waves = omega * machine.waves
    if machine.connection == "star":
        line = waves[pair[0]] - waves[pair[1]]
        highest = np.max(np.abs(waves[:, None] - waves[None]))
    else:
        between = waves - waves.mean(axis=0)
        line, highest = between[pair[0]], np.max(np.abs(between))
    return {
        "open_phase_rms_v": lambda: math.sqrt(np.mean(waves[0] ** 2)),
        "open_phase_average_v": lambda: math.pi / math.sqrt(8) * np.mean(np.abs(waves[0])),
        "open_line_rms_v": lambda: math.sqrt(np.mean(line**2)),
        "open_peak_v": lambda: np.max(np.abs(waves[0])),
        "open_dc_v": lambda: highest - machine.drop_v,  # two diodes, half of their drop at a meter's current
        "one_round_rms_v": lambda: omega * math.sqrt(np.mean(machine.one_round**2)),
        "phase_ohm": lambda: machine.ohm,
    }[kind]()


def honest(_kind, value):
    return value


def readings_of(machine, *, rows=ROWS, seed=1, noise=0.005, spoil=honest, column="speed_rpm", pairs=1):
    """Readings with noise; `spoil` does to a value what the reader did wrong."""
    dice = np.random.default_rng(seed)
    turns = [(0, 1), (1, 2), (2, 0)]
    made = []
    for index, (kind, rpm) in enumerate(rows):
        pair = turns[index % 3] if len(machine.waves) == 3 else (0, 1)
        value = spoil(kind, meter(machine, kind, rpm * RPM, pair)) * (1 + noise * dice.standard_normal())
        speed = rpm if column == "speed_rpm" else rpm * pairs / 60
        made.append(Reading(index + 2, kind, float(value), float(speed), column if rpm else ""))
    return Readings("bench.csv", tuple(made))


@dataclass(frozen=True, eq=False)
class Prepared:
    """A design with everything that does not depend on its readings, each worked out when it is asked for.

    `result` is the chain of the design, which knows all that a run's answer does: no more fields are solved than a
    test needs, and a machine that is only read is never set free in its gap.
    """

    result: Chain

    @cached_property
    def known(self):
        return known_of(parts_of(self.result))

    def measured(self, readings):
        """The study of readings that bring no scan."""
        return judged(self.known, bench_of(self.result, drawn(self.known.parts), readings), readings)

    def explanations(self, readings):
        known, base = self.known, drawn(self.known.parts)
        bench = bench_of(self.result, base, readings)
        seen, _ = unseen([base, *known.faults, *reading_faults(known.parts, readings.rows)], bench)
        return ranked(seen, known.gap, known.remanence, bench, None)


@pytest.fixture(scope="session")
def prepared() -> Callable[..., Prepared]:
    """A variation of a bundled design, prepared once; the same magnets and steel are solved once."""

    @functools.cache
    def field_of(magnets, rotor):
        return rotor_field(magnets, rotor)

    @functools.cache
    def make(example: str, changes: tuple = ()) -> Prepared:
        design = read_design(example_path(example), dict(changes))
        return Prepared(Chain(design, field_of(design.magnets, design.rotor)))

    return make


@pytest.fixture(scope="session")
def bench() -> SimpleNamespace:
    """What makes benches up."""
    return SimpleNamespace(
        rows=ROWS,
        Real=Real,
        real=real,
        readings_of=readings_of,
        selected=selected,
        waves_of=waves_of,
        round_wave=round_wave,
        meter=meter,
    )
