"""Metres, ohms and kilograms of the copper."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.materials import (
    COPPER_DENSITY_KG_M3,
    COPPER_RESISTIVITY_20C_OHM_M,
    copper_resistivity,
)
from fieldrun.design.model import Winding, Wire
from fieldrun.winding.pieces import Pieces, lengths


@dataclass(frozen=True, eq=False)
class Impedance:
    """What one phase's copper amounts to at direct current; skin effect is nil at the frequencies of slow wind.

    Parameters
    ----------
    phase_lengths_m : (phases,) length of the conductors' paths, whatever is joined in parallel or series; links
        between turns are not in it [m]
    conductor_length_m : their mean; they are equal but for a path that treats its phases differently [m]
    resistance_20c_ohm, resistance_hot_ohm : of one phase of mean length at its terminals [ohm]
    copper_mass_kg : all phases, without enamel and links [kg]
    """

    phase_lengths_m: Floats
    conductor_length_m: float
    resistance_20c_ohm: float
    resistance_hot_ohm: float
    copper_mass_kg: float

    def __post_init__(self) -> None:
        """Copy and lock the array."""
        object.__setattr__(self, "phase_lengths_m", frozen_array(self.phase_lengths_m))


def impedance(pieces: Pieces, wire: Wire, winding: Winding) -> Impedance:
    """Length, resistance and mass of a winding.

    R20 = rho20 L f / A x s^2 / g^2: A the copper of all strands, f the strands' length over the bundle's, s strands in
    series (the length grows s times and the section shrinks to 1/s), g equal groups of rounds in parallel. Hot: rho
    grows by 3.93e-3 per kelvin over 20 C.

    Parameters
    ----------
    pieces : every conductor of every phase
    wire, winding : for copper, temperature, phases and parallel groups
    """
    per_phase = np.bincount(pieces.phase, lengths(pieces), winding.phases).astype(float)
    mean = float(np.mean(per_phase))
    area = copper_area_m2(wire)
    strands = wire.length_factor * (wire.strands_in_series / winding.parallel) ** 2
    cold = COPPER_RESISTIVITY_20C_OHM_M * mean / area * strands
    warming = copper_resistivity(wire.temperature_c) / COPPER_RESISTIVITY_20C_OHM_M
    mass = COPPER_DENSITY_KG_M3 * area * wire.length_factor * float(np.sum(per_phase))
    return Impedance(per_phase, mean, cold, cold * warming, mass)


def copper_area_m2(wire: Wire) -> float:
    """Bare copper of all strands, cut square to each: N pi d^2 / 4 [m^2]."""
    return wire.strands * math.pi / 4 * wire.strand_diameter_m**2
