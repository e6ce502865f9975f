"""The files of a field that are no pictures: table, arrays, and grids of cells."""

from dataclasses import replace
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Design
from fieldrun.field.ring_view import RingView
from fieldrun.field.vtu_file import write_vtu
from fieldrun.generator.machine import middle_height_m
from fieldrun.generator.result import RunResult
from fieldrun.outputs.fields.field_set import FieldSet
from fieldrun.outputs.fields.grid_file import write_grid_csv, write_grid_npz
from fieldrun.outputs.fields.space_files import write_rings, write_solid, write_swept_rings
from fieldrun.outputs.fields.told import difference_of
from fieldrun.outputs.fields.vtu import add_field_data
from fieldrun.outputs.result_file import about
from fieldrun.reference.solid_view import solid_view


def write_tables(fields: FieldSet, folder: Path) -> None:
    """Write the grid as CSV and NPZ, and OTHER less DESIGN as CSV if there is a second design."""
    write_grid_csv(fields.grid, folder / "field-grid.csv")
    write_grid_npz(fields.grid, folder / "field-grid.npz")
    difference = difference_of(fields)
    if difference is None or fields.other is None:
        return
    facts = dict(fields.grid.about) | {
        "other": fields.other.design.name,
        "other_hash": fields.other.design_hash,
        "shows": f"{fields.other.design.name} less {fields.result.design.name}",
    }
    write_grid_csv(replace(fields.grid, b_t=difference, about=tuple(facts.items())), folder / "field-difference.csv")


def write_space(result: RunResult, view: RingView, folder: Path, *, swept: bool = False, solid: bool = False) -> None:
    """Write section and rings as VTU; the rings over a pole pair and the solid model if asked.

    Raises
    ------
    ValueError, SolveError
        As `solid_view`, if the solid model is asked for; `check_solid` refuses before what it does not know.
    """
    facts, design = about(result), result.design
    section = folder / "field-section.vtu"
    write_vtu(section, result.section, facts)
    add_field_data(section, {**facts, "regions": [region.name for region in result.section.section.regions]})
    write_rings(folder / "field-rings.vtu", view, facts)
    if swept:
        write_swept_rings(folder / "field-rings-swept.vtu", view, facts)
    if solid:
        plane = _plane_m(result)
        write_solid(folder / "field-solid.vtu", solid_view(design.magnets, design.rotor, plane), facts)


def _plane_m(result: RunResult) -> float:
    """A height that the solid mesh shall have a plane at: copper mid-height, in the lower half of two faces."""
    height, rotor = middle_height_m(result.lay), result.design.rotor
    return min(height, rotor.gap_m - height) if rotor.faces == 2 and rotor.gap_m is not None else height


def check_solid(design: Design) -> None:
    """Refuse what the solid model does not know.

    Raises
    ------
    DesignError
        For a Halbach array and for an outline of the user's own.
    """
    if design.magnets.pattern == "alternating" and not design.magnets.section_mesh:
        return
    what = "a Halbach array" if design.magnets.pattern != "alternating" else "an outline of your own"
    raise DesignError([Fault("--solid", f"knows alternating discs, blocks and arcs only, not {what}; leave it out")])
