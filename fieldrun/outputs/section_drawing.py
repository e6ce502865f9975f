"""From a solved section to the plain arrays its picture is drawn from."""

import math

import numpy as np

from fieldrun.field.element_parts import element_parts, flux_in_parts
from fieldrun.field.magnetostatics import SectionField
from fieldrun.field.section import Region
from fieldrun.outputs.section_mirror import Kind, Part, SectionDrawing

PLAIN_NAMES = {"backing": "steel", "return plate": "steel plate"}
"""What regions are called in the picture; magnets are told apart by their arrows."""


def section_drawing(field: SectionField) -> SectionDrawing:
    """Nodes, triangles, potential and strength of a section, with the outlines of what is in it."""
    corners, strength = element_parts(field), np.linalg.norm(flux_in_parts(field), axis=1)
    if corners.shape[1] == 4:
        corners = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]])
        strength = np.tile(strength, 2)
    parts = tuple(_part(region) for region in field.section.regions if region.polygon_m)
    return SectionDrawing(field.basis.doflocs.T, corners, field.potential, strength, parts)


def _part(region: Region) -> Part:
    along, up = region.remanence_t
    return Part(_name(region), region.polygon_m, _kind(region), math.atan2(up, along))


def _name(region: Region) -> str:
    return PLAIN_NAMES.get(region.name, "magnet" if _kind(region).startswith("magnet") else region.name)


def _kind(region: Region) -> Kind:
    if region.steel is not None:
        return "steel"
    if region.remanence_t == (0.0, 0.0):
        return "air"
    return {"magnet_up": "magnet up", "magnet_down": "magnet down"}.get(region.name, "magnet")  # type: ignore[return-value]  # the literals stand right here
