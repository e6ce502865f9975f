"""What must hold between keys of one design, whatever the shape: needed keys, keys without a use, files that exist."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from fieldrun.design.checks_former import former_faults
from fieldrun.design.checks_magnets import magnet_faults
from fieldrun.design.checks_rotor import rotor_faults
from fieldrun.design.checks_use import load_faults, wire_faults
from fieldrun.design.checks_wind import wind_faults
from fieldrun.design.checks_winding import winding_faults
from fieldrun.design.errors import Fault
from fieldrun.design.file_model import NEEDED_KEYS
from fieldrun.design.file_tables import Table
from fieldrun.design.heights import is_notch_list
from fieldrun.design.nearest import one_of
from fieldrun.design.shapes import LOAD_OPTIONS, MAGNET_NEEDS, WINDING_NEEDS, WIRE_OPTIONS, winding_options
from fieldrun.design.tables import Tables
from fieldrun.design.text_file import is_file


def table_faults(tables: Tables, folder: Path) -> list[Fault]:
    """Every fault between keys. Keys that are faulty by themselves are passed over, not complained about again.

    Parameters
    ----------
    tables : what could be read of the file
    folder : where relative file names start
    """
    return [
        *_missing_keys(tables),
        *_useless_keys(tables),
        *_file_faults(tables, folder),
        *magnet_faults(tables),
        *rotor_faults(tables, folder),
        *winding_faults(tables),
        *wire_faults(tables),
        *load_faults(tables),
        *wind_faults(tables, folder),
        *former_faults(tables),
    ]


def _missing_keys(tables: Tables) -> Iterator[Fault]:
    for name, keys in NEEDED_KEYS.items():
        table = getattr(tables, name)
        yield from _missing(tables, name, table, keys, "") if table else ()
    shape = tables.magnets.shape
    if shape:
        yield from _missing(tables, "magnets", tables.magnets, MAGNET_NEEDS[shape], f" for shape = {one_of([shape])}")
    shape_of_coil = tables.winding.shape
    if shape_of_coil:
        needs = WINDING_NEEDS[shape_of_coil]
        yield from _missing(tables, "winding", tables.winding, needs, f" for shape = {one_of([shape_of_coil])}")


def _missing(tables: Tables, name: str, table: Table, keys: tuple[str, ...], where: str) -> Iterator[Fault]:
    for key in keys:
        if getattr(table, key) is None and not tables.is_faulty(f"{name}.{key}"):
            description = type(table).model_fields[key].description
            yield Fault(f"{name}.{key}", f"missing{where} ({description})")


def _useless_keys(tables: Tables) -> Iterator[Fault]:
    magnets = {
        key: [s for s, keys in MAGNET_NEEDS.items() if key in keys] for keys in MAGNET_NEEDS.values() for key in keys
    }
    yield from _useless("magnets", tables.magnets, "shape", magnets)
    options = winding_options(notch_list=is_notch_list(tables.winding))
    yield from _useless("winding", tables.winding, "shape", options)
    yield from _useless("wire", tables.wire, "kind", WIRE_OPTIONS)
    if tables.load:
        yield from _useless("load", tables.load, "kind", LOAD_OPTIONS)


def _useless(name: str, table: Table, chooser: str, options: Mapping[str, Sequence[str]]) -> Iterator[Fault]:
    chosen = getattr(table, chooser)
    for key, users in options.items():
        if chosen and getattr(table, key) is not None and key in table.model_fields_set and chosen not in users:
            why = "the file holds the whole path" if chosen == "path" else f"it belongs to {chooser} = {one_of(users)}"
            yield Fault(f"{name}.{key}", f'{chooser} = "{chosen}" has no use for it: {why}; remove it')


def _file_faults(tables: Tables, folder: Path) -> Iterator[Fault]:
    yield from _file("magnets.section_mesh", tables.magnets.section_mesh, ".msh", folder)
    if tables.winding.shape in {None, "path"}:
        yield from _file("winding.file", tables.winding.file, ".csv", folder)
    if tables.wind:
        curve = None if tables.wind.cp_curve == "default" else tables.wind.cp_curve
        yield from _file("wind.cp_curve", curve, ".csv", folder)
        yield from _file("wind.record", tables.wind.record, ".csv", folder)


def _file(key: str, name: str | None, ending: str, folder: Path) -> Iterator[Fault]:
    if name is None:
        return
    if not name.lower().endswith(ending):
        yield Fault(key, f'must be a file name ending in {ending}; received "{name}"')
    elif not is_file(folder / name):
        yield Fault(key, f'there is no file "{folder / name}"; names are relative to the design file')
