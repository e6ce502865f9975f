"""A design file to a design: all of the file's faults at once, each with its line, or a record one can trust."""

import contextlib
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fieldrun.design.checks import table_faults
from fieldrun.design.errors import DesignError, Fault, visible
from fieldrun.design.file_model import SECOND_SPELLINGS
from fieldrun.design.locate import Keys, key_lines
from fieldrun.design.model import Design, Magnets, Rotor, Winding, Wire
from fieldrun.design.notes import notes_of
from fieldrun.design.resolve import (
    cutting_of,
    former_plan_of,
    load_of,
    magnets_of,
    rotor_of,
    tolerance_of,
    turbine_of,
    winding_of,
)
from fieldrun.design.resolve_wire import wire_of
from fieldrun.design.syntax import syntax_fault
from fieldrun.design.tables import Tables, read_tables
from fieldrun.design.text_file import read_text_file
from fieldrun.design.written import design_hash, file_hashes, written_text

__all__ = ["Check", "Template", "design_hash", "open_design", "read_design", "told_by_line", "vary"]

Check = Callable[[Magnets | None, Rotor | None, Winding | None, Wire | None, Path], Iterable[Fault]]
"""What a later stage may find wrong: it gets the records whose tables are sound (else None) and the folder."""

Records = tuple[Magnets | None, Rotor | None, Winding | None, Wire | None]


@dataclass(frozen=True, eq=False)
class Template:
    """A design file, read but not yet judged: what designs with other values of its keys are made from."""

    path: Path
    text: str
    raw: Mapping[str, Any]


def open_design(path: Path | str, text: str | None = None) -> Template:
    """Read a design file's text, or take it as given; names of files in it are relative to the folder of `path`.

    Raises
    ------
    DesignError
        If it cannot be read or is not TOML.
    """
    path = Path(path)
    text = read_text_file(path) if text is None else text
    return Template(path, text, _parsed(path, text))


def read_design(
    path: Path | str, more_checks: Iterable[Check] = (), changes: Mapping[str, object] | None = None
) -> Design:
    """Read a design file: as `vary`, from the file itself."""
    return vary(open_design(path), more_checks, changes)


def vary(template: Template, more_checks: Iterable[Check] = (), changes: Mapping[str, object] | None = None) -> Design:
    """Make the design that a file says, with some of its values changed.

    Parameters
    ----------
    template : the file
    more_checks : checks of later stages, called with (magnets, rotor, winding, wire, folder); a record is None
        where its table is faulty; a returned fault carries a key such as "winding.inner_radius_mm", and gets its file
        and line here
    changes : values by dotted key that replace or add to what is written, as a sweep does; None takes a key out

    Raises
    ------
    DesignError
        With every fault of the file, in the order of its lines.
    """
    path, folder = template.path, template.path.parent
    tables, faults = read_tables(_changed(template.raw, changes or {}))
    faults += table_faults(tables, folder)
    records = _records(tables, folder, faults)
    for check in more_checks:
        faults += check(*records, folder)
    if faults:
        raise DesignError(_placed(path, key_lines(template.text), _marked(faults, changes or {})))
    return _design(path, tables, records)


@contextlib.contextmanager
def told_by_line(path: Path | str, text: str | None = None) -> Iterator[None]:
    """Give faults that only show after reading the design file's name and their key's line in it, or in its text."""
    path = Path(path)
    try:
        yield
    except DesignError as error:
        raise DesignError(_placed(path, key_lines(text or read_text_file(path)), list(error.faults))) from error


def _parsed(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        fault = syntax_fault(text, str(error))
    except RecursionError:
        fault = Fault("", "brackets are nested too deeply")
    except ValueError:
        fault = Fault("", "a number has thousands of digits")
    raise DesignError([Fault(fault.key, fault.text, str(path), fault.line)])


def _changed(raw: Mapping[str, Any], changes: Mapping[str, object]) -> dict[str, Any]:
    out = {name: dict(value) if isinstance(value, dict) else value for name, value in raw.items()}
    for key, value in changes.items():
        table, _, name = key.rpartition(".")
        target = out.setdefault(table, {}) if table else out
        if not isinstance(target, dict):
            continue  # a fault of its own: the table is no table
        for twin in _spellings(table, name):
            target.pop(twin, None)
        if value is not None:
            target[name] = value
    return out


def _spellings(table: str, name: str) -> tuple[str, ...]:
    """A key with its second spelling, whichever of the two is given."""
    pairs = [(other, key) for (owner, other), key in SECOND_SPELLINGS.items() if owner == table]
    return next((pair for pair in pairs if name in pair), (name,))


def _records(tables: Tables, folder: Path, faults: list[Fault]) -> Records:
    """The records whose own tables, and those that they are computed from, have no fault."""
    bad = {key.partition(".")[0] for key in (*tables.faulty, *(fault.key for fault in faults))}
    return (
        None if bad & {"magnets"} else magnets_of(tables, folder),
        None if bad & {"magnets", "rotor", "winding", "wire"} else rotor_of(tables, folder),
        None if bad & {"rotor", "winding", "wire"} else winding_of(tables, folder),
        None if bad & {"wire"} else wire_of(tables),
    )


def _marked(faults: list[Fault], changes: Mapping[str, object]) -> list[Fault]:
    """Say of a changed key that the file's line is not to blame."""
    return [replace(f, text=f"{f.text} (set in place of the file's)") if f.key in changes else f for f in faults]


def _placed(path: Path, lines: dict[Keys, int], faults: list[Fault]) -> list[Fault]:
    placed = [_place(path, lines, fault) for fault in dict.fromkeys(faults)]
    return sorted(placed, key=lambda fault: (fault.file != str(path), fault.file, fault.line or 0))


def _place(path: Path, lines: dict[Keys, int], fault: Fault) -> Fault:
    """Fill in file and line; a fault of a key that was given in its second spelling is reported under that one."""
    if fault.file:
        return fault
    table, _, name = fault.key.partition(".")
    for spelling in (name, *_spellings(table, name)):
        if (table, spelling) in lines and name:
            return Fault(f"{table}.{spelling}", fault.text, str(path), lines[table, spelling])
    return Fault(fault.key, fault.text, str(path), fault.line or lines.get((table,), 1))


def _design(path: Path, tables: Tables, records: Records) -> Design:
    magnets, rotor, winding, wire = records
    if magnets is None or rotor is None or winding is None or wire is None:
        raise AssertionError("a faultless file has all its records")
    name = visible(path.stem)  # a name need not be UTF-8, what is written is
    return Design(
        name=name,
        title=tables.title or name,
        magnets=magnets,
        rotor=rotor,
        winding=winding,
        wire=wire,
        tolerance=tolerance_of(tables.tolerance),
        cutting=cutting_of(tables.former),
        former=former_plan_of(tables.former),
        load=load_of(tables.load, tables.wind) if tables.load else None,
        turbine=turbine_of(tables.wind, path.parent) if tables.wind else None,
        notes=notes_of(tables),
        written=written_text(tables, tables.title or name, magnets),
        file_hashes=file_hashes(tables, path.parent),
    )
