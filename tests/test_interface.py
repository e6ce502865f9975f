"""What other programs may rely on: the names, their types' home, and the README's lines from a design to each thing."""

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import fieldrun
from fieldrun import interface
from fieldrun.design.examples import example_path

README = Path(__file__).parents[1] / "README.md"
PYTHON = re.findall(r"^```python\n(.*?)^```$", README.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
CHARGER = example_path("hut-charger")


def test_every_name_is_offered_at_the_top_and_has_a_docstring() -> None:
    assert set(interface.__all__) <= set(dir(fieldrun))
    for name in interface.__all__:
        assert getattr(fieldrun, name) is getattr(interface, name)
        assert getattr(fieldrun, name).__doc__


def test_other_names_are_refused_as_python_does() -> None:
    with pytest.raises(AttributeError, match="no attribute 'fly'"):
        _ = fieldrun.fly  # type: ignore[attr-defined]


def test_nothing_heavy_is_loaded_before_it_is_asked_for() -> None:
    code = "import sys, fieldrun; assert not {'numpy', 'pydantic'} & set(sys.modules), 'loaded'; fieldrun.read_design"
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.slow
def test_the_readme_s_lines_run(
    design_file: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One after another in one namespace, in a folder that holds the files they name."""
    design_file("hut-charger", {"winding.layers": 3}, "my-charger")
    readings = interface.table_path(Path("hut-charger-readings.csv"))
    (tmp_path / "readings.csv").write_bytes(readings.read_bytes())
    monkeypatch.chdir(tmp_path)
    space: dict[str, object] = {}
    assert PYTHON
    for block in PYTHON:
        exec(compile(block, "README.md", "exec"), space)  # noqa: S102 - the README is ours
    assert (tmp_path / "my-charger" / "report.html").is_file()
    assert (tmp_path / "gap.csv").read_text(encoding="utf-8").count("\n") > 4
    volts = space["swept"].column("emf.rms_v_per_krpm")  # type: ignore[attr-defined]
    assert volts.shape == (3,)
    assert volts[0] > volts[1] > volts[2] > 0


def test_a_sweep_keeps_its_journal_where_it_is_told_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    gaps = np.array([8.5, 9.5])
    first = fieldrun.sweep(CHARGER, {"rotor.gap_mm": gaps}, ["emf.rms_v_per_krpm"], folder=tmp_path)
    assert (tmp_path / "sweep.jsonl").is_file()
    monkeypatch.setattr("fieldrun.studies.sweep.run.outcomes", None)  # nothing is left to be solved
    again = fieldrun.sweep(CHARGER, {"rotor.gap_mm": gaps}, ["emf.rms_v_per_krpm"], folder=tmp_path)
    assert again.column("emf.rms_v_per_krpm").tolist() == first.column("emf.rms_v_per_krpm").tolist()


def test_faults_of_a_sweep_are_told_all_at_once() -> None:
    with pytest.raises(fieldrun.DesignError) as told:
        fieldrun.sweep(CHARGER, {"rotor.gapp_mm": [1, 2], "rotor.gap_mm": []})
    assert [str(fault) for fault in told.value.faults] == [
        "rotor.gapp_mm: unknown key; did you mean gap_mm?",
        "rotor.gap_mm: needs values to vary over; received none",
    ]


@pytest.mark.parametrize("single", [8, "8:12:3", "stack"])
def test_a_single_value_is_not_taken_for_a_list(single: Any) -> None:
    with pytest.raises(fieldrun.DesignError) as told:
        fieldrun.sweep(CHARGER, {"rotor.gap_mm": single})
    assert str(told.value) == f"rotor.gap_mm: needs a list of values, such as [8, 9, 10]; received {single!r}"


def test_a_pick_that_is_no_list_is_refused() -> None:
    with pytest.raises(fieldrun.DesignError, match=r"picks: must be a list of keys.*write \['emf.rms_v_per_krpm'\]"):
        fieldrun.sweep(CHARGER, {"rotor.gap_mm": [8, 9]}, "emf.rms_v_per_krpm")


@pytest.mark.slow
def test_files_are_written_in_one_line_each(bundled: Callable[[str], fieldrun.RunResult], tmp_path: Path) -> None:
    result = bundled("hut-charger")
    fieldrun.write_run(result, tmp_path / "all", pictures=False)
    fieldrun.write_field(result, tmp_path / "all", pictures=False)
    missing = fieldrun.write_former(result, tmp_path / "all")
    names = {file.name for file in (tmp_path / "all").iterdir()}
    assert {"result.json", "paths.csv", "field-grid.csv", "former.pdf", "former_mm.dxf"} <= names
    assert ("former.stl" in names) is (missing == "")


@pytest.mark.slow
def test_advice_is_what_the_command_tells() -> None:
    told = fieldrun.advice(CHARGER)
    assert told is not None
    assert told.best is not None
    assert any(row is told.best for row in told.rows)
