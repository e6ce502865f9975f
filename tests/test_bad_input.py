"""What a builder may get wrong with wire and winding: file, line, key, what is wrong, what to try; exit code 2."""

import re
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun.cli import main

LITZ = {"wire.kind": "litz", "wire.copper_mm": None, "wire.strand_mm": 0.1}

CASES = tomllib.loads(Path(__file__).with_name("bad_input.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", CASES)
def test_it_is_told_with_its_line_and_its_cure_and_nothing_is_run(name, design_file, tmp_path, monkeypatch):
    case = CASES[name]
    key, text = case["key"], case["text"]
    path = design_file("hut-charger", (LITZ if case["litz"] else {}) | case["changes"])
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, ["run", path.name])
    assert result.exit_code == 2
    assert result.stdout == ""
    line = line_of(path.read_text(encoding="utf-8"), key)
    assert result.stderr.splitlines() == [f"{path.name}:{line}: {key}: {text}", "1 fault, nothing was run"]
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


def line_of(text, key):
    """Number of the line of a key within its table."""
    table, name = key.split(".")
    head, _, _ = re.split(rf"^\[{table}\]$", text, flags=re.MULTILINE)[1].partition("\n[")
    before = text.index(f"[{table}]") + head.index(f"\n{name} = ") + len(f"[{table}]\n")
    return text.count("\n", 0, before) + 1


def test_several_are_told_at_once(design_file):
    path = design_file("hut-charger", LITZ | {"wire.strands": 0, "rotor.gap_mm": -1, "winding.belts": 3})
    result = CliRunner().invoke(main, ["run", str(path)])
    assert result.exit_code == 2
    assert [line.split(": ")[1] for line in result.stderr.splitlines()[:-1]] == [
        "rotor.gap_mm",
        "winding.belts",
        "wire.strands",
    ]
    assert result.stderr.endswith("3 faults, nothing was run\n")


def test_a_table_s_own_lines_are_told_with_the_design_s(design_file, tmp_path):
    """A wind record and a rotor's curve, both spoilt, and a key beside them: all at once."""
    (tmp_path / "mast.csv").write_text("time,speed_m_s\n2024-03-01T00:00,calm\n2024-03-01T01:00,-2\n")
    (tmp_path / "blades.csv").write_text("tip_speed_ratio,cp\n2,0.1\n5,0.61\n8,0\n")
    wind = {
        "wind.mean_m_s": None,
        "wind.record": "mast.csv",
        "wind.cp_curve": "blades.csv",
        "wind.tip_speed_ratio": None,
    }
    path = design_file("hut-charger", wind | {"wind.peak_cp": None, "wind.altitude_m": 9000})
    result = CliRunner().invoke(main, ["run", str(path)])
    assert result.exit_code == 2
    told = [line.replace(f"{tmp_path}/", "") for line in result.stderr.splitlines()]
    assert re.match(r"varied.toml:\d+: wind.altitude_m: 9000 m is higher than people live", told[0])
    assert told[1:] == [
        (
            "blades.csv:3: cp: must not be above Betz's limit 16/27 = 0.5926; received 0.61; is it against the free "
            "wind?"
        ),
        'mast.csv:2: speed_m_s: must be a number (m/s); leave the cell empty for a gap; received "calm"',
        (
            "mast.csv:3: speed_m_s: a speed is never negative; leave the cell empty where there was no reading; "
            'received "-2"'
        ),
        "4 faults, nothing was run",
    ]
