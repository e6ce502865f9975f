"""The five or six numbers that one wants to see first."""

from collections.abc import Iterator
from typing import assert_never

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline
from fieldrun.design.units import MM, RPM
from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.generator.wind.year import Fed
from fieldrun.outputs.load_words import taker
from fieldrun.outputs.report.records import KeyNumber
from fieldrun.outputs.sentences import plain, weight


def key_numbers(result: RunResult) -> tuple[KeyNumber, ...]:
    """Volts, what they charge, and what the copper costs."""
    return tuple(_all(result))


def _split(told: str) -> tuple[str, str]:
    value, _, unit = told.partition(" ")
    return value, unit


def _all(result: RunResult) -> Iterator[KeyNumber]:
    speed, copper, phases = asked_speeds(result.design)[-1], result.impedance, result.design.winding.phases
    each = "" if phases == 1 else " per phase"
    volts = plain(float(result.emf.rms[0]) * speed * RPM, "V")
    yield KeyNumber(f"volts{each}", *_split(volts), f"effective, at {speed:g} rpm, nothing connected")
    load, delivery, fed = result.design.load, result.delivery, result.wind.fed if result.wind else None
    if result.charging_starts_rad_s is not None and load is not None and load.voltage_v is not None:
        rpm = plain(result.charging_starts_rad_s / RPM, "rpm")
        yield KeyNumber("charging starts", *_split(rpm), f"{taker(load)} at {load.voltage_v:g} V")
    if delivery is not None and load is not None and load.kind != "open":
        top = max(delivery.points, key=lambda point: point.speed_rad_s)
        watts, at = plain(top.dc_power_w, "W"), f"at {top.speed_rad_s / RPM:.5g} rpm"
        yield KeyNumber(f"into the {taker(load)}", *_split(watts), f"{at}{_most_in_wind(fed)}")
    if fed is not None and fed.energy is not None:
        mean = plain(fed.energy.mean_m_s, "m/s")
        yield KeyNumber("a year", *_split(plain(fed.energy.annual_kwh, "kWh")), f"in a mean wind of {mean}")
    ohms = plain(copper.resistance_20c_ohm, "ohm")
    yield KeyNumber(f"resistance{each}", *_split(ohms), "cold, at 20 C")
    metres = plain(copper.conductor_length_m, "m")
    rounds = result.lay.rounds_per_phase
    yield KeyNumber(f"wire{each}", *_split(metres), f"{rounds} round{'s' if rounds > 1 else ''}")
    yield KeyNumber("copper", *_split(weight(copper.copper_mass_kg)), "in all")


def _most_in_wind(fed: Fed | None) -> str:
    """A rotor may never reach the speed asked for, or pass it; in which wind is told, for that may be a storm."""
    if fed is None:
        return ""
    top = int(fed.curve.dc_w.argmax())
    watts, wind = plain(float(fed.curve.dc_w[top]), "W"), plain(float(fed.curve.wind_m_s[top]), "m/s")
    return f"; at most {watts}, in a wind of {wind}"


def job(result: RunResult) -> str:
    """The machine in one sentence."""
    rotor, winding, laid = result.design.rotor, result.design.winding, result.lay
    faces = "on each of two faces" if rotor.faces == 2 else "on one face"
    plate = "" if rotor.backing is None else " of steel"
    where = "above them" if rotor.gap_m is None else f"{plain(rotor.gap_m / MM, 'mm')} of gap, and in it"
    phases = ("", "one phase", "two phases", "three phases")[winding.phases]
    shape = "path of its own" if winding.shape == "path" else winding.shape
    reach = f"{plain(laid.inner_radius_m / MM)} to {plain(laid.outer_radius_m / MM, 'mm')} from the shaft"
    magnets = _magnets(result.design.magnets)
    return f"Ironless disc generator: {magnets} {faces}{plate}; {where} a hand-wound {shape} of {phases}, {reach}."


def _magnets(magnets: Magnets) -> str:
    kind = _bodies(magnets.outline)
    if magnets.pattern == "halbach":
        bodies = magnets.count * magnets.segments_per_pole
        return f"{bodies} {kind} for {magnets.count} poles in a Halbach pattern"
    return f"{magnets.count} {kind}, north and south in turn,"


def _bodies(outline: Outline) -> str:
    if isinstance(outline, Disc):
        return "round magnets"
    if isinstance(outline, Block):
        return "blocks"
    if isinstance(outline, Arc):
        return "ring segments"
    assert_never(outline)
