"""How thick a winding is, before a single conductor is laid: sheets, former and wire."""

from fieldrun.design.model import WindingShape

FLAT_SHAPES: tuple[WindingShape, ...] = ("serpentine", "rhomboid")
"""Shapes whose sides never cross, so that a layer lies in one sheet."""

CROSSED_SHAPES: tuple[WindingShape, ...] = ("zigzag", "diamond", "hexagon")
"""Shapes whose outward and inward sides cross, so that each layer takes two sheets."""

NAMED_SHAPES = (*FLAT_SHAPES, *CROSSED_SHAPES)
"""Every shape that is drawn by rule; `path` is the user's own."""


def sheets_per_layer(shape: str) -> int:
    """Sheets that one layer of a named shape takes: 2 where its sides cross, else 1."""
    return 2 if shape in CROSSED_SHAPES else 1


def wound_thickness_m(sheets: int, wire_diameter_m: float, former_m: float) -> float:
    """Thickness of the copper stack, with a former left inside a wrapped winding [m]."""
    return sheets * wire_diameter_m + former_m


def sheet_heights_m(sheets: int, wire_diameter_m: float, former_m: float, middle_m: float) -> tuple[float, ...]:
    """Heights of the sheets' mid-planes, lowest first [m].

    Sheet i of S at middle + (i - (S-1)/2) d; with a former (two sheets only) each is pushed out by half of it.
    """
    offsets = [(i - (sheets - 1) / 2) * wire_diameter_m for i in range(sheets)]
    return tuple(middle_m + z + (former_m / 2 if z > 0 else -former_m / 2 if z < 0 else 0.0) for z in offsets)
