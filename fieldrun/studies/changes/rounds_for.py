"""How many rounds make a battery charge from a wanted wind on, and what wire still finds room then."""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.errors import DesignError
from fieldrun.design.model import Design, Load
from fieldrun.generator.chain import Chain
from fieldrun.generator.load.charging import charging_starts_rad_s
from fieldrun.generator.load.delivery import Delivery, deliver
from fieldrun.generator.result import RunResult
from fieldrun.generator.wind.operating import coupled, settled_rad_s
from fieldrun.studies.changes.figures import Figures, figures_of
from fieldrun.studies.changes.generator import changed_generator, generator_of
from fieldrun.studies.changes.sizes import smaller_wires, thicker_wires

Variant = Callable[[Mapping[str, object]], Design]

EARLIER_M_S = 0.5
"""How much earlier a machine is wished to charge, if nobody says."""

WORTH_M_S = 0.1
"""A start that is earlier by less is no reason to wind other rounds."""

ABOVE_START = 1.05
"""Of the wind in which the rotor starts: no machine charges much below."""

MOST_STEPS = 24
"""Rounds per group beyond the first guess that are tried: in a wider belt each gives a little less."""

NARROWER = 0.85
"""EMF per round in the middle of a belt of 120 degrees over that of the whole is 1 / 0.827."""

NEAR = 0.02
"""Share by which charging may start late of the estimate and yet be worth a look: idle losses change with the wire."""


@dataclass(frozen=True)
class RoundsFor:
    """Rounds for a wanted cut-in.

    Parameters
    ----------
    cut_in_m_s : the wanted wind
    keys : what stands in the design file instead; empty if it cannot be reached
    figures : what that gives; None if it cannot be reached
    reason : why not; empty if it can be reached
    """

    cut_in_m_s: float
    keys: tuple[tuple[str, object], ...]
    figures: Figures | None
    reason: str = ""


def usual_wish(result: RunResult) -> float | None:
    """Half a metre per second earlier than now, not below what the rotor starts in [m/s].

    None without a battery, and where it charges almost as soon as it turns: no rounds could make that much earlier.
    """
    wind, load = result.wind, result.design.load
    if wind is None or wind.fed is None or wind.fed.cut_in_m_s is None or load is None or load.kind != "battery":
        return None
    wish = max(wind.fed.cut_in_m_s - EARLIER_M_S, ABOVE_START * wind.starts_at_m_s)
    return wish if wish <= wind.fed.cut_in_m_s - WORTH_M_S else None


def rounds_for(result: RunResult, variant: Variant, cut_in_m_s: float) -> RoundsFor:
    """The fewest rounds with which a battery is charged from a wind on, in the same place and of the thickest wire.

    Charging starts at a speed that goes as one over the rounds, as long as belts are alike; it must come down to what
    the rotor runs at in that wind with nothing connected. Estimated so, then laid and computed, with one round more in
    each group until it is reached.

    Parameters
    ----------
    result : the design as it stands
    variant : reads its file with keys changed
    cut_in_m_s : the wanted wind
    """
    reason = _hopeless(result, cut_in_m_s)
    if reason:
        return RoundsFor(cut_in_m_s, (), None, reason)
    wanted_rad_s = unloaded_rad_s(result, cut_in_m_s)
    charging = result.charging_starts_rad_s or 0.0
    step = result.design.winding.belts * result.design.winding.layers
    first = step * _first_guess(result.lay.rounds_per_phase / step, charging / wanted_rad_s)
    base = generator_of(result)
    for rounds in range(first, first + MOST_STEPS * step, step):
        found = _thickest(result.design, variant, rounds)
        if found is None:
            text = f"it would take {rounds} rounds per phase, and no wire near this size finds room for them"
            return RoundsFor(cut_in_m_s, (), None, text)
        keys, design = found
        chain = Chain(design, result.field)
        starts = charging_starts_rad_s(chain.emf, design.winding.connection, _load(design))
        if starts is None or starts > wanted_rad_s * (1 + NEAR):
            continue
        figures = figures_of(changed_generator(design, base))
        if figures.cut_in_m_s is not None and figures.cut_in_m_s <= cut_in_m_s:
            return RoundsFor(cut_in_m_s, tuple(keys.items()), figures)
    return RoundsFor(cut_in_m_s, (), None, "more rounds do not bring it down so far")


def _first_guess(groups: float, more: float) -> int:
    """Rounds per group, not too many: fewer than now lie in a narrower belt, where each gives more."""
    return max(1, math.floor(groups * more * (NARROWER if more < 1 else 1.0)))


def _load(design: Design) -> Load:
    if design.load is None:
        raise ValueError("a design without a load never charges")
    return design.load


def _hopeless(result: RunResult, cut_in_m_s: float) -> str:
    wind, load = result.wind, result.design.load
    if wind is None or load is None or load.kind != "battery":
        return "only a battery on a wind rotor has a wind from which it is charged"
    if result.design.winding.shape == "path":
        return "a path of your own is wound as its file says"
    if result.charging_starts_rad_s is None:
        return "the winding gives no voltage"
    if cut_in_m_s <= wind.starts_at_m_s:
        return f"the rotor itself starts to turn in {wind.starts_at_m_s:.3g} m/s only"
    return "" if cut_in_m_s < wind.top_m_s else f"the rotor faces no wind beyond {wind.top_m_s:.3g} m/s"


def unloaded_rad_s(result: RunResult, wind_m_s: float) -> float:
    """Generator speed in a wind with nothing connected, held by bearings and by what the winding wastes [rad/s].

    Raises
    ------
    ValueError
        If the design has no wind rotor or no load.
    """
    wind = result.wind
    if wind is None:
        raise ValueError("a design without a rotor has no speed in a wind")
    idle = replace(_load(result.design), kind="open", voltage_v=None, resistance_ohm=None)

    def turning(speeds_rad_s: Floats) -> Delivery:
        return deliver(
            result.emf, result.impedance, result.inductance, result.losses, result.design.winding, idle, speeds_rad_s
        )

    pair = coupled(wind.rotor, turning, None, wind.top_m_s)
    return float(wind.rotor.gear_ratio * settled_rad_s(pair, np.array([wind_m_s]))[0])


def _thickest(design: Design, variant: Variant, rounds: int) -> tuple[dict[str, object], Design] | None:
    """The thickest wire of which so many rounds find room in the same belts and gap."""
    for wire in _sizes(design):
        keys = {**wire, "winding.rounds": rounds}
        try:
            return keys, variant(keys)
        except DesignError:
            continue
    return None


def _sizes(design: Design) -> Iterator[dict[str, object]]:
    yield from reversed(thicker_wires(design.wire))
    yield {}
    yield from smaller_wires(design.wire)
