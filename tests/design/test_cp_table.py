"""A rotor's own curve: what is read, and every fault by its line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.cp_table import BETZ, read_cp_table
from fieldrun.design.errors import DesignError

FALLING = "0,0\n2,0.1\n5,0.35\n8,0"


@pytest.fixture
def table(tmp_path: Path) -> Callable[[str], Path]:
    def write(rows: str) -> Path:
        path = tmp_path / "cp.csv"
        path.write_text("tip_speed_ratio,cp\n" + rows + "\n", encoding="utf-8")
        return path

    return write


@pytest.fixture
def faults(table: Callable[[str], Path]) -> Callable[[str], list[str]]:
    def told(rows: str) -> list[str]:
        path = table(rows)
        with pytest.raises(DesignError) as caught:
            read_cp_table(path)
        return [str(fault).replace(str(path), "cp.csv") for fault in caught.value.faults]

    return told


def test_what_is_read(table: Callable[[str], Path]) -> None:
    read = read_cp_table(table(FALLING))
    assert read.name == "cp.csv"
    assert read.tip_speed_ratio == (0, 2, 5, 8)
    assert read.cp == (0, 0.1, 0.35, 0)


def test_a_rotor_that_brakes_at_first_is_a_rotor(table: Callable[[str], Path]) -> None:
    """Upright blades of the lift kind are slower than nothing at low tip-speed ratios."""
    assert read_cp_table(table("0.5,-0.01\n1.5,-0.05\n4,0.3\n6,0")).cp[1] == -0.05


def test_betz_itself_is_allowed_and_nothing_above(
    table: Callable[[str], Path], faults: Callable[[str], list[str]]
) -> None:
    assert pytest.approx(0.592593, abs=1e-6) == BETZ
    assert read_cp_table(table(f"2,0.1\n5,{BETZ!r}\n8,0")).cp[1] == BETZ
    assert faults("2,0.1\n5,0.6\n8,0") == [
        "cp.csv:3: cp: must not be above Betz's limit 16/27 = 0.5926; received 0.6; is it against the free wind?"
    ]


@pytest.mark.parametrize(
    ("rows", "wanted"),
    [
        ("2,x\n5,0.3\n8,0", ['cp.csv:2: cp: must be a number such as 54.5; received "x"']),
        ("2,10\n5,0.3\n8,0", [
            "cp.csv:2: cp: must not be above Betz's limit 16/27 = 0.5926; received 10; is this percent? write 0.1"
        ]),
        ("2,0.1\n5,-1.5\n8,0", ["cp.csv:3: cp: no rotor brakes that hard; received -1.5; is this percent?"]),
        ("-2,0.1\n5,0.3\n80,0", [
            "cp.csv:2: tip_speed_ratio: must lie between 0 and 30; received -2",
            (
                "cp.csv:4: tip_speed_ratio: must lie between 0 and 30; received 80; "
                "it is tip speed over wind speed, not rpm"
            ),
        ]),
        ("0,0.1\n5,0.3\n8,0", [
            "cp.csv:2: cp: at standstill no power is taken: write 0, or leave the row out; received 0.1"
        ]),
        ("2,0.1\n8,0\n5,0.3", ["cp.csv:4: tip_speed_ratio: must rise from row to row; 5 follows 8; sort the rows"]),
        ("2,0.1\n8,0", ["cp.csv: must hold at least 3 rows; received 2"]),
        ("2,0\n5,-0.3\n8,0", ["cp.csv: cp: never above 0: such a rotor never turns anything; columns swapped?"]),
        ("2,0.1\n5,0.3\n8,0.35", [
            (
                "cp.csv:4: cp: still rises at its last row, tip-speed ratio 8; go on past the peak: a row with cp 0 "
                "says where the rotor runs free"
            )
        ]),
        ("", ["cp.csv:1: holds nothing but its header"]),
    ],
)  # fmt: skip
def test_every_fault_has_its_line(rows: str, wanted: list[str], faults: Callable[[str], list[str]]) -> None:
    assert faults(rows) == wanted


def test_a_design_with_a_faulty_curve_names_the_curve_s_line(messages: Callable[[dict[str, str]], list[str]]) -> None:
    Path("cp.csv").write_text("tip_speed_ratio,cp\n2,0.1\n5,0.7\n8,0\n", encoding="utf-8")
    wind = 'copper_mm = 0.5\n[wind]\nrotor_diameter_m = 1800\ncp_curve = "cp.csv"'
    first, second = messages({"copper_mm = 0.5": wind})
    assert first.startswith("hut.toml:29: wind.rotor_diameter_m: 1800 m is no longer small wind")
    assert second.startswith("cp.csv:3: cp: must not be above Betz's limit 16/27")
