"""Measured wind: hours by speed, gaps left out and told, and every fault by its line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.wind_record import read_wind_record


@pytest.fixture
def table(tmp_path: Path) -> Callable[[str], Path]:
    def write(rows: str, name: str = "hut.csv") -> Path:
        path = tmp_path / name
        path.write_text("time,speed_m_s\n" + rows, encoding="utf-8")
        return path

    return write


@pytest.fixture
def faults(table: Callable[[str], Path]) -> Callable[[str], list[str]]:
    def told(rows: str) -> list[str]:
        path = table(rows, "bad.csv")
        with pytest.raises(DesignError) as caught:
            read_wind_record(path)
        return [str(fault).replace(str(path), "bad.csv") for fault in caught.value.faults]

    return told


def hourly(*cells: str) -> str:
    return "".join(f"2024-03-01T{hour:02d}:00,{cell}\n" for hour, cell in enumerate(cells))


def test_hours_by_speed(table: Callable[[str], Path]) -> None:
    read = read_wind_record(table(hourly("4", "5.5", "4", "0")))
    assert read.speeds_m_s == (0, 4, 5.5)
    assert read.hours == (1, 2, 1)
    assert (read.gaps, read.missing_hours, read.interval_s) == (0, 0, 3600)
    assert (read.first, read.last) == ("2024-03-01T00:00", "2024-03-01T03:00")


@pytest.mark.parametrize("cell", ["", "NaN", "n/a", "-"])
def test_a_gap_is_neither_calm_nor_wind(table: Callable[[str], Path], cell: str) -> None:
    read = read_wind_record(table(hourly("4", cell, cell, "5", "6"), f"gap{len(cell)}.csv"))
    assert read.hours == (1, 1, 1)
    assert (read.gaps, read.missing_hours, read.longest_gap_hours) == (1, 2, 2)


def test_missing_rows_are_a_gap_too(table: Callable[[str], Path]) -> None:
    rows = hourly("4", "5", "6") + "2024-03-01T10:00,7\n2024-03-01T11:00,\n2024-03-01T12:00,\n"
    read = read_wind_record(table(rows))
    assert read.hours == (1, 1, 1, 1)
    assert (read.gaps, read.missing_hours, read.longest_gap_hours) == (2, 9, 7)


def test_readings_that_come_sooner_count_less(table: Callable[[str], Path]) -> None:
    rows = hourly("4", "5", "6", "7") + "2024-03-01T03:15,8\n2024-03-01T04:15,9\n"
    read = read_wind_record(table(rows))
    assert dict(zip(read.speeds_m_s, read.hours, strict=True)) == {4: 1, 5: 1, 6: 1, 7: 0.25, 8: 1, 9: 1}


def test_hours_and_gaps_make_up_the_whole_record(table: Callable[[str], Path]) -> None:
    rows = "".join(f"2024-03-{day:02d}T{hour:02d}:10:00Z,{(7 * day + hour) % 11}\n"
                   for day in range(1, 29) for hour in range(0, 24, 2 if day % 3 else 1))  # fmt: skip
    read = read_wind_record(table(rows))
    assert sum(read.hours) + read.missing_hours == pytest.approx(28 * 24, abs=2)


def test_an_edited_record_is_read_again(table: Callable[[str], Path]) -> None:
    assert read_wind_record(table(hourly("4", "5"))).speeds_m_s == (4, 5)
    assert read_wind_record(table(hourly("4", "5", "16"))).speeds_m_s == (4, 5, 16)


@pytest.mark.parametrize(
    ("rows", "wanted"),
    [
        (hourly("4", "calm", "5"), [
            'bad.csv:3: speed_m_s: must be a number (m/s); leave the cell empty for a gap; received "calm"'
        ]),
        (hourly("4", "-1", "999"), [
            (
                "bad.csv:3: speed_m_s: a speed is never negative; leave the cell empty where there was no reading; "
                'received "-1"'
            ),
            (
                "bad.csv:4: speed_m_s: more than 75 m/s blow nowhere; leave the cell empty where there was no reading; "
                'received "999"'
            ),
        ]),
        ("1.3.2024 12:00,4\n2024-03-01T13:00,4\n", [
            'bad.csv:2: time: must be a time in ISO 8601 such as 2024-03-01T12:10; received "1.3.2024 12:00"'
        ]),
        ("2024-03-02T00:00,4\n2024-03-01T00:00,5\n", [
            "bad.csv:3: time: must rise from row to row; 2024-03-01T00:00 follows 2024-03-02T00:00; sort the rows"
        ]),
        ("2024-03-01T02:00,4\n2024-03-01T02:00,5\n", [
            (
                "bad.csv:3: time: must rise from row to row; 2024-03-01T02:00 follows 2024-03-01T02:00; sort the rows "
                "and leave out doubles (clocks set back? write UTC)"
            )
        ]),
        ("2024-03-01T02:00Z,4\n2024-03-01T03:00,5\n", [
            "bad.csv:3: time: some times have a zone (Z or +01:00) and some have none; write all alike"
        ]),
        (hourly("", "", "4"), ["bad.csv: speed_m_s: must hold at least two readings; received 1"]),
        ("", ["bad.csv:1: holds nothing but its header"]),
        ("2024-03-01T02:00;4\n", [
            "bad.csv:2: must have 2 cells (time,speed_m_s); received 1"
        ]),
    ],
)  # fmt: skip
def test_every_fault_has_its_line(rows: str, wanted: list[str], faults: Callable[[str], list[str]]) -> None:
    assert faults(rows) == wanted


def test_a_thousand_faults_are_not_all_listed(faults: Callable[[str], list[str]]) -> None:
    told = faults("".join(f"2024-03-01T00:{minute:02d},x\n" for minute in range(50)))
    assert len(told) == 11
    assert told[-1] == "bad.csv:12: and 40 more faults like these"


def test_an_empty_file(tmp_path: Path) -> None:
    (tmp_path / "e.csv").touch()
    with pytest.raises(DesignError, match="the file is empty"):
        read_wind_record(tmp_path / "e.csv")
