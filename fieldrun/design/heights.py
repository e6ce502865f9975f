"""How high the winding is, where its middle lies, and whether the gap has room for it [all mm, as in the file]."""

import math
from collections.abc import Iterator

from fieldrun.design.checks_rotor import is_open
from fieldrun.design.errors import Fault
from fieldrun.design.file_tables import WindingTable, WireTable
from fieldrun.design.resolve_wire import wire_of
from fieldrun.design.shapes import NOTCH_LIST_SHEETS
from fieldrun.design.stack import sheets_per_layer, wound_thickness_m
from fieldrun.design.tables import Tables
from fieldrun.design.units import MM, metres

HAIR_MM = 1e-6
"""Lengths that differ by less are equal."""


def thickness_mm(tables: Tables) -> float | None:
    """Copper, former and resin of a named shape or notch list; None for a table of points or if a key is missing."""
    winding, wire, sheets = tables.winding, wire_of(tables), _sheets(tables.winding)
    if sheets is None or wire is None:
        return None
    wound = wound_thickness_m(sheets, wire.overall_diameter_m, metres(winding.former_in_gap_mm))
    return wound / MM + winding.resin_mm


def is_notch_list(winding: WindingTable) -> bool:
    """Whether a path is told as a walk from notch to notch."""
    return winding.shape == "path" and winding.inner_notches is not None and winding.outer_notches is not None


def _sheets(winding: WindingTable) -> int | None:
    if is_notch_list(winding):
        return NOTCH_LIST_SHEETS
    if winding.shape is None or winding.shape == "path" or winding.layers is None:
        return None
    return winding.layers * sheets_per_layer(winding.shape)


def gap_of_mm(tables: Tables) -> float | None:
    """The gap as a number: what is written, or what the stack needs; None if open above or not known."""
    gap, thickness = tables.rotor.gap_mm, thickness_mm(tables)
    if gap != "stack":
        return gap
    return None if thickness is None else thickness + 2 * tables.winding.clearance_mm


def height_of_mm(tables: Tables) -> float | None:
    """Middle of the winding above the lower magnets: as written, else mid-gap, else just clear of a bare face."""
    winding = tables.winding
    if winding.shape == "path" and not is_notch_list(winding):
        return 0.0  # a table of points carries its own heights
    if winding.height_mm is not None:
        return winding.height_mm
    gap, thickness = gap_of_mm(tables), thickness_mm(tables)
    if not is_open(tables.rotor):
        return None if gap is None else gap / 2
    return None if thickness is None else winding.clearance_mm + thickness / 2


def fit_faults(tables: Tables) -> Iterator[Fault]:
    """Winding and clearances against the gap, and a height of the user's against both faces."""
    thickness, gap = thickness_mm(tables), gap_of_mm(tables)
    if thickness is None or any(
        tables.is_faulty(key) for key in ("rotor.gap_mm", "winding.clearance_mm", "rotor.faces")
    ):
        return
    if tables.is_faulty("winding.resin_mm") or tables.is_faulty("winding.former_in_gap_mm"):
        return
    need = thickness + 2 * tables.winding.clearance_mm
    if gap is not None and (wire := wire_of(tables)) and wire.overall_diameter_m / MM > gap + HAIR_MM:
        yield Fault(_size_key(tables.wire), _too_thick(wire.overall_diameter_m / MM, gap))
    elif gap is not None and need > gap + HAIR_MM:
        yield Fault("rotor.gap_mm", _too_tight(tables, thickness, need, gap))
    elif tables.winding.height_mm is not None:
        yield from _sticks_out(tables, tables.winding.height_mm, thickness, gap)


def _too_tight(tables: Tables, thickness: float, need: float, gap: float) -> str:
    clearance = tables.winding.clearance_mm
    fewer = "fewer layers or " if (tables.winding.layers or 1) > 1 else ""
    return (
        f"the winding is {thickness:.2f} mm thick and needs {need:.2f} mm with a clearance of {clearance:g} mm on each "
        f'side; the gap of {gap:g} mm is {need - gap:.2f} mm too small; try gap_mm = {_up(need):g}, "stack", '
        f"{fewer}thinner wire"
    )


def _size_key(wire: WireTable) -> str:
    if wire.kind == "litz":
        return "wire.strands"
    return "wire.awg" if wire.awg is not None else "wire.copper_mm"


def _too_thick(wire: float, gap: float) -> str:
    return (
        f"one wire is {wire:.2f} mm thick over everything, {wire - gap:.2f} mm more than the whole gap of {gap:g} mm; "
        'try thinner wire, or gap_mm = "stack"'
    )


def _sticks_out(tables: Tables, height: float, thickness: float, gap: float | None) -> Iterator[Fault]:
    room = tables.winding.clearance_mm + thickness / 2
    low, high = room, math.inf if gap is None else gap - room
    if height < low - HAIR_MM:
        text = f"comes {low - height:.2f} mm too near the lower magnets"
    elif height > high + HAIR_MM:
        text = (
            f"comes {height - high:.2f} mm too near {'the upper magnets' if tables.rotor.faces == 2 else 'the plate'}"
        )
    else:
        return
    limit = f"at least {low:.2f}" if gap is None else f"between {low:.2f} and {high:.2f}"
    yield Fault(
        "winding.height_mm",
        f"the winding, {thickness:.2f} mm thick with {tables.winding.clearance_mm:g} mm of clearance, {text}; "
        f"must be {limit}; received {height:g}",
    )


def _up(length: float) -> float:
    return math.ceil(length * 10 - 1e-6) / 10
