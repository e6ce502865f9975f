"""What to say of losses, heat and what turns: warnings where something can be done, and what was taken for granted."""

from collections.abc import Iterator

import numpy as np

from fieldrun.design.materials import MagnetGrade, copper_resistivity, grade_names, magnet_grade
from fieldrun.design.model import Design, Magnets, Rotor, Winding
from fieldrun.design.units import KRPM
from fieldrun.generator.eddy import skin_ratio
from fieldrun.generator.emf import Emf
from fieldrun.generator.heating import (
    AIR_C,
    FORMERS_SOFTEN_C,
    MOVING_AIR_W_M2_K,
    SOFTENS_C,
    STILL_AIR_W_M2_K,
)
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.losses import Losses
from fieldrun.generator.result import Remark
from fieldrun.generator.speeds import top_speed_rpm

WORTH_A_WORD = 0.01
"""Share of the most power a winding can give (at the same speed) above which a waste of it is warned of."""

THICK = 0.05
"""The same for eddy currents, which thinner strands avoid at the cost of enamel and work."""

NIL = 1e-3
"""Skin effect that adds less than this to the resistance is nil."""

SUFFIXES = "MHSUEA"
"""Letters of the classes that a grade's name may end in."""

SLIP_RINGS = (
    "The winding's current leaves over slip rings: what their brushes drop counts if it is given (wind.brush_drop_v; a "
    "pair of carbon brushes about 1 to 2 V, from memory), and so does the torque that they drag (wind.drag_nm)."
)


def part_warnings(design: Design, losses: Losses, emf: Emf, copper: Impedance) -> tuple[Remark, ...]:
    """All warnings of wire and magnets as parts that waste power or get hot.

    Losses are held against what a matched load would get at 1000 rpm: sum of E^2 / 4R over the phases.
    """
    matched = float(np.sum(emf.rms**2)) * KRPM**2 / (4 * copper.resistance_hot_ohm)
    return (*loss_warnings(losses, design.winding, matched), *magnet_warnings(design.magnets))


def part_assumptions(design: Design, losses: Losses, inductance: Inductance | None) -> tuple[str, ...]:
    """All that was taken for granted of losses, heat and what turns."""
    return (*loss_assumptions(design, losses, inductance), *heat_assumptions(), *moving_assumptions(design.rotor))


def loss_warnings(losses: Losses, winding: Winding, matched_w_krpm2: float) -> tuple[Remark, ...]:
    """What of these losses is worth a word before anything is wound.

    Parameters
    ----------
    losses, winding : as found
    matched_w_krpm2 : the most power the winding can give at 1000 rpm [W]
    """
    told = [remark for watts, remark in _wastes(losses, winding) if watts > WORTH_A_WORD * matched_w_krpm2]
    eddy = losses.eddy_w_s2 * KRPM**2
    return (*told, Remark("eddy-loss", _eddy_text(eddy))) if eddy > THICK * matched_w_krpm2 else tuple(told)


def _wastes(losses: Losses, winding: Winding) -> Iterator[tuple[float, Remark]]:
    """Watts at 1000 rpm of each loss that better winding or joining avoids, and its remark."""
    if losses.groups is not None:
        amps, watts = losses.groups.current_a_s * KRPM, losses.groups.loss_w_s2 * KRPM**2
        yield watts, Remark("groups-unlike", _groups_text(winding.parallel, losses.groups.difference, amps, watts))
    if losses.strands is not None:
        least, most = (KRPM**2 * w for w in (losses.strands.in_order_w_s2, losses.strands.at_most_w_s2))
        yield most, Remark("strands-side-by-side", _strands_text(least, most))
    if losses.delta_a_krpm is not None:
        yield losses.delta_w_krpm2, Remark("delta-circulates", _delta_text(losses.delta_a_krpm, losses.delta_w_krpm2))


def _eddy_text(watts: float) -> str:
    return (
        f"eddy currents in the wire waste {watts:.3g} W at 1000 rpm, and with the square of speed at any other, loaded "
        "or not; thinner strands of as much copper waste less, by the square of their diameter"
    )


def _groups_text(groups: int, difference: float, amps: float, watts: float) -> str:
    return (
        f"winding.parallel = {groups}: groups of rounds wound one after the other differ by up to "
        f"{100 * difference:.2g} % in voltage; joined in parallel they drive {amps:.2g} A round each other at 1000 "
        f"rpm and waste {watts:.2g} W with nothing connected; give every group the same places (lay its wires side by "
        "side, all at once), or join whole belts only"
    )


