"""A small sound design file to be spoilt line by line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Design
from fieldrun.design.read import read_design

BASE = """\
title = "Hut charger"

[magnets]
shape = "disc"
count = 16
thickness_mm = 6
diameter_mm = 20
pitch_radius_mm = 66
grade = "N42"

[rotor]
faces = 2
gap_mm = 9
backing = "mild steel"
backing_mm = 5

[winding]
shape = "zigzag"
inner_radius_mm = 54
outer_radius_mm = 78
phases = 3
rounds = "fill"
layers = 4

[wire]
kind = "solid"
copper_mm = 0.5
"""

Swaps = dict[str, str]


@pytest.fixture
def spoilt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Swaps], Path]:
    """Write `hut.toml`, each piece of text replaced by another, into an empty folder that is made the current one."""
    monkeypatch.chdir(tmp_path)

    def write(swaps: Swaps) -> Path:
        text = BASE
        for old, new in swaps.items():
            assert old in text, old
            text = text.replace(old, new, 1)
        path = Path("hut.toml")
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def design(spoilt: Callable[[Swaps], Path]) -> Callable[[Swaps], Design]:
    """Read the file with pieces replaced."""
    return lambda swaps: read_design(spoilt(swaps))


@pytest.fixture
def messages(spoilt: Callable[[Swaps], Path]) -> Callable[[Swaps], list[str]]:
    """All messages that the spoilt file gives, in order."""

    def read(swaps: Swaps) -> list[str]:
        with pytest.raises(DesignError) as caught:
            read_design(spoilt(swaps))
        return [str(fault) for fault in caught.value.faults]

    return read
