"""The design file as a whole: its tables by name, what they need, their units, and its JSON Schema."""

from typing import Any

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
from fieldrun.design.ranges import RANGES

TABLES: dict[str, type[Table]] = {
    "magnets": MagnetsTable,
    "rotor": RotorTable,
    "winding": WindingTable,
    "wire": WireTable,
    "load": LoadTable,
    "wind": WindTable,
    "former": FormerTable,
    "tolerance": ToleranceTable,
}
"""Every table of the file, in the order people write them."""

NEEDED_TABLES = ("magnets", "rotor", "winding", "wire")

NEEDED_KEYS = {
    "magnets": ("shape", "count", "thickness_mm"),
    "rotor": ("faces", "backing"),
    "winding": ("shape", "phases"),
    "wire": ("kind",),
    "load": ("kind",),
    "wind": ("rotor_diameter_m",),
    "former": (),
    "tolerance": (),
}
"""Keys that a table must hold whatever else it holds."""

SECOND_SPELLINGS = {
    ("magnets", "pitch_diameter_mm"): "pitch_radius_mm",
    ("magnets", "inner_diameter_mm"): "inner_radius_mm",
    ("magnets", "outer_diameter_mm"): "outer_radius_mm",
    ("winding", "inner_diameter_mm"): "inner_radius_mm",
    ("winding", "outer_diameter_mm"): "outer_radius_mm",
}
"""Makers measure circles as diameters: the only keys that may be spelt in two ways."""

UNITS = {
    "_mm": "mm",
    "_m": "m",
    "_deg": "deg",
    "_c": "C",
    "_t": "T",
    "_v": "V",
    "_ohm": "ohm",
    "_rpm": "rpm",
    "_nm": "N m",
    "_m_s": "m/s",
    "_km_h": "km/h",
    "_knots": "knots",
    "_percent": "%",
}
"""Unit by the end of a key's name, longest ending first when looked up."""


def unit_of(key: str) -> str:
    """Unit that a key's name ends in, empty if it has none."""
    endings = sorted((end for end in UNITS if key.endswith(end)), key=len)
    return UNITS[endings[-1]] if endings else ""


def schema() -> dict[str, Any]:
    """JSON Schema of the design file: titles, units, defaults and plausible limits of every key."""
    properties: dict[str, Any] = {"title": {"type": "string", "title": "Title", "description": "name of the machine"}}
    properties |= {name: _table_schema(name, table) for name, table in TABLES.items()}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "fieldrun design file",
        "type": "object",
        "properties": properties,
        "required": list(NEEDED_TABLES),
        "additionalProperties": False,
    }


def _table_schema(name: str, table: type[Table]) -> dict[str, Any]:
    out = table.model_json_schema()
    out["properties"] = {key: _key_schema(f"{name}.{key}", value) for key, value in out["properties"].items()}
    if NEEDED_KEYS[name]:
        out["required"] = list(NEEDED_KEYS[name])
    return out


def _key_schema(path: str, generated: dict[str, Any]) -> dict[str, Any]:
    """Tidy pydantic's entry: an absent key is absent, not null; title with the unit; limits from the ranges."""
    out = {key: value for key, value in generated.items() if value is not None}
    choices = [part for part in out.pop("anyOf", []) if part != {"type": "null"}]
    parts = [_limited(path, part) for part in choices or [_type_part(out)]]
    out |= parts[0] if len(parts) == 1 else {"anyOf": parts}
    key = path.partition(".")[2]
    unit = unit_of(key)
    words = (
        key.removesuffix(next((end for end in UNITS if key.endswith(end) and UNITS[end] == unit), "")) if unit else key
    )
    out["title"] = words.replace("_", " ").capitalize() + (f" [{unit}]" if unit else "")
    return out | ({"unit": unit} if unit else {})


def _type_part(out: dict[str, Any]) -> dict[str, Any]:
    return {key: out[key] for key in ("type", "enum", "const", "items") if key in out}


def _limited(path: str, part: dict[str, Any]) -> dict[str, Any]:
    limits = RANGES.get(path)
    if limits is None or part.get("type") not in {"number", "integer"}:
        return part
    return part | {"minimum": limits.low, "maximum": limits.high}
