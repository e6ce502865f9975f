"""A steel of the user's own: read, completed, or refused with the line."""

from pathlib import Path

import pytest

from fieldrun.design.bh_table import read_bh_table
from fieldrun.design.errors import DesignError
from fieldrun.design.materials import steel_curve


@pytest.fixture
def table(tmp_path: Path) -> Path:
    return tmp_path / "own.csv"


def faults(table: Path, text: str) -> list[str]:
    table.write_text(text)
    with pytest.raises(DesignError) as caught:
        read_bh_table(table)
    return [str(fault).removeprefix(str(table)) for fault in caught.value.faults]


def test_reads_points_and_adds_the_origin(table: Path) -> None:
    table.write_text("b_t, h_a_per_m\n\n0.5,100\n1.0, 300\r\n1.5,2000\n\n")
    curve = read_bh_table(table)
    assert curve.b_t == (0, 0.5, 1.0, 1.5)
    assert curve.h_a_per_m == (0, 100, 300, 2000)
    assert curve.name == "own.csv"
    assert steel_curve("own.csv", table.parent) == curve


def test_origin_of_the_user_is_kept_once(table: Path) -> None:
    table.write_text("b_t,h_a_per_m\n0,0\n1,300\n1.5,2000\n")
    assert read_bh_table(table).b_t == (0, 1, 1.5)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ("1,300\n0.9,2000\n1.5,3000", ":3: both columns must rise from line to line; 0.9,2000 follows 1,300"),
        ("1,300\n1,2000\n1.5,3000", ":3: both columns must rise from line to line; 1,2000 follows 1,300"),
        ("0.5,300\n1,200\n1.5,3000", ":3: both columns must rise from line to line; 1,200 follows 0.5,300"),
        (
            "-1,-300\n1,300\n1.5,3000",
            ":2: the curve starts at zero and is used for both signs; leave negative values out",
        ),
        ("0,50\n1,300\n1.5,3000", ":2: a curve without hysteresis goes through 0,0; leave the offset out"),
        ("0,0\n1,300", ": must hold at least 3 points; received 2"),
        ("0,0\n1,300\n1.5;2000", ":4: must be two finite numbers such as 1.5,1837; received 1.5;2000"),
        ("0,0\n1,nan\n1.5,2000", ":3: must be two finite numbers such as 1.5,1837; received 1,nan"),
        ("0,0\n1,300,2\n1.5,2000", ":3: must be two finite numbers such as 1.5,1837; received 1,300,2"),
        (
            "0,0\n10000,300\n15000,2000",
            ":3: 10000 T is more than any steel carries; is this gauss or millitesla? b_t is in tesla",
        ),
        ("0,0\n0.3,1e6\n4,2e6", ":3: 0.3 T at 1e+06 A/m is less than air carries; are the two columns swapped?"),
        ("0,0\n1,0.3\n1.5,2", ":3: 1 T at 0.3 A/m is beyond any steel; is h in kA/m or oersted? it is in A/m"),
    ],
)
def test_faults_have_lines(rows: str, message: str, table: Path) -> None:
    assert faults(table, f"b_t,h_a_per_m\n{rows}\n") == [message]


def test_header_and_emptiness(table: Path) -> None:
    (message,) = faults(table, "h,b\n1,2\n")
    assert message.startswith(":1: the first line must be b_t,h_a_per_m (tesla, amperes per metre); received ")
    assert faults(table, "b_t,h_a_per_m\n") == [": must hold at least 3 points; received 0"]
    assert faults(table, "\n") == [": the file is empty"]
    assert faults(table, ",\n") == [": the table is empty; its first line must be b_t,h_a_per_m"]


def test_all_bad_lines_at_once(table: Path) -> None:
    assert [message[:3] for message in faults(table, "b_t,h_a_per_m\na,1\n1,2\nb,3\n")] == [":2:", ":4:"]


def test_line_ends_of_old_machines_and_cells_without_an_end(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_bytes(b"b_t,h_a_per_m\r0,0\r1,300\r2,20000\r")
    assert read_bh_table(path).b_t == (0, 1, 2)
    path.write_text("b_t,h_a_per_m\n0,0\n1," + "3" * 200_000 + "\n")
    with pytest.raises(DesignError, match=r"own\.csv:3: is no line of a table: field larger than field limit"):
        read_bh_table(path)
