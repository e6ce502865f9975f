"""What one metre of wire amounts to: ohms at any temperature, ohms by catalogue, grams."""

from dataclasses import dataclass

from fieldrun.design.materials import COPPER_DENSITY_KG_M3, COPPER_RESISTIVITY_20C_OHM_M, copper_resistivity
from fieldrun.design.model import Wire
from fieldrun.generator.impedance import copper_area_m2

NOMINAL_RESISTIVITY_OHM_M = 1e-6 / 58.5
"""What catalogues of enamelled wire reckon with (IEC 60317: nominal 1/58.5, at least 1/59, at most 1/58 ohm mm^2/m, by
sh-wire.de, Berechnungstabellen); 0.9 % less than the standard copper that every other number here rests on."""


@dataclass(frozen=True)
class WireMetre:
    """One metre of conductor as it is laid, its strands all in parallel.

    Parameters
    ----------
    copper_m2 : bare copper of all strands, cut square to each [m^2]
    resistance_20c_ohm, resistance_hot_ohm : of a metre, twist included
    nominal_ohm : of a metre at 20 C by the wire maker's catalogue, twist included
    mass_kg : copper of a metre, twist included
    """

    copper_m2: float
    resistance_20c_ohm: float
    resistance_hot_ohm: float
    nominal_ohm: float
    mass_kg: float


def wire_metre(wire: Wire) -> WireMetre:
    """Ohms and kilograms of a metre: rho f / A and density A f, f the strands' length over the bundle's."""
    area = copper_area_m2(wire)
    per_resistivity = wire.length_factor / area
    return WireMetre(
        copper_m2=area,
        resistance_20c_ohm=COPPER_RESISTIVITY_20C_OHM_M * per_resistivity,
        resistance_hot_ohm=copper_resistivity(wire.temperature_c) * per_resistivity,
        nominal_ohm=NOMINAL_RESISTIVITY_OHM_M * per_resistivity,
        mass_kg=COPPER_DENSITY_KG_M3 * area * wire.length_factor,
    )