def _strands_text(least: float, most: float) -> str:
    return (
        f"strands that lie side by side from end to end differ in voltage: at 1000 rpm currents between them waste "
        f"{least:.2g} W if each keeps its side, at most {most:.2g} W if the bundle turns over at bends; twist the "
        "bundle (wire.lay_mm), and they see the same"
    )


def _delta_text(amps: float, watts: float) -> str:
    return (
        f"round the delta {amps:.2g} A flow at 1000 rpm with nothing connected (the third harmonics add up there) and "
        f"waste {watts:.2g} W; a star has no such current"
    )


def loss_assumptions(design: Design, losses: Losses, inductance: Inductance | None = None) -> tuple[str, ...]:
    """What was taken for granted about losses in the wire: skin effect by its number, strands, groups."""
    told = ["The copper's eddy currents leave the field as it is, and every strand sees that of its bundle's middle."]
    told.append(_skin(design))
    if design.wire.kind == "litz" and losses.strands is None and design.wire.strands > design.wire.strands_in_series:
        told.append("Strands of a twisted bundle all see the same: no current goes round between them.")
    if losses.delta_a_krpm is not None:
        limits = "Only resistance limits" if inductance is None else "Resistance and inductance limit"
        told.append(f"{limits} the current round a delta.")
    if design.winding.parallel > 1 and losses.groups is None:
        told.append("Groups in parallel are alike: how the path is shared between them cannot be told from its file.")
    return tuple(told)


def _skin(design: Design) -> str:
    speed = top_speed_rpm(design)
    frequency = design.magnets.pole_pairs * speed / 60
    ratio = skin_ratio(design.wire.overall_diameter_m, frequency, copper_resistivity(design.wire.temperature_c))
    percent = np.format_float_positional(100 * (ratio - 1), precision=2, fractional=False, trim="-")
    where = f"at {speed:g} rpm ({frequency:.3g} Hz) it adds {percent} % to the resistance"
    if ratio - 1 < NIL:
        return f"Skin effect is nil: {where}, as if the wire were one piece of copper."
    return f"Skin effect is not counted: {where} if the wire is one piece of copper; thin strands avoid it."


def heat_assumptions() -> tuple[str, ...]:
    """How a winding is cooled, by which rules of thumb, and what softens when."""
    formers = " and ".join(f"{name} at {limit:g} C" for name, limit in FORMERS_SOFTEN_C.items())
    cooled = (
        f"The winding is cooled by its two faces, {STILL_AIR_W_M2_K:g} W/m2K in still air and {MOVING_AIR_W_M2_K:g} "
        f"where discs stir it, in air of {AIR_C:g} C: rules of thumb, the watts may be wrong by a factor of 1.5."
    )
    return cooled, f"Casting resin is taken to soften at {SOFTENS_C:g} C; printed formers soften from {formers} on."


def magnet_warnings(magnets: Magnets) -> tuple[Remark, ...]:
    """Magnets warmer than their grade is made for; how near they are to it depends on their working point too."""
    if not magnets.grade:
        return ()
    grade = magnet_grade(magnets.grade)
    if magnets.temperature_c <= grade.max_temperature_c:
        return ()
    text = (
        f"magnets of grade {grade.name} are made for at most {grade.max_temperature_c:g} C; at "
        f"{magnets.temperature_c:g} C they may lose strength for good, which is not computed"
    )
    hardier = _hardier(grade, magnets.temperature_c)
    return (Remark("magnets-too-hot", f"{text}; {hardier} is made for that" if hardier else text),)


def _hardier(grade: MagnetGrade, temperature_c: float) -> str:
    """The same remanence in the lowest class that stands the temperature; empty if none does."""
    plain = grade.name.rstrip(SUFFIXES)
    others = [magnet_grade(name) for name in grade_names() if name.startswith(plain)]
    return next((other.name for other in others if other.max_temperature_c >= temperature_c), "")


def moving_assumptions(rotor: Rotor) -> tuple[str, ...]:
    """What turns, what of it is not counted, and how the current of a winding that turns gets out."""
    if rotor.spins == "coil":
        counted = "The winding turns: its copper, resin and a former left in it are counted, hub and shaft are not."
        return counted, SLIP_RINGS
    ideal = len(rotor.real_steel) < len(rotor.plates)
    counted = "Magnets and steel, a return plate too, are counted as what turns; hub, shaft and boards are not."
    return (f"{counted} Ideal plates have no mass." if ideal else counted,)
