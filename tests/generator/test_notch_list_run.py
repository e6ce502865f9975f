"""A notch list goes the whole way from its file to volts, and a zigzag told by notches is the zigzag."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.generator.machine import read_design
from fieldrun.generator.result import RunResult

BARE = {"winding.layers": None, "winding.rounds": None, "winding.phases": 1, "load": None, "wind": None}
NOTCHES = {
    "winding.shape": "path",
    "winding.file": "walk.csv",
    "winding.inner_notches": 16,
    "winding.outer_notches": 16,
}


def walk(folder: Path) -> None:
    ends = [f"{2 * i + 1},in,{2 * i + 1}\n{2 * i + 2},out,{2 * i + 2}" for i in range(8)]
    (folder / "walk.csv").write_text("step,end,notch\n" + "\n".join(ends) + "\n", encoding="utf-8")


@pytest.mark.parametrize("leg", ["chord", "spiral"])
def test_a_zigzag_told_by_notches_gives_its_volts(leg: str, tmp_path: Path, answered: Callable[..., RunResult]) -> None:
    walk(tmp_path)
    ideal = {"rotor.backing": "ideal", "rotor.backing_mm": None, "winding.leg": leg}
    told = answered("hut-charger", {**BARE, **NOTCHES, **ideal})
    drawn = answered("hut-charger", {**BARE, **ideal, "winding.layers": 1, "winding.rounds": 1})
    assert told.paths.start[:, 2].mean() == pytest.approx(0.004)
    first = np.abs(told.emf.amplitudes[0])
    assert first[0] > 0.005
    assert first == pytest.approx(np.abs(drawn.emf.amplitudes[0]), rel=1e-9, abs=1e-15)
    assert told.impedance.conductor_length_m == pytest.approx(drawn.impedance.conductor_length_m, rel=1e-12)


def test_a_walk_too_thick_for_its_gap_is_refused(tmp_path: Path, design_file: Callable[..., Path]) -> None:
    walk(tmp_path)
    path = design_file("hut-charger", {**BARE, **NOTCHES, "rotor.gap_mm": 3})
    with pytest.raises(DesignError, match=r"the gap of 3 mm is 0\.36 mm too small"):
        read_design(path)
