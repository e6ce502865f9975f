"""How much current a winding stands before it softens what holds it: heat out of its two faces, by rules of thumb."""

import math
from dataclasses import dataclass

from fieldrun.design.materials import (
    COPPER_RESISTIVITY_PER_K,
    REFERENCE_TEMPERATURE_C,
    copper_resistivity,
)
from fieldrun.design.model import Design, Winding, Wire
from fieldrun.design.units import RPM
from fieldrun.generator.impedance import Impedance, copper_area_m2
from fieldrun.generator.speeds import top_speed_rpm
from fieldrun.winding.lay import Lay

STILL_AIR_W_M2_K, MOVING_AIR_W_M2_K = 10.0, 30.0
"""Heat that a face gives to air: within 8 to 12 in a still room and 25 to 40 where discs stir it (common practice, no
source; textbooks have 2 to 25 for free and 25 to 250 for forced convection: Incropera, Fundamentals of Heat and Mass
Transfer, table 1.1, from memory)."""

CAST_W_M_K = 0.5
"""Conductivity of a cast winding across its wires: 0.3 to 1, more than resin alone has (common practice, no source)."""

AIR_C = 25.0
"""Temperature of the air about the winding: a warm day."""

SOFTENS_C = 60.0
"""Casting resins of polyester or epoxy give way from 60 to 80 C on (heat deflection, from memory): the lower end."""

FORMERS_SOFTEN_C = {"PLA": 55.0, "PETG": 70.0}
"""Printed formers give way from here on (makers' tables, from memory); plywood stands more than any resin."""

USUAL_DENSITY_A_MM2 = {"still": (1.5, 5.0), "moving": (5.0, 10.0)}
"""What textbooks allow copper for ever, in a closed case or still air and in moving air (from memory)."""


@dataclass(frozen=True)
class Cooling:
    """What a winding stands in one kind of air.

    Parameters
    ----------
    transfer_w_m2_k : from a face to the air [W/(m^2 K)]
    rise_k_per_w : how much warmer than the air its middle gets for every watt [K/W]
    current_a : effective current of every phase at its terminals that warms it to the limit [A]; 0 where eddy currents
        alone do
    density_a_m2 : the same current in the copper of each strand [A/m^2]
    copper_w : what that current wastes in all phases [W]
    """

    transfer_w_m2_k: float
    rise_k_per_w: float
    current_a: float
    density_a_m2: float
    copper_w: float


@dataclass(frozen=True)
class Heat:
    """How much current a winding stands, all phases alike, for ever.

    Parameters
    ----------
    limit_c, air_c : temperatures of the copper at the limit and of the air about it [C]
    speed_rad_s, idle_w : a speed, and what the winding wastes there without any current at its terminals [W]
    still, moving : in still air and in air that the discs stir
    """

    limit_c: float
    air_c: float
    speed_rad_s: float
    idle_w: float
    still: Cooling
    moving: Cooling


def rise_k_per_w(laid: Lay, winding: Winding, wire: Wire, transfer_w_m2_k: float) -> float:
    """How much warmer than the air the middle of a winding gets for every watt [K/W].

    Watts arise evenly in a slab of the winding's annulus and thickness t and leave by its two faces, A each, none by
    the rims: (1/h + t/4k) / 2A, the second part from the middle of a slab to its faces.

    Parameters
    ----------
    laid, winding, wire : the winding
    transfer_w_m2_k : h [W/(m^2 K)]
    """
    thickness = laid.thickness_m + winding.resin_m
    return (1 / transfer_w_m2_k + thickness / (4 * CAST_W_M_K)) / (2 * face_m2(laid, wire))


def face_m2(laid: Lay, wire: Wire) -> float:
    """Area of one face of the winding, from the innermost wire's edge to the outermost's [m^2]."""
    inner, outer = face_radii_m(laid, wire)
    return math.pi * (outer**2 - inner**2)


def face_radii_m(laid: Lay, wire: Wire) -> tuple[float, float]:
    """Radii between which the winding is cast: from the innermost wire's edge to the outermost's [m]."""
    half = wire.overall_diameter_m / 2
    return max(0.0, laid.inner_radius_m - half), laid.outer_radius_m + half


def steady_temperature_c(watts_20c: float, rise: float, air_c: float = AIR_C, other_w: float = 0.0) -> float | None:
    """Temperature at which a winding stays: warmer copper resists more, which warms it further [C].

    T = air + rise (P20 (1 + 3.93e-3 (T - 20)) + other), solved for T; None where no temperature is enough.

    Parameters
    ----------
    watts_20c : I^2 R of all phases if the copper had 20 C [W]
    rise : of the winding over the air for every watt [K/W]
    air_c, other_w : temperature of the air; heat from elsewhere, such as eddy currents [W]
    """
    feedback = rise * watts_20c * COPPER_RESISTIVITY_PER_K
    if feedback >= 1:
        return None
    at_air = watts_20c * (1 + COPPER_RESISTIVITY_PER_K * (air_c - REFERENCE_TEMPERATURE_C))
    return air_c + rise * (at_air + other_w) / (1 - feedback)


def heat_of(design: Design, laid: Lay, copper: Impedance, idle_w_s2: float) -> Heat:
    """How much current warms the winding to where resin softens, in still and in moving air.

    I = sqrt(((softens - air) / rise - idle watts) / (phases R)), rise by `rise_k_per_w`, R at the limit; idle losses
    are taken to go with 1 / rho, as eddy currents do.

    Parameters
    ----------
    design : the highest of the speeds it asks about is where idle losses are counted
    laid, copper : the winding and its resistance
    idle_w_s2 : what it wastes without a current at its terminals, at the wire's temperature, over the square of speed
        [W s^2]
    """
    winding, wire, speed = design.winding, design.wire, top_speed_rpm(design) * RPM
    idle_w = idle_w_s2 * speed**2 * copper_resistivity(wire.temperature_c) / copper_resistivity(SOFTENS_C)
    ohms = (
        winding.phases
        * copper.resistance_20c_ohm
        * copper_resistivity(SOFTENS_C)
        / copper_resistivity(REFERENCE_TEMPERATURE_C)
    )
    area = winding.parallel * copper_area_m2(wire) / wire.strands_in_series

    def cooling(transfer: float) -> Cooling:
        rise = rise_k_per_w(laid, winding, wire, transfer)
        watts = max(0.0, (SOFTENS_C - AIR_C) / rise - idle_w)
        current = math.sqrt(watts / ohms)
        return Cooling(transfer, rise, current, current / area, watts)

    return Heat(SOFTENS_C, AIR_C, speed, idle_w, cooling(STILL_AIR_W_M2_K), cooling(MOVING_AIR_W_M2_K))
