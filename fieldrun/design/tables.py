"""From TOML's dictionaries to typed tables: every unknown, mistyped or implausible key becomes a fault of its own."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import ValidationError

from fieldrun.design.errors import Fault
from fieldrun.design.file_model import NEEDED_TABLES, SECOND_SPELLINGS, TABLES
from fieldrun.design.file_tables import (
    FormerTable,
    LoadTable,
    MagnetsTable,
    RotorTable,
    Table,
    ToleranceTable,
    WindingTable,
    WindTable,
    WireTable,
)
from fieldrun.design.key_hints import meant_key, shown, type_text
from fieldrun.design.nearest import nearest
from fieldrun.design.ranges import RANGES

T = TypeVar("T", bound=Table)

LARGEST_BITS = 1000
"""A whole number of more bits does not fit a float."""
Raw = Mapping[str, Any]


@dataclass(frozen=True)
class Tables:
    """What could be read: faulty keys are left out and named in `faulty`, so that nobody misses them a second time."""

    title: str
    magnets: MagnetsTable
    rotor: RotorTable
    winding: WindingTable
    wire: WireTable
    load: LoadTable | None
    wind: WindTable | None
    former: FormerTable | None
    tolerance: ToleranceTable | None
    faulty: frozenset[str]

    def is_faulty(self, path: str) -> bool:
        """Whether this key, or its whole table, has been complained about."""
        return path in self.faulty or path.partition(".")[0] in self.faulty


def read_tables(raw: Raw) -> tuple[Tables, list[Fault]]:
    """Check names, types and plausible sizes, table by table."""
    faults = [*_unknown_tables(raw), *_missing_tables(raw), *_title_faults(raw)]
    read: dict[str, Any] = {}
    for name, kind in TABLES.items():
        table, found = _table(name, kind, raw.get(name))
        read[name] = table
        faults += found
    faulty = frozenset(fault.key for fault in faults) | frozenset(_meant(faults, raw))
    return Tables(title=_title(raw), faulty=faulty, **read), faults


def _table(name: str, kind: type[T], raw: object) -> tuple[T | None, list[Fault]]:
    if raw is None:
        return (kind() if name in NEEDED_TABLES else None), []
    if not isinstance(raw, dict):
        received = f"[[{name}]], a list of tables" if isinstance(raw, list) and raw else shown(raw)
        text = f"must be one table, written [{name}] on a line of its own; received {received}"
        return kind(), [Fault(name, text)]
    faults = {f.key: f for f in (*_typed(name, kind, raw), *_sized(name, raw), *_doubly_spelt(name, raw))}
    good = {key: value for key, value in raw.items() if f"{name}.{key}" not in faults}
    return _one_spelling(name, kind(**good)), list(faults.values())


def _typed(name: str, kind: type[Table], raw: dict[str, Any]) -> Iterator[Fault]:
    try:
        kind(**raw)
    except ValidationError as error:
        keys = dict.fromkeys(str(item["loc"][0]) for item in error.errors())
        yield from (Fault(f"{name}.{key}", type_text(name, kind, key, raw[key])) for key in keys)


def _sized(name: str, raw: dict[str, Any]) -> Iterator[Fault]:
    for key, value in raw.items():
        limits = RANGES.get(f"{name}.{key}")
        for number in value if isinstance(value, list) else [value]:
            if limits and isinstance(number, int | float) and not isinstance(number, bool):
                text = _not_finite(number) or limits.fault(key, float(number))
                yield from [Fault(f"{name}.{key}", text)] if text else []


def _not_finite(number: float) -> str | None:
    if isinstance(number, int) and number.bit_length() > LARGEST_BITS:
        return "must be a finite number; received one of hundreds of digits"
    return None if math.isfinite(number) else f"must be a finite number; received {number}"


def _doubly_spelt(name: str, raw: dict[str, Any]) -> Iterator[Fault]:
    for (table, other), key in SECOND_SPELLINGS.items():
        if table == name and other in raw and key in raw:
            yield Fault(f"{name}.{other}", f"given as {key} too; keep one of the two")


def _one_spelling(name: str, table: T) -> T:
    twice = {other: key for (owner, other), key in SECOND_SPELLINGS.items() if owner == name}
    given = {other: getattr(table, other) for other in twice if getattr(table, other) is not None}
    radii = {twice[other]: diameter / 2 for other, diameter in given.items()}
    return table.model_copy(update=radii | dict.fromkeys(given))


def _unknown_tables(raw: Raw) -> Iterator[Fault]:
    for name, value in raw.items():
        if name in TABLES or name == "title":
            continue
        if isinstance(value, dict | list):
            close = nearest(name.lower(), TABLES)
            hint = f"did you mean [{close}]?" if close else f"the tables are {', '.join(TABLES)}"
            yield Fault(name, f"unknown table; {hint}")
        else:
            yield Fault(name, _unknown_top_key(name))


def _unknown_top_key(key: str) -> str:
    if nearest(key.lower(), ["title"], 0.7):
        return "unknown key; did you mean title?"
    hint = meant_key("", key)
    return "unknown key" + (f"; did you mean {hint}?" if hint else "; only title stands outside the tables")


def _missing_tables(raw: Raw) -> Iterator[Fault]:
    missing = [name for name in NEEDED_TABLES if name not in raw]
    taken = {nearest(name.lower(), TABLES) for name in raw if missing and name not in TABLES}
    for name in missing:
        if name not in taken:
            yield Fault(name, f"missing; a design needs the table [{name}]")


def _title_faults(raw: Raw) -> Iterator[Fault]:
    if "title" in raw and not isinstance(raw["title"], str):
        yield Fault("title", f"must be text in quotes; received {shown(raw['title'])}")


def _title(raw: Raw) -> str:
    return raw["title"] if isinstance(raw.get("title"), str) else ""


def _meant(faults: list[Fault], raw: Raw) -> Iterator[str]:
    """Keys that an unknown key or table stands for: they are not also missing."""
    for fault in faults:
        table, _, key = fault.key.partition(".")
        if key and table in TABLES and key not in TABLES[table].model_fields:
            yield meant_key(table, key) or ""
        elif (table, key) in SECOND_SPELLINGS:
            yield f"{table}.{SECOND_SPELLINGS[table, key]}"
        elif not key and table not in TABLES:
            yield nearest(table.lower(), TABLES) or ""
            yield meant_key("", table) or ""
    yield from (name for name in NEEDED_TABLES if name not in raw)
