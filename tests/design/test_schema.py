"""The JSON Schema says of every key what it is, in which unit, and how large it may be."""

from typing import Any

import pytest

from fieldrun.design.examples import example_names, example_path
from fieldrun.design.file_model import NEEDED_KEYS, TABLES, schema, unit_of
from fieldrun.design.ranges import RANGES

SCHEMA = schema()
KEYS = [(table, key) for table in TABLES for key in SCHEMA["properties"][table]["properties"]]


@pytest.mark.parametrize(("table", "key"), KEYS)
def test_every_key_has_title_description_and_unit(table: str, key: str) -> None:
    entry = SCHEMA["properties"][table]["properties"][key]
    assert entry["description"]
    assert entry["title"][0].isupper()
    assert entry.get("unit", "") == unit_of(key)
    assert entry["title"].endswith(f"[{entry['unit']}]" if "unit" in entry else entry["title"][-1])
    assert "null" not in str(entry)


@pytest.mark.parametrize(
    ("key", "unit"),
    [
        ("thickness_mm", "mm"),
        ("rotor_diameter_m", "m"),
        ("mean_m_s", "m/s"),
        ("mean_km_h", "km/h"),
        ("drag_nm", "N m"),
        ("remanence_t", "T"),
        ("speeds_rpm", "rpm"),
        ("spare_percent", "%"),
        ("count", ""),
        ("faces", ""),
    ],
)
def test_units_by_the_end_of_the_name(key: str, unit: str) -> None:
    assert unit_of(key) == unit


def test_titles_and_limits() -> None:
    keys = SCHEMA["properties"]["magnets"]["properties"]
    assert keys["thickness_mm"] == {
        "type": "number",
        "title": "Thickness [mm]",
        "description": "height of a magnet along the shaft",
        "unit": "mm",
        "minimum": 0.3,
        "maximum": 100,
    }
    gap = SCHEMA["properties"]["rotor"]["properties"]["gap_mm"]
    assert gap["anyOf"] == [{"type": "number", "minimum": 0.2, "maximum": 500}, {"const": "stack", "type": "string"}]
    assert SCHEMA["properties"]["wind"]["properties"]["mean_m_s"]["title"] == "Mean [m/s]"


def test_what_is_needed() -> None:
    assert SCHEMA["required"] == ["magnets", "rotor", "winding", "wire"]
    for table, keys in NEEDED_KEYS.items():
        assert SCHEMA["properties"][table].get("required", []) == list(keys)
        assert SCHEMA["properties"][table]["additionalProperties"] is False


def test_every_range_belongs_to_a_key_and_every_number_has_one() -> None:
    assert set(RANGES) <= {f"{table}.{key}" for table, key in KEYS}
    numbers = {
        f"{table}.{key}" for table, key in KEYS if "'number'" in str(SCHEMA["properties"][table]["properties"][key])
    }
    assert numbers <= set(RANGES)


@pytest.mark.parametrize("name", example_names())
def test_examples_keep_to_the_schema(name: str) -> None:
    import tomllib

    for table, keys in tomllib.loads(example_path(name).read_text()).items():
        if table != "title":
            _keeps_to(SCHEMA["properties"][table], keys)


def _keeps_to(table: dict[str, Any], keys: dict[str, Any]) -> None:
    assert set(table.get("required", [])) <= set(keys) <= set(table["properties"])
    for key, value in keys.items():
        entry = table["properties"][key]
        assert any(_fits(part, value) for part in entry.get("anyOf", [entry])), key


def _fits(part: dict[str, Any], value: Any) -> bool:
    kinds = {"number": (int, float), "integer": int, "string": str, "array": list}
    sized = not isinstance(value, int | float) or part.get("minimum", value) <= value <= part.get("maximum", value)
    listed = value in part.get("enum", [value]) and value == part.get("const", value)
    return isinstance(value, kinds[part.get("type", "integer")]) and sized and listed
