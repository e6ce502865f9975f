"""Machines in a line each, lengths in millimetres: what the files of this folder that list many of them share."""

from dataclasses import replace

from fieldrun.design.model import Arc, Block, Disc, Magnets, Outline, Plate, Rotor, Winding, Wire

MM = 1e-3
IDEAL = Plate(None)

BARE = Rotor(1, None, None, None, 0.0, 0.1)
BACKED = replace(BARE, backing=IDEAL)


def magnets_of(outline: Outline, count: int, thickness_mm: float) -> Magnets:
    """Of 1.3 T and recoil permeability 1: what closed forms know."""
    return Magnets(outline, count, thickness_mm * MM, 1.3, 1.0, 7500.0)


def disc(diameter: float, pitch_radius: float) -> Disc:
    return Disc(diameter * MM, pitch_radius * MM)


def block(radial: float, tangential: float, pitch_radius: float) -> Block:
    return Block(radial * MM, tangential * MM, pitch_radius * MM)


def arc(inner: float, outer: float, share: float) -> Arc:
    return Arc(inner * MM, outer * MM, share)


def backed_to_plate(gap_mm: float) -> Rotor:
    return Rotor(1, gap_mm * MM, IDEAL, IDEAL, 0.0, 0.1)


def bare_to_plate(gap_mm: float) -> Rotor:
    return Rotor(1, gap_mm * MM, None, IDEAL, 0.0, 0.1)


def two_bare(gap_mm: float) -> Rotor:
    return Rotor(2, gap_mm * MM, None, None, 0.0, 0.1)


def two_backed(gap_mm: float) -> Rotor:
    return Rotor(2, gap_mm * MM, IDEAL, None, 0.0, 0.1)


def wound(shape: str, inner_mm: float, outer_mm: float, height_mm: float, **more: object) -> Winding:
    """One round of three phases in one layer, unless more is said."""
    plain = Winding(shape, inner_mm * MM, outer_mm * MM, 3, 1, 1, height_mm * MM)  # type: ignore[arg-type]
    return replace(plain, **more)  # type: ignore[arg-type]


def wire(diameter_mm: float) -> Wire:
    return Wire("solid", diameter_mm * MM, 1, diameter_mm * MM)
