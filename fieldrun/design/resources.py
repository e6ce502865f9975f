"""Data tables that travel with the package, each row with its source and status."""

import csv
import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


def _text(name: str) -> str:
    return (files("fieldrun.design") / "data" / name).read_text(encoding="utf-8")


@lru_cache
def toml_table(name: str) -> dict[str, Any]:
    """Return a bundled TOML file as nested dictionaries; treat it as read-only."""
    return tomllib.loads(_text(name))


@lru_cache
def csv_rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a bundled CSV file, keyed by its header; treat them as read-only."""
    return tuple(csv.DictReader(_text(name).splitlines()))
