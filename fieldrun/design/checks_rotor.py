"""Faces, gap and steel that fit together."""

from collections.abc import Iterator
from pathlib import Path

from fieldrun.design.checks_magnets import magnet_edges_mm
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.file_tables import MagnetsTable, RotorTable
from fieldrun.design.materials import steel_curve, steel_names, unknown_steel
from fieldrun.design.tables import Tables
from fieldrun.design.text_file import is_file

NO_STEEL = ("none", "ideal")
"""Backings without a magnetisation curve: nothing magnetic behind the magnets, or steel without limits."""


def rotor_faults(tables: Tables, folder: Path) -> Iterator[Fault]:
    """Faults between keys of [rotor]."""
    rotor = tables.rotor
    yield from _gap(tables, rotor)
    yield from _plate(tables, "backing", rotor.backing, rotor.backing_mm, folder)
    if rotor.faces == 2 and rotor.return_plate not in {None, "none"}:
        yield Fault("rotor.return_plate", "two faces of magnets leave no place for it; remove it or set faces = 1")
    yield from _plate(tables, "return_plate", rotor.return_plate, rotor.return_plate_mm, folder)
    if rotor.return_plate is None and rotor.return_plate_mm is not None and not tables.is_faulty("rotor.return_plate"):
        yield Fault("rotor.return_plate_mm", 'given without return_plate; name its steel, such as "mild steel"')
    yield from _steel_radii(tables, rotor)


def has_plate(rotor: RotorTable) -> bool:
    """Whether a return plate faces the magnets."""
    return rotor.return_plate not in {None, "none"}


def is_open(rotor: RotorTable) -> bool:
    """Whether the winding lies over one bare face, so that no gap exists."""
    return rotor.faces == 1 and not has_plate(rotor)


def is_steel(name: str | None) -> bool:
    """Whether a backing or plate is made of steel with a curve."""
    return name is not None and name not in NO_STEEL


def steel_radii_mm(magnets: MagnetsTable, rotor: RotorTable) -> tuple[float, float] | None:
    """Inner and outer radius of the steel discs; by default one magnet thickness beyond the magnets [mm]."""
    edges, thickness = magnet_edges_mm(magnets), magnets.thickness_mm
    inner, outer = rotor.steel_inner_radius_mm, rotor.steel_outer_radius_mm
    if edges is not None and thickness is not None:
        inner = max(edges[0] - thickness, 0.0) if inner is None else inner
        outer = edges[1] + thickness if outer is None else outer
    return None if inner is None or outer is None else (inner, outer)


def _gap(tables: Tables, rotor: RotorTable) -> Iterator[Fault]:
    if rotor.faces is None or tables.is_faulty("rotor.return_plate"):
        return
    if is_open(rotor) and rotor.gap_mm is not None:
        yield Fault(
            "rotor.gap_mm", "one face and no plate have no gap; remove it, or add a return_plate or a second face"
        )
    if not is_open(rotor) and rotor.gap_mm is None and not tables.is_faulty("rotor.gap_mm"):
        to = "magnet face" if rotor.faces == 2 else "return plate"
        yield Fault("rotor.gap_mm", f'missing: magnet face to {to}, such as gap_mm = 9, or "stack"')
    if rotor.gap_mm == "stack" and tables.winding.shape == "path":
        yield Fault("rotor.gap_mm", '"stack" cannot know the height of a path of your own; give the number in mm')


def _plate(tables: Tables, key: str, name: str | None, thickness: float | None, folder: Path) -> Iterator[Fault]:
    if name is None or not is_steel(name):
        return
    if thickness is None and not tables.is_faulty(f"rotor.{key}_mm"):
        yield Fault(f"rotor.{key}_mm", f'missing: how thick is the {key.replace("_", " ")} of "{name}"?')
    is_table = name.lower().endswith(".csv")
    if is_table and not is_file(folder / name):
        yield Fault(f"rotor.{key}", f'there is no file "{folder / name}"; names are relative to the design file')
    elif is_table:
        yield from _table_faults(f"rotor.{key}", name, folder)
    elif name.strip().casefold() not in map(str.casefold, steel_names()):
        text = f'{unknown_steel(name, NO_STEEL)}; "none" is wood or plastic, "ideal" steel without limits'
        yield Fault(f"rotor.{key}", text)


def _table_faults(key: str, name: str, folder: Path) -> Iterator[Fault]:
    """What is wrong with a B-H table: these carry file and line of the table, not of the design."""
    try:
        steel_curve(name, folder)
    except DesignError as error:
        yield from (Fault(key, fault.text, fault.file, fault.line) for fault in error.faults)


def _steel_radii(tables: Tables, rotor: RotorTable) -> Iterator[Fault]:
    radii = steel_radii_mm(tables.magnets, rotor)
    given = [key for key in ("steel_inner_radius_mm", "steel_outer_radius_mm") if getattr(rotor, key) is not None]
    if radii is not None and given and radii[0] >= radii[1]:
        yield Fault(f"rotor.{given[0]}", f"inner must be less than outer; received {radii[0]:g} and {radii[1]:g} mm")
