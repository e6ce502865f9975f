"""Real designs for tests of the whole chain: the bundled ones, and small variations of them as files."""

import functools
import json
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design, run
from fieldrun.generator.result import RunResult


def toml_text(content: Mapping[str, object]) -> str:
    tables = {name: table for name, table in content.items() if isinstance(table, dict)}
    lines = [f"{key} = {json.dumps(value)}" for key, value in content.items() if key not in tables]
    for name, table in tables.items():
        lines += ["", f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


@pytest.fixture
def design_file(tmp_path: Path) -> Callable[..., Path]:
    """Write a bundled design with keys changed: `{"rotor.gap_mm": 9}`; None takes a key (or a table) out."""

    def write(example: str, changes: Mapping[str, object] | None = None, name: str = "varied") -> Path:
        content = tomllib.loads(example_path(example).read_text(encoding="utf-8"))
        for key, value in (changes or {}).items():
            table, _, inner = key.rpartition(".")
            place = content.setdefault(table, {}) if table else content
            place.pop(inner, None)
            if value is not None:
                place[inner] = value
        path = tmp_path / f"{name}.toml"
        path.write_text(toml_text(content), encoding="utf-8")
        return path

    return write


@pytest.fixture
def answered(design_file: Callable[..., Path]) -> Callable[..., RunResult]:
    """The answer to a variation of a bundled design."""
    return lambda example, changes=None: run(read_design(design_file(example, changes)))


@pytest.fixture(scope="session")
def bundled() -> Callable[[str], RunResult]:
    """The answer to a bundled design, computed once."""
    return functools.cache(lambda name: run(read_design(example_path(name))))
