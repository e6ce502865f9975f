"""The few figures by which changes are told apart: first wind that charges, a year, watts, and what must be bought."""

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from fieldrun.design.units import RPM
from fieldrun.generator.heating import heat_of
from fieldrun.generator.load.charging import charging_starts_rad_s
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.moving import magnets_part, steel_parts
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import top_speed_rpm
from fieldrun.generator.wind.operating import Machine, PowerCurve
from fieldrun.generator.wind.year import Fed, wind_of
from fieldrun.studies.changes.generator import Generator, generator_of

SPEEDS = 24
"""Speeds at which a changed generator is computed: within 1e-5 of a year's energy of the 60 of a run, at half the
time."""


@dataclass(frozen=True)
class Figures:
    """What a design gives and takes.

    Parameters
    ----------
    rounds : of a phase
    charging_rpm : generator speed from which a battery is charged; None without one, or where it never is
    cut_in_m_s : wind from which the load gets power; None without a rotor, or where it never does
    annual_kwh : a year's energy; None where the design does not say what wind blows
    top_w : what the load gets at the highest asked speed; None where a year's energy tells more
    copper_kg, magnets_kg, steel_kg : all of it
    gap_m : None over one open face
    heat : the largest current of a phase, in wind or else at the highest asked speed, over what the winding stands
        for ever in moving air; infinite where losses alone are too much; None where that is not known
    """

    rounds: int
    charging_rpm: float | None
    cut_in_m_s: float | None
    annual_kwh: float | None
    top_w: float | None
    copper_kg: float
    magnets_kg: float
    steel_kg: float
    gap_m: float | None
    heat: float | None = None

    @property
    def yields(self) -> float:
        """What a change should raise: a year's energy, or watts where no wind is known."""
        return self.annual_kwh if self.annual_kwh is not None else self.top_w or 0.0


def figures_now(result: RunResult) -> Figures:
    """Of a design that was answered, as its run found them."""
    charging = result.charging_starts_rad_s
    fed = result.wind.fed if result.wind else None
    return _figures(generator_of(result), charging, fed)


def figures_of(generator: Generator) -> Figures:
    """Of a changed design."""
    design, circuit = generator.design, generator.circuit
    charging = charging_starts_rad_s(circuit.emf, design.winding.connection, design.load) if design.load else None
    machine = _machine(generator)
    wind = wind_of(design.turbine, machine, charging, SPEEDS) if design.turbine else None
    return _figures(generator, charging, wind.fed if wind else None)


def _figures(generator: Generator, charging_rad_s: float | None, fed: Fed | None) -> Figures:
    design, copper = generator.design, generator.circuit.copper
    energy = fed.energy if fed else None
    top = None if energy else _at_top_speed(generator)
    return Figures(
        rounds=generator.lay.rounds_per_phase,
        charging_rpm=None if charging_rad_s is None else charging_rad_s / RPM,
        cut_in_m_s=fed.cut_in_m_s if fed else None,
        annual_kwh=None if energy is None else energy.annual_kwh,
        top_w=float(top.dc_power_w[0]) if top else None if energy else 0.0,
        copper_kg=copper.copper_mass_kg,
        magnets_kg=magnets_part(design.magnets, design.rotor.faces).mass_kg,
        steel_kg=sum(part.mass_kg for part in steel_parts(design.rotor)),
        gap_m=design.rotor.gap_m,
        heat=_heat(generator, fed.curve if fed else top),
    )


def _machine(generator: Generator) -> Machine | None:
    design, circuit = generator.design, generator.circuit
    if design.load is None or design.load.kind == "open":
        return None
    return partial(
        deliver, circuit.emf, circuit.copper, circuit.inductance, generator.losses, design.winding, design.load
    )


def _at_top_speed(generator: Generator) -> Delivery | None:
    machine = _machine(generator)
    return machine(np.array([top_speed_rpm(generator.design) * RPM])) if machine else None


def _heat(generator: Generator, carried: PowerCurve | Delivery | None) -> float | None:
    if carried is None:
        return None
    circuit, losses = generator.circuit, generator.losses
    stands = heat_of(generator.design, generator.lay, circuit.copper, losses.idle_w_s2).moving.current_a
    return float(carried.phase_rms_a.max()) / stands if stands > 0 else math.inf
