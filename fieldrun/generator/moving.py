"""What turns with the shaft: its mass and its moment of inertia, part by part."""

import math
from dataclasses import dataclass
from typing import assert_never

import numpy as np

from fieldrun.design.materials import COPPER_DENSITY_KG_M3
from fieldrun.design.model import Arc, Block, Design, Disc, Magnets, Rotor
from fieldrun.generator.heating import face_radii_m
from fieldrun.generator.impedance import Impedance
from fieldrun.winding.lay import Lay
from fieldrun.winding.pieces import Pieces
from fieldrun.winding.sampling import distinct, gauss_samples

STEEL_KG_M3 = 7850.0
"""Mild steel (EN 1991-1-1 table A.4, 77 to 78.5 kN/m^3, from memory)."""

RESIN_KG_M3 = 1150.0
"""Cast epoxy or polyester without filler: 1100 to 1200 (makers' data sheets, from memory)."""

FORMER_KG_M3 = 700.0
"""Birch plywood, for a former that stays in the gap: 650 to 720 (from memory); printed ones weigh more."""


@dataclass(frozen=True)
class Part:
    """Something that turns: mass [kg] and moment of inertia about the shaft [kg m^2]."""

    name: str
    mass_kg: float
    inertia_kg_m2: float


@dataclass(frozen=True)
class Moving:
    """All that turns and is known from the design; hub, shaft and boards are not."""

    parts: tuple[Part, ...]

    @property
    def mass_kg(self) -> float:
        """Mass of all parts [kg]."""
        return math.fsum(part.mass_kg for part in self.parts)

    @property
    def inertia_kg_m2(self) -> float:
        """Moment of inertia of all parts about the shaft [kg m^2]."""
        return math.fsum(part.inertia_kg_m2 for part in self.parts)


def moving_of(design: Design, laid: Lay, copper: Impedance) -> Moving:
    """Magnets with their steel, or the winding with its resin, whichever `rotor.spins` names.

    Parameters
    ----------
    design : a return plate turns with the magnets
    laid, copper : the winding as laid, and its mass
    """
    if design.rotor.spins == "coil":
        return Moving(winding_parts(design, laid, copper))
    return Moving((magnets_part(design.magnets, design.rotor.faces), *steel_parts(design.rotor)))


def magnets_part(magnets: Magnets, faces: int) -> Part:
    """All magnets of all faces, by their plain outline.

    About the shaft a disc of diameter D at R has m (R^2 + D^2/8), a block a by b m (R^2 + (a^2 + b^2)/12), ring sectors
    m (r1^2 + r2^2)/2.
    """
    area, square = _outline(magnets)
    mass = faces * area * magnets.thickness_m * magnets.density_kg_m3
    return Part("magnets", mass, mass * square)


def _outline(magnets: Magnets) -> tuple[float, float]:
    """Area of all bodies of a face [m^2], and the mean square of their distance from the axis [m^2]."""
    outline, bodies = magnets.outline, magnets.count * magnets.segments_per_pole
    if isinstance(outline, Disc):
        area = math.pi / 4 * outline.diameter_m**2
        return bodies * area, outline.pitch_radius_m**2 + outline.diameter_m**2 / 8
    if isinstance(outline, Block):
        square = outline.pitch_radius_m**2 + (outline.radial_m**2 + outline.tangential_m**2) / 12
        return bodies * outline.radial_m * outline.tangential_m, square
    if isinstance(outline, Arc):
        ring = math.pi * (outline.outer_radius_m**2 - outline.inner_radius_m**2)
        return outline.share * ring, (outline.outer_radius_m**2 + outline.inner_radius_m**2) / 2
    assert_never(outline)


def steel_parts(rotor: Rotor) -> tuple[Part, ...]:
    """The steel disc behind each face of magnets, and the return plate; ideal ones have no mass."""
    plates = (
        ("steel discs" if rotor.faces == 2 else "steel disc", rotor.backing, rotor.faces),
        ("return plate", rotor.return_plate, 1),
    )
    ring = (rotor.steel_inner_radius_m, rotor.steel_outer_radius_m)
    return tuple(
        _annulus(name, ring, count * plate.thickness_m, STEEL_KG_M3)
        for name, plate, count in plates
        if plate is not None and plate.steel is not None
    )


def winding_parts(design: Design, laid: Lay, copper: Impedance) -> tuple[Part, ...]:
    """Copper, a former left in the gap, and resin in all the rest of the winding's annulus (enamel counts as resin)."""
    ring, former = face_radii_m(laid, design.wire), design.winding.former_in_gap_m
    square = _mean_square_radius_m2(laid.pieces)
    wire = Part("copper", copper.copper_mass_kg, copper.copper_mass_kg * square)
    full = _annulus("resin", ring, laid.thickness_m + design.winding.resin_m - former, RESIN_KG_M3)
    parts = (wire, _less(full, wire, RESIN_KG_M3 / COPPER_DENSITY_KG_M3))
    return parts + ((_annulus("former", ring, former, FORMER_KG_M3),) if former > 0 else ())


def _less(full: Part, inside: Part, density_ratio: float) -> Part:
    """What is left of a body where another one takes its place; nothing where that one is larger."""
    mass = full.mass_kg - density_ratio * inside.mass_kg
    inertia = full.inertia_kg_m2 - density_ratio * inside.inertia_kg_m2
    return Part(full.name, mass, inertia) if mass > 0 and inertia > 0 else Part(full.name, 0.0, 0.0)


def _annulus(name: str, ring: tuple[float, float], thickness_m: float, density_kg_m3: float) -> Part:
    inner, outer = ring
    mass = math.pi * (outer**2 - inner**2) * thickness_m * density_kg_m3
    return Part(name, mass, mass * (inner**2 + outer**2) / 2)


def _mean_square_radius_m2(pieces: Pieces) -> float:
    """Mean square distance of the wire from the axis, along its length [m^2]."""
    different = distinct(pieces)
    samples = gauss_samples(different.pieces, np.empty(0), 0.0)
    radius = samples.point[:, 0]
    step = np.sqrt(samples.step[:, 0] ** 2 + (radius * samples.step[:, 1]) ** 2 + samples.step[:, 2] ** 2)
    copies = np.bincount(different.which, minlength=different.pieces.count)[samples.piece]
    return float(np.sum(copies * step * radius**2) / np.sum(copies * step))
