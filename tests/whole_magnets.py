"""Rings of whole magnets as magpylib's bodies, for tests that take their fields in closed form."""

import math
from types import ModuleType
from typing import Any

from fieldrun.design.model import Arc, Disc, Magnets, Outline


def ring_of_bodies(
    magpylib: ModuleType, magnets: Magnets, between_m: tuple[float, float], outline: Outline | None = None
) -> list[Any]:
    """All magnets of a disc between two heights, north poles first; with another outline if one is given."""
    pitch = 360 / magnets.count
    poles = [_body(magpylib, magnets, between_m, outline or magnets.outline, (-1) ** j) for j in range(magnets.count)]
    return [pole.rotate_from_angax(j * pitch, "z", anchor=0) for j, pole in enumerate(poles)]


def _body(magpylib: ModuleType, magnets: Magnets, between_m: tuple[float, float], outline: Outline, sign: int) -> Any:
    low, high = between_m
    polarization, middle = (0, 0, sign * magnets.remanence_t), (low + high) / 2
    if isinstance(outline, Arc):
        half = math.degrees(outline.share * math.pi / magnets.count)
        sector = (outline.inner_radius_m, outline.outer_radius_m, high - low, -half, half)
        return magpylib.magnet.CylinderSegment(polarization=polarization, dimension=sector, position=(0, 0, middle))
    place = (outline.pitch_radius_m, 0, middle)
    if isinstance(outline, Disc):
        size = (outline.diameter_m, high - low)
        return magpylib.magnet.Cylinder(polarization=polarization, dimension=size, position=place)
    sides = (outline.radial_m, outline.tangential_m, high - low)
    return magpylib.magnet.Cuboid(polarization=polarization, dimension=sides, position=place)
