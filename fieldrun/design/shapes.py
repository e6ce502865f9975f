"""Which key belongs to which shape, in one place: what a shape needs, what it may have, and what it has no use for."""

from typing import Any

from fieldrun.design.model import Winding
from fieldrun.design.stack import NAMED_SHAPES

MAGNET_NEEDS = {
    "disc": ("diameter_mm", "pitch_radius_mm"),
    "block": ("radial_mm", "tangential_mm", "pitch_radius_mm"),
    "arc": ("inner_radius_mm", "outer_radius_mm", "arc_share"),
}
"""Keys that fix a magnet's outline, per shape; a shape has no use for the others'."""

WINDING_NEEDS = {
    **dict.fromkeys(NAMED_SHAPES, ("inner_radius_mm", "outer_radius_mm", "rounds", "layers")),
    "path": ("file",),
}
"""Keys that a winding must have beside shape and phases."""

SHAPE_NUMBERS: dict[str, tuple[str, ...]] = {
    "span": ("zigzag", "rhomboid", "diamond", "hexagon"),
    "skew": ("rhomboid",),
    "straight_share": ("hexagon",),
}
"""Which named shapes are drawn by which number: a key of the file, a field of `Winding`, a column of `compare`."""

SHAPE_DEFAULTS: dict[str, Any] = {key: getattr(Winding, key) for key in SHAPE_NUMBERS}
"""How a shape is drawn where its file says nothing."""


def numbers_of(winding: Winding) -> dict[str, Any]:
    """The numbers that a winding's own shape is drawn by."""
    return {key: getattr(winding, key) for key, shapes in SHAPE_NUMBERS.items() if winding.shape in shapes}


WINDING_OPTIONS = {
    "leg": NAMED_SHAPES,
    "belts": NAMED_SHAPES,
    "belt_deg": NAMED_SHAPES,
    "height_mm": NAMED_SHAPES,
    "former_in_gap_mm": NAMED_SHAPES,
    **SHAPE_NUMBERS,
    "file": ("path",),
    "step_deg": ("path",),
    "inner_notches": ("path",),
    "outer_notches": ("path",),
}
"""Winding keys that only some shapes have a use for."""

NOTCH_LIST_OPTIONS = ("leg", "height_mm")
"""Keys of named shapes that a path has a use for after all if it is a walk from notch to notch."""

NOTCH_LIST_SHEETS = 2
"""A notch list lies like one layer of a crossed shape: outward legs above, inward legs below."""


def winding_options(*, notch_list: bool) -> dict[str, tuple[str, ...]]:
    """Which shapes have a use for each winding key, for a notch list or for everything else."""
    added = dict.fromkeys(NOTCH_LIST_OPTIONS, ("path",)) if notch_list else {}
    return {key: shapes + added.get(key, ()) for key, shapes in WINDING_OPTIONS.items()}


WIRE_OPTIONS = {
    "copper_mm": ("solid",),
    "awg": ("solid",),
    "strand_mm": ("litz",),
    "strands": ("litz",),
    "lay_mm": ("litz",),
    "bunching": ("litz",),
    "serving_mm": ("litz",),
    "strands_in_series": ("litz",),
    "bench_mm": ("litz",),
}
"""Wire keys that only some kinds have a use for."""

LOAD_OPTIONS = {"voltage_v": ("battery",), "resistance_ohm": ("battery", "resistor")}
"""Load keys that only some kinds have a use for."""
