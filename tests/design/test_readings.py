"""Readings and scans as files: what is read, and every fault with its line and column, all at once."""

import math
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.examples import table_path
from fieldrun.design.readings import KINDS, Reading, read_readings, read_scan


@pytest.fixture
def table(tmp_path):
    def write(text, encoding="utf-8"):
        path = tmp_path / "bench.csv"
        path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
        return path

    return write


def faults(read, path):
    with pytest.raises(DesignError) as caught:
        read(path)
    return [str(fault).removeprefix(f"{path}") for fault in caught.value.faults]


def test_columns_in_any_order_and_what_stays_empty(table):
    text = (
        "# by hand\nvalue,kind,temperature_c,frequency_hz,speed_rpm\n4.1,open_phase_rms_v,,,200\n\n1.4,phase_ohm,17,,\n"
    )
    found = read_readings(table(text + "8.2,open_line_rms_v,,53.3,\n"))
    assert found.rows == (
        Reading(3, "open_phase_rms_v", 4.1, 200.0, "speed_rpm", None),
        Reading(5, "phase_ohm", 1.4, 0.0, "", 17.0),
        Reading(6, "open_line_rms_v", 8.2, 53.3, "frequency_hz", None),
    )


def test_a_row_may_end_before_its_temperature_and_before_nothing_else(table):
    header = "speed_rpm,kind,value,temperature_c\n"
    rows = read_readings(table(header + "200,open_dc_v,4.1\n,phase_ohm,1.4,17\n,phase_ohm,1.4\n")).rows
    assert [row.temperature_c for row in rows] == [None, 17.0, None]
    told = ":2: must have 4 cells (speed_rpm,kind,value,temperature_c); received 2"
    assert faults(read_readings, table(header + "200,open_dc_v\n")) == [told]
    moved = "speed_rpm,kind,temperature_c,value\n200,open_dc_v,4.1\n"
    assert faults(read_readings, table(moved)) == [
        ":2: must have 4 cells (speed_rpm,kind,temperature_c,value); received 3"
    ]


def test_a_mark_of_order_and_foreign_line_ends_do_no_harm(table):
    text = "speed_rpm,kind,value\r\n200,open_dc_v,0\r\n"
    assert read_readings(table(text, "utf-8-sig")).rows[0].value == 0


def test_ohms_alone_need_no_speed(table):
    assert read_readings(table("kind,value\nphase_ohm,1.4\n")).rows[0].speed_in == ""


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("200,open_phase_rms,4.1,", ':2: kind: did you mean open_phase_rms_v?; received "open_phase_rms"'),
        ("200,torque,4.1,", f':2: kind: must be {", ".join(list(KINDS)[:-1])} or loaded_dc_a; received "torque"'),
        ("200,open_dc_v,NaN,", ':2: value: must be a finite number; received "NaN"'),
        ("200,open_dc_v,four,", ':2: value: must be a number such as 54.5; received "four"'),
        (
            "200,open_dc_v,-4,",
            ':2: value: must not be negative; received "-4"; were the meter\'s leads swapped?',
        ),
        (",phase_ohm,0,", ':2: value: must be above 0 ohm; received "0"; were the leads touching?'),
        ("0,open_dc_v,4,", ':2: speed_rpm: must be above 0; received "0"'),
        ("-5,open_dc_v,4,", ':2: speed_rpm: must be above 0; received "-5"'),
        ("inf,open_dc_v,4,", ':2: speed_rpm: must be a finite number; received "inf"'),
        (",open_dc_v,4,", ":2: speed_rpm: must say how fast it turned for open_dc_v; received nothing"),
        (
            "200,open_dc_v,4,900",
            ':2: temperature_c: must be between -60 and 250 (degrees Celsius); received "900"',
        ),
        (
            "200,open_dc_v,4,1,7",
            ":2: must have 4 cells (speed_rpm,kind,value,temperature_c); received 5; decimal commas?",
        ),
    ],
)
def test_a_row_that_cannot_be(table, row, told):
    found = faults(read_readings, table(f"speed_rpm,kind,value,temperature_c\n{row}\n"))
    assert len(found) == 1
    assert found[0].startswith(told)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ": the file is empty"),
        ("# nothing\n", ": holds no line of data; the first must be kind,value"),
        ("speed_rpm,kind,value\n", ":1: holds nothing but its header"),
        ("speed_rpm,kind\n200,open_dc_v\n", ":1: column value is missing"),
        ("rpm,kind,value\n200,open_dc_v,4\n", ':1: unknown column "rpm"'),
        ("kind,value\nopen_dc_v,4\n", ":1: column speed_rpm or frequency_hz is missing: how fast did it turn?"),
        ("speed_rpm;kind;value\n", ":1: the columns are separated by semicolons; save with commas, and with decimal"),
        ("Dear diary, today I wound a coil.\n", ':1: unknown column "Dear diary"'),
        (b"\xff\xfes\x00p\x00", ": this is UTF-16 text; save it as UTF-8"),
    ],
)
def test_a_file_that_is_none(table, text, told):
    assert faults(read_readings, table(text))[0].startswith(told)


