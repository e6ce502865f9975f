"""Windings where nobody expects them: off the magnets, far above them, deep in a wide gap."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.model import Block, Magnets, Rotor
from fieldrun.field.field_map import amplitudes_at
from fieldrun.field.solve import field_of
from fieldrun.generator.machine import read_design
from fieldrun.generator.result import RunResult

BLOCKS = Magnets(Block(0.010, 0.003, 0.030), 52, 0.004, 1.3, 1.05, 7500.0)


def test_a_winding_off_the_magnets_is_told(
    answered: Callable[..., RunResult], bundled: Callable[[str], RunResult]
) -> None:
    result = answered("plank-ring", {"winding.inner_radius_mm": 20, "winding.outer_radius_mm": 40})
    assert "no-field" in {warning.code for warning in result.warnings}
    assert result.emf.rms[0] < 0.02 * bundled("plank-ring").emf.rms[0]


def test_the_bundled_designs_meet_their_field(bundled: Callable[[str], RunResult]) -> None:
    assert "no-field" not in {warning.code for warning in bundled("hut-charger").warnings}


def test_above_an_open_face_each_harmonic_goes_on_falling() -> None:
    field_map = field_of(BLOCKS, Rotor(1, None, None, None, 0.02, 0.04))
    top = float(field_map.heights_m[-1])
    radius = field_map.radii_m[np.argmin(np.abs(field_map.radii_m - 0.031))]  # where nothing is interpolated
    at_top, above = amplitudes_at(field_map, [radius] * 2, [top, top + 0.002])[2].T
    fall = np.exp(-26 * field_map.orders * 0.002 / radius)
    assert np.max(np.abs(above - at_top * fall)) < 1e-9 * abs(at_top[0])
    assert abs(at_top[0]) > 1e-4


def test_a_winding_high_above_an_open_face_runs(answered: Callable[..., RunResult]) -> None:
    near, far = (answered("plank-ring", {"winding.height_mm": height}) for height in (4, 80))
    assert 0 < far.emf.rms[0] < 1e-3 * near.emf.rms[0]
    (said,) = [warning.text for warning in far.warnings if warning.code == "above-map"]
    assert f"reaches {1e3 * far.field_map.heights_m[-1]:.3g} mm over the magnets" in said
    assert "above-map" not in {warning.code for warning in near.warnings}


def test_steep_harmonics_at_the_faces_leave_the_middle_of_a_deep_gap_alone() -> None:
    field_map = field_of(BLOCKS, Rotor(2, 0.040, None, None, 0.02, 0.04))
    middle = np.abs(amplitudes_at(field_map, [0.030] * 2, [0.0195, 0.0200])[2])
    face = np.abs(amplitudes_at(field_map, [0.030], [0.0])[2])
    assert np.max(middle[1:]) < 1e-6 * np.max(face)  # nothing is left there of any order but the first


def test_a_notch_list_without_its_keys_is_told_as_one(tmp_path: Path, design_file: Callable[..., Path]) -> None:
    (tmp_path / "walk.csv").write_text("step,end,notch\n1,in,1\n2,out,2\n", encoding="utf-8")
    keys = ("layers", "inner_radius_mm", "outer_radius_mm")
    gone = {f"winding.{key}": None for key in keys}
    path = design_file(
        "hut-charger", {"winding.shape": "path", "winding.file": "walk.csv", "winding.rounds": 1, **gone}
    )
    with pytest.raises(DesignError, match="list of notches") as caught:
        read_design(path)
    assert len(caught.value.faults) == 1
