"""How thick wire really is: enamelled round wire by table, gauge numbers by formula, bundles by rule."""

import math
from functools import lru_cache
from typing import Literal

from fieldrun.design.model import Wire
from fieldrun.design.resources import csv_rows
from fieldrun.design.units import MM, metres

Enamel = Literal[1, 2]

BUNCHING = 1.27
"""Diameter of a bundle over sqrt(strands) x strand diameter; catalogued bundles give 1.25 to 1.28 (elektrisola.com,
LW dimensions, 0.020 mm strands), the textbook's 1.155 is 8 to 11 % too small."""

AWG_LARGEST, AWG_SMALLEST = 5, 51
"""Gauge numbers whose copper lies within the table of enamelled wire, 5 mm to 0.02 mm."""

HEXAGONAL = math.pi / math.sqrt(12)
"""Share of the area that equal circles fill at most."""

BUNCHING_TAKE_UP, CABLING_TAKE_UP = 1.015, 1.025
"""Resistance over that of straight strands by rule, for each bunching of strands and each cabling of bundles
(newenglandwire.com, catalogue p. 131): for bought bundles of unknown lay."""

COPPER_LEAST_M, COPPER_MOST_M = 0.02e-3, 5e-3
"""Bare diameters that the table of enamelled wire covers."""


def awg_diameter_m(gauge: int) -> float:
    """Bare diameter of an American wire gauge (ASTM B258): 0.127 mm x 92^((36 - n) / 39) [m]."""
    return 0.127e-3 * math.pow(92, (36 - gauge) / 39)


def overall_diameter_m(copper_m: float, enamel: Enamel = 1) -> float:
    """Largest diameter over the enamel (IEC 60317-0-1 table of maximum overall diameters) [m].

    A size between the preferred ones, and every AWG size, takes the increase of the next larger preferred size.

    Raises
    ------
    ValueError
        If the bare diameter lies outside the table.
    """
    for bare, increase in _increases(enamel):
        if copper_m <= bare * (1 + 1e-9):
            return copper_m + increase
    raise ValueError(f"{copper_m / MM:g} mm of copper is beyond the table of enamelled wire")


def bundle_diameter_m(strand_overall_m: float, strands: int, bunching: float = BUNCHING) -> float:
    """Diameter of an unserved bundle: bunching x sqrt(strands) x strand over its enamel [m]."""
    return bunching * math.sqrt(strands) * strand_overall_m


def lay_factor(bundle_m: float, lay_m: float) -> float:
    """Strand length over bundle length of a twisted bundle, averaged over its cross-section.

    Strands are helices of one pitch at every radius up to R: with s = sqrt(1 + (2 pi R / lay)^2), what the outermost
    takes up, the mean over the circle is (2/3) (s^3 - 1) / (s^2 - 1) = (2/3) (s^2 + s + 1) / (s + 1), at least 1.

    Parameters
    ----------
    bundle_m : diameter 2 R of the bundle without serving [m]
    lay_m : length of one turn of the twist [m]
    """
    outermost = math.hypot(1, math.pi * bundle_m / lay_m)
    return 2 / 3 * (outermost**2 + outermost + 1) / (outermost + 1)


def shortest_lay_m(bundle_m: float, bunching: float) -> float:
    """Lay below which the strands of a bundle no longer find room in it [m]; infinite if they lie too tight straight.

    Cut square to the bundle, slanted strands are ellipses: they fill take-up / bunching^2 of its circle, and no more
    than hexagonal packing. The take-up m that this allows is solved for s of `lay_factor`:
    s = (q + sqrt(q^2 + 8 q)) / 4, q = 3 m - 2.

    Parameters
    ----------
    bundle_m : diameter of the bundle without serving [m]
    bunching : bundle diameter over sqrt(strands) x strand
    """
    room = 3 * HEXAGONAL * bunching**2 - 2
    if room <= 1:
        return math.inf
    outermost = (room + math.sqrt(room**2 + 8 * room)) / 4
    return math.pi * bundle_m / math.sqrt(outermost**2 - 1)


def solid_wire(copper_m: float, enamel: Enamel = 1, temperature_c: float = 60.0) -> Wire:
    """Enamelled round wire.

    Parameters
    ----------
    copper_m : bare diameter [m]
    enamel : grade
    temperature_c : of the copper at work [C]

    Raises
    ------
    ValueError
        If the bare diameter lies outside the table.
    """
    return Wire("solid", copper_m, 1, overall_diameter_m(copper_m, enamel), temperature_c)


def litz_wire(
    strand_m: float,
    strands: int,
    *,
    enamel: Enamel = 1,
    temperature_c: float = 60.0,
    lay_m: float | None = None,
    bunching: float = BUNCHING,
    serving_m: float = 0.0,
    strands_in_series: int = 1,
    bench_m: float | None = None,
) -> Wire:
    """A bundle of enamelled strands, bought or twisted at home.

    Parameters
    ----------
    strand_m : bare diameter of one strand [m]
    strands : in all
    enamel : grade
    temperature_c : of the copper at work [C]
    bunching : bundle diameter over sqrt(strands) x strand
    lay_m : length of one turn of the twist [m]; None counts the strands as straight
    serving_m : what a serving of yarn or tape adds to the diameter [m]
    strands_in_series : groups of strands joined in series at the ends; divides `strands`
    bench_m : distance between the two holding points of a bundle twisted at home [m]

    Raises
    ------
    ValueError
        If the strands' bare diameter lies outside the table.
    """
    bundle = bundle_diameter_m(overall_diameter_m(strand_m, enamel), strands, bunching)
    factor = lay_factor(bundle, lay_m) if lay_m else 1.0
    return Wire(
        kind="litz",
        strand_diameter_m=strand_m,
        strands=strands,
        overall_diameter_m=bundle + serving_m,
        temperature_c=temperature_c,
        length_factor=factor,
        strands_in_series=strands_in_series,
        lay_m=lay_m,
        bench_m=bench_m,
    )


def preferred_sizes_m() -> tuple[float, ...]:
    """Bare diameters that enamelled wire is drawn to (series R 20 of IEC 60317-0-1), thinnest first [m]."""
    return tuple(bare for bare, _ in _increases(1))


@lru_cache
def _increases(enamel: Enamel) -> tuple[tuple[float, float], ...]:
    rows = csv_rows("enamelled_wire.csv")
    sizes = [(float(row["copper_mm"]), float(row[f"grade_{enamel}_mm"])) for row in rows]
    return tuple((metres(bare), metres(overall - bare)) for bare, overall in sizes)