def test_both_speeds_in_one_row(table):
    found = faults(read_readings, table("speed_rpm,frequency_hz,kind,value\n200,26,open_dc_v,4\n"))
    assert found == [":2: frequency_hz: a row has speed_rpm or frequency_hz, not both; empty one of them"]


def test_everything_at_once_in_the_order_of_the_lines(table):
    found = faults(read_readings, table("speed_rpm,kind,value\n0,open_dc_v,x\n200,volts,1\n200,open_dc_v\n"))
    assert [text.split(": ")[0] for text in found] == [":2", ":2", ":3", ":4"]


def test_a_scan(table):
    found = read_scan(table("r_mm,theta_deg,z_mm,b_z_t\n66,-22.5,4,-0.61\n"))
    point = found.points[0]
    assert (point.r_m, point.z_m, point.b_z_t) == (0.066, 0.004, -0.61)
    assert point.theta_rad == pytest.approx(-math.pi / 8)
    told = faults(read_scan, table("r_mm,theta_deg,z_mm,b_z_t\n0,0,4,1\n60,x,4,nan\n"))
    assert told == [
        ':2: r_mm: must be above 0; received "0"',
        ':3: theta_deg: must be a number such as 54.5; received "x"',
        ':3: b_z_t: must be a finite number; received "nan"',
    ]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("200,open_dc_v,1e308", 'value: must be between 0 and 1000000 V; received "1e308"'),
        (",phase_ohm,1e-320", 'value: must be between 1e-06 and 1000000 ohm; received "1e-320"'),
        ("1e-320,open_dc_v,5", 'speed_rpm: must be between 0.001 and 1000000; received "1e-320"'),
        ("1e17,open_dc_v,5", 'speed_rpm: must be between 0.001 and 1000000; received "1e17"'),
    ],
)
def test_what_no_meter_shows(table, row, told):
    assert faults(read_readings, table(f"speed_rpm,kind,value\n{row}\n")) == [f":2: {told}"]


def test_a_scan_in_other_units(table):
    assert faults(read_scan, table("r_mm,theta_deg,z_mm,b_z_t\n66000,0,1e308,3500\n")) == [
        ':2: r_mm: must be at most 10000 mm; received "66000"',
        ':2: z_mm: must be at most 10000 mm; received "1e308"',
        ':2: b_z_t: must be at most 10 tesla; 1 T is 1000 mT or 10000 gauss; received "3500"',
    ]


def test_the_bundled_tables_are_found_by_name_and_read(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert len(read_readings(table_path(Path("hut-charger-readings.csv"))).rows) == 10
    assert len(read_scan(table_path(Path("hut-charger-scan.csv"))).points) == 144
    Path("hut-charger-scan.csv").write_text("mine")
    assert table_path(Path("hut-charger-scan.csv")) == Path("hut-charger-scan.csv")
    assert table_path(Path("hut-charger.toml")) == Path("hut-charger.toml")


def test_more_readings_than_can_be_held_against_each_other(table):
    """Each is held against all others: thousands, as a logger writes them, would take many minutes."""
    row = "200,open_phase_rms_v,4.1\n"
    assert len(read_readings(table("speed_rpm,kind,value\n" + 300 * row)).rows) == 300
    told = ": holds 301 readings, more than a bench sheet has; keep 300, a few of each kind"
    assert faults(read_readings, table("speed_rpm,kind,value\n" + 301 * row)) == [told]
