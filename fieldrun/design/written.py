"""The design as it was understood: every key resolved, in file units, as text that can be hashed and read again."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldrun.design.checks_rotor import is_open, is_steel, steel_radii_mm
from fieldrun.design.checks_wind import MEANS
from fieldrun.design.heights import gap_of_mm, height_of_mm, is_notch_list
from fieldrun.design.materials import magnet_grade
from fieldrun.design.model import Design, Magnets
from fieldrun.design.resolve import connection_of, rounds_of
from fieldrun.design.resolve_wire import copper_m
from fieldrun.design.shapes import SHAPE_DEFAULTS, WIRE_OPTIONS, winding_options
from fieldrun.design.tables import Tables
from fieldrun.design.text_file import is_file
from fieldrun.design.units import MM

DIGITS = 12
"""Significant digits of a resolved number: more than any maker's, fewer than the noise of arithmetic."""


def written_text(tables: Tables, title: str, magnets: Magnets) -> str:
    """JSON of every key with its default filled in, sorted; a key that does not apply is absent.

    The default of belt_deg is left to the lay, which knows where the legs stand.
    """
    resolved: dict[str, Any] = {
        "title": title,
        "magnets": _dump(tables.magnets) | _magnets(tables, magnets),
        "rotor": _dump(tables.rotor) | _rotor(tables),
        "winding": _winding(tables),
        "wire": _wire(tables),
    }
    for name in ("load", "wind", "former", "tolerance"):
        table = getattr(tables, name)
        resolved |= {name: _without(_dump(table), _useless(tables))} if table else {}
    return json.dumps(_plain(resolved), sort_keys=True, ensure_ascii=False)


def _useless(tables: Tables) -> Iterator[str]:
    """Keys whose default means nothing beside the others: they would be refused if the file were read again."""
    if tables.load and tables.load.rectifier == "none":
        yield from ("diode_drop_v", "diode_slope_ohm")
    if tables.wind and all(getattr(tables.wind, key) is None for key in MEANS):
        yield "weibull_shape"


def _without(table: dict[str, Any], keys: Iterable[str]) -> dict[str, Any]:
    useless = set(keys)
    return {key: value for key, value in table.items() if key not in useless}


def file_hashes(tables: Tables, folder: Path) -> tuple[tuple[str, str], ...]:
    """Key and SHA-256 of every file that the design refers to, as they are now."""
    names = {
        "magnets.section_mesh": tables.magnets.section_mesh,
        "rotor.backing": tables.rotor.backing,
        "rotor.return_plate": tables.rotor.return_plate,
        "winding.file": tables.winding.file,
        "wind.cp_curve": tables.wind.cp_curve if tables.wind else None,
        "wind.record": tables.wind.record if tables.wind else None,
    }
    files = {key: folder / name for key, name in names.items() if name and "." in name and is_file(folder / name)}
    return tuple((key, _hash_of(path, path.stat().st_mtime_ns, path.stat().st_size)) for key, path in files.items())


@lru_cache(maxsize=16)
def _hash_of(path: Path, _changed_ns: int, _bytes: int) -> str:
    """SHA-256 of a file as it was last written: a sweep asks for the same one again and again."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def design_hash(design: Design) -> str:
    """First 16 hex digits of SHA-256 over the resolved keys and the content of every file they name."""
    return hashlib.sha256(json.dumps([design.written, design.file_hashes]).encode()).hexdigest()[:16]


def _magnets(tables: Tables, magnets: Magnets) -> dict[str, Any]:
    table = tables.magnets
    grade = {"grade": magnet_grade(table.grade).name} if table.grade else {}
    ends = {"outline_ends": magnets.outline_ends} if table.section_mesh and table.shape != "disc" else {}
    return grade | ends | {"recoil_permeability": magnets.recoil_permeability}


def _rotor(tables: Tables) -> dict[str, Any]:
    table, out = tables.rotor, {}
    if not is_open(table):
        out["gap_mm"] = gap_of_mm(tables)
    if is_steel(table.backing) or is_steel(table.return_plate):
        radii = steel_radii_mm(tables.magnets, table) or (None, None)
        out |= {"steel_inner_radius_mm": radii[0], "steel_outer_radius_mm": radii[1]}
    return out


def _winding(tables: Tables) -> dict[str, Any]:
    table = tables.winding
    shape = table.shape or ""
    notch_list = is_notch_list(table)
    options = winding_options(notch_list=notch_list)
    out = {key: value for key, value in _dump(table).items() if shape in options.get(key, (shape,))}
    out |= {key: default for key, default in SHAPE_DEFAULTS.items() if shape in options[key] and key not in out}
    if table.phases != 1:
        out["connection"] = connection_of(tables)
    rounds = rounds_of(table)
    out["rounds"] = "fill" if rounds is None else rounds
    if shape == "path":
        own = {key: value for key, value in out.items() if key not in {"layers", "resin_mm"}}
        return own | ({"height_mm": height_of_mm(tables)} if notch_list else {})
    return out | {"height_mm": height_of_mm(tables)}


def _wire(tables: Tables) -> dict[str, Any]:
    """A gauge number is resolved to its diameter, so that both spellings are the same design."""
    table = tables.wire
    kept = {k: v for k, v in _dump(table).items() if table.kind in WIRE_OPTIONS.get(k, (table.kind,)) and k != "awg"}
    bare = copper_m(table)
    return kept | ({"copper_mm": bare / MM} if bare is not None else {})


def _dump(table: Any) -> dict[str, Any]:
    return {key: value for key, value in table.model_dump().items() if value is not None}


def _plain(value: Any) -> Any:
    """Round away the last bits of unit conversion, and write whole numbers of a float key as 6.0 always."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value
