"""What a winding is worth in a field, in figures that hold for any load and any number of rounds."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.model import Winding, Wire
from fieldrun.field.field_map import FieldMap
from fieldrun.generator.emf import Emf, emf_per_speed
from fieldrun.generator.impedance import impedance
from fieldrun.winding.factors import end_copper_share
from fieldrun.winding.lay import Lay


@dataclass(frozen=True)
class Merits:
    """Figures of one winding in one field.

    Parameters
    ----------
    rounds_per_phase : as laid
    emf_v_s_per_rad : rms of the first phase per speed
    resistance_ohm : of one phase, at the wire's working temperature
    conductor_length_m : of one phase, as `Impedance` has it
    copper_mass_kg : all phases
    power_w_s2_per_rad2 : EMF^2/R of all phases per speed squared: what shorted phases would turn into heat, and four
        times the most that a load can take. It does not change with the number of rounds in the same space
    end_copper_share : share of the wire in arcs and in steps from sheet to sheet
    torque_least, torque_most : with an equal resistor at each phase, torque goes with the sum of the squares of the
        phases' EMFs; its least and largest value over one period, in shares of its mean. One phase alone pulses between
        nothing and about twice the mean; both are 1 without any field
    """

    rounds_per_phase: int
    emf_v_s_per_rad: float
    resistance_ohm: float
    conductor_length_m: float
    copper_mass_kg: float
    power_w_s2_per_rad2: float
    end_copper_share: float
    torque_least: float
    torque_most: float

    @property
    def power_per_kg(self) -> float:
        """EMF^2/(R kg) [W s2/rad2/kg]: what the same weight of copper gives, whatever the shape does with it."""
        return self.power_w_s2_per_rad2 / self.copper_mass_kg


def merits(field_map: FieldMap, laid: Lay, winding: Winding, wire: Wire) -> Merits:
    """Hold a winding into a field.

    EMF^2/R goes with the copper's cross-section at equal paths and with the rounds at equal wire, EMF^2/(R kg) with
    neither.
    """
    emf = emf_per_speed(field_map, laid, winding, wire)
    copper = impedance(laid.pieces, wire, winding)
    least, most = torque_reach(emf)
    return Merits(
        rounds_per_phase=laid.rounds_per_phase,
        emf_v_s_per_rad=float(emf.rms[0]),
        resistance_ohm=copper.resistance_hot_ohm,
        conductor_length_m=copper.conductor_length_m,
        copper_mass_kg=copper.copper_mass_kg,
        power_w_s2_per_rad2=float(np.sum(emf.rms**2)) / copper.resistance_hot_ohm,
        end_copper_share=end_copper_share(laid.pieces),
        torque_least=least,
        torque_most=most,
    )


def torque_reach(emf: Emf) -> tuple[float, float]:
    """Least and largest sum of the phases' squared EMFs over one period, in shares of its mean; 1, 1 without an EMF."""
    squares = np.sum(emf.waveform**2, axis=0)
    mean = float(squares.mean())
    return (float(squares.min()) / mean, float(squares.max()) / mean) if mean > 0 else (1.0, 1.0)
