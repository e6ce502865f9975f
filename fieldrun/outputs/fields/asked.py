"""Where the field is wanted: what a user writes as radii, angles and heights, and what stands in for what is not."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.units import DEGREE, MM
from fieldrun.generator.machine import middle_height_m
from fieldrun.generator.result import RunResult

RADII, ANGLES = 27, 97
"""Places along the winding's annulus and over a pole pair, both ends included, if nothing is asked."""

MOST_ALONG = 20_000
"""Values that one option may ask for: more is a slip of the keyboard."""

HOW = "write values such as 2,4,6 or START:STOP:COUNT such as 0:45:91"


@dataclass(frozen=True)
class Asked:
    """Places in SI, None where nothing was asked: radii [m], angles [rad], heights [m]."""

    radii_m: tuple[float, ...] | None = None
    angles_rad: tuple[float, ...] | None = None
    heights_m: tuple[float, ...] | None = None


@dataclass(frozen=True, eq=False)
class Places:
    """Ascending radii (r,) [m], angles (t,) [rad] and heights (z,) [m] of a grid."""

    radii_m: Floats
    angles_rad: Floats
    heights_m: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "angles_rad", "heights_m"):
            object.__setattr__(self, name, frozen_array(np.atleast_1d(getattr(self, name))))


def asked_of(radii: str | None, angles: str | None, heights: str | None) -> Asked:
    """Read the three options, in mm and degrees.

    Raises
    ------
    DesignError
        With what is wrong with any of them.
    """
    faults: list[Fault] = []
    found: list[tuple[float, ...] | None] = []
    for key, text, unit in (("--radii", radii, MM), ("--angles", angles, DEGREE), ("--heights", heights, MM)):
        try:
            found.append(None if text is None else tuple(value * unit for value in _values(text)))
        except ValueError as error:
            faults.append(Fault(key, f'{error}; received "{text}"'))
    if faults:
        raise DesignError(faults)
    return Asked(*found)


def _values(text: str) -> list[float]:
    values = _spread(text.split(":")) if ":" in text else [_number(one) for one in text.split(",")]
    if any(later <= earlier for earlier, later in pairwise(values)):
        raise ValueError("must rise from each value to the next")
    return values


def _spread(parts: list[str]) -> list[float]:
    if len(parts) != 3:
        raise ValueError(f"a range has three parts; {HOW}")
    start, stop, count = (_number(part) for part in parts)
    if count != round(count) or not 2 <= count <= MOST_ALONG:
        raise ValueError(f"COUNT must be a whole number from 2 to {MOST_ALONG}")
    return [float(value) for value in np.linspace(start, stop, round(count))]


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"must be numbers; {HOW}") from None
    if not math.isfinite(value):
        raise ValueError(f"must be finite numbers; {HOW}")
    return value


def places_of(result: RunResult, asked: Asked) -> Places:
    """What is asked; else the winding's annulus, one pole pair from a north pole's centre on, copper mid-height."""
    laid = result.lay
    radii = np.linspace(laid.inner_radius_m, laid.outer_radius_m, RADII)
    angles = np.linspace(0, 2 * math.pi / result.field_map.pole_pairs, ANGLES)
    return Places(
        radii if asked.radii_m is None else np.array(asked.radii_m),
        angles if asked.angles_rad is None else np.array(asked.angles_rad),
        np.array([middle_height_m(laid)] if asked.heights_m is None else asked.heights_m),
    )
