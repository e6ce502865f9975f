"""Tables as people save them: what is read without a word, and what is said about the rest."""

from pathlib import Path

import pytest

from fieldrun.design.csv_table import Row, counting, number, parse_row, positive, read_table

NEEDED = ("loop", "r_mm")


def read(tmp_path: Path, text: str | bytes) -> tuple[list[Row], list[str]]:
    file = tmp_path / "table.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    rows, faults = read_table(file, NEEDED, ("note",))
    return rows, [str(fault).replace(str(tmp_path), "").lstrip("/") for fault in faults]


@pytest.mark.parametrize(
    "text",
    [
        "loop,r_mm\n1,50\n",
        "\ufeffloop,r_mm\n1,50\n",
        "loop,r_mm\r\n1,50\r\n",
        "loop,r_mm\r1,50\r",
        " loop , r_mm \n 1 , 50 ",
        '"loop","r_mm"\n"1","50"\n',
        "# fieldrun 0.1\nloop,r_mm\n1,50\n",
        "\nloop,r_mm\n\n,,\n1,50\n\n",
    ],
)
def test_tables_in_all_their_dresses(tmp_path: Path, text: str) -> None:
    rows, faults = read(tmp_path, text)
    assert faults == []
    assert [row.cells for row in rows] == [{"loop": "1", "r_mm": "50"}]


def test_columns_may_stand_in_any_order_and_lines_are_counted_as_in_the_file(tmp_path: Path) -> None:
    rows, _ = read(tmp_path, "# by hand\nr_mm,note,loop\n\n50,tip,1\n60,,1\n")
    assert rows == [Row(4, {"r_mm": "50", "note": "tip", "loop": "1"}), Row(5, {"r_mm": "60", "note": "", "loop": "1"})]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "table.csv: the file is empty"),
        ("# nothing\n,,\n", "table.csv: holds no line of data; the first must be loop,r_mm"),
        ("loop,r_mm\n", "table.csv:1: holds nothing but its header"),
        (
            "loop;r_mm\n1;50\n",
            "table.csv:1: the columns are separated by semicolons; save with commas, and with decimal points",
        ),
        ("loop,r_m\n1,50\n", 'table.csv:1: unknown column "r_m"; did you mean r_mm?'),
        ("loop\n1\n", "table.csv:1: column r_mm is missing"),
        ("loop,r_mm,loop\n1,2,3\n", "table.csv:1: column loop stands twice"),
        ("loop,r_mm,weight\n1,2,3\n", 'table.csv:1: unknown column "weight"; the columns are loop,r_mm,note'),
        (
            "loop,r_mm,\n1,50,\n",
            "table.csv:1: a column without a name: a comma too many? The columns are loop,r_mm,note",
        ),
        (
            "loop,r_mm\n1,50,5\n",
            "table.csv:2: must have 2 cells (loop,r_mm); received 3; decimal commas? numbers need points",
        ),
        ("loop,r_mm\n1\n", "table.csv:2: must have 2 cells (loop,r_mm); received 1"),
    ],
)
def test_faults_of_a_table(tmp_path: Path, text: str, fault: str) -> None:
    rows, faults = read(tmp_path, text)
    assert rows == []
    assert faults == [fault]


def test_the_first_lines_are_refused_together(tmp_path: Path) -> None:
    _, faults = read(tmp_path, "loop,weight,height\n1,2,3\n")
    assert len(faults) == 3


def test_good_rows_are_read_beside_bad_ones(tmp_path: Path) -> None:
    rows, faults = read(tmp_path, "loop,r_mm\n1,50\n2\n3,60\n")
    assert [row.line for row in rows] == [2, 4]
    assert len(faults) == 1


@pytest.mark.parametrize("data", [b"loop,r_mm\n1,\xff\n", "loop,r_mm\n1,5\n".encode("utf-16"), b"\x00" * 40])
def test_what_is_no_table_is_a_fault_and_no_crash(tmp_path: Path, data: bytes) -> None:
    rows, faults = read(tmp_path, data)
    assert rows == []
    assert faults[0].startswith("table.csv:")


def test_an_absurdly_long_cell_is_a_fault_and_no_crash(tmp_path: Path) -> None:
    _, faults = read(tmp_path, "loop,r_mm\n1," + "9" * 200_000 + "\n")
    assert faults == ["table.csv:2: must have 2 cells (loop,r_mm); received 1"]


def test_a_missing_file(tmp_path: Path) -> None:
    rows, faults = read_table(tmp_path / "none.csv", NEEDED)
    assert rows == []
    assert "there is no such file" in faults[0].text


@pytest.mark.parametrize(
    ("reader", "cell", "wish"),
    [
        (number, "abc", "must be a number such as 54.5"),
        (number, "", "must be a number such as 54.5"),
        (number, "nan", "must be a finite number"),
        (number, "-inf", "must be a finite number"),
        (positive, "0", "must be above 0"),
        (positive, "-3", "must be above 0"),
        (counting(), "1.5", "must be a whole number from 1"),
        (counting(), "0", "must be a whole number from 1"),
        (counting(3), "4", "must be a whole number from 1 to 3"),
    ],
)
def test_readers_say_what_a_cell_must_be(reader, cell: str, wish: str) -> None:
    values, faults = parse_row(Row(7, {"r_mm": cell}), {"r_mm": reader})
    assert values == {}
    assert str(faults[0]) == f'r_mm: {wish}; received "{cell}"'
    assert faults[0].line == 7


def test_readers_give_values() -> None:
    cells = {"loop": "3", "r_mm": "5e1", "note": "-2.5"}
    values, faults = parse_row(Row(1, cells), {"loop": counting(3), "r_mm": positive, "note": number})
    assert values == {"loop": 3, "r_mm": 50.0, "note": -2.5}
    assert faults == []
