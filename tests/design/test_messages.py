"""Every message of the reader that one file can provoke, word by word, with its line."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

CASES = tomllib.loads(Path(__file__).with_name("messages.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", CASES)
def test_every_fault_is_named_with_its_line_and_its_cure(
    name: str, messages: Callable[[dict[str, str]], list[str]]
) -> None:
    case = CASES[name]
    assert messages(dict(case["swaps"])) == case["messages"]
