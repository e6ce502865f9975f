"""What a builder measured at the bench, as CSV: meter readings, and a scan of the field in the gap."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldrun.design.csv_table import Row, number, parse_row, positive, read_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.nearest import nearest, one_of
from fieldrun.design.units import DEGREE, metres

SPEEDS = ("speed_rpm", "frequency_hz")
"""Columns that say how fast it turned: one of them in a row, where its kind needs one."""

KINDS = {
    "open_phase_rms_v": "V",
    "open_phase_average_v": "V",
    "open_line_rms_v": "V",
    "open_peak_v": "V",
    "open_dc_v": "V",
    "one_round_rms_v": "V",
    "phase_ohm": "ohm",
    "loaded_dc_v": "V",
    "loaded_dc_a": "A",
}
"""What may be measured, and in what unit: effective and peak values of a phase or between two lines with nothing
connected; what an average-reading meter shows (1.1107 times the rectified mean); direct voltage behind the bridge with
nothing connected; one round alone, before the others are wound; the load's direct voltage and current."""

STANDING = "phase_ohm"
"""The kind that needs no speed."""

COLDEST_C, HOTTEST_C = -60.0, 250.0
"""Copper with enamel on it is not measured beyond."""

MOST = 300
"""Readings of a file: each is held against all others, which takes seconds for so many and minutes for thousands."""

SLOWEST, FASTEST = 1e-3, 1e6
"""Speeds of rotors, in rpm and in Hz."""

LEAST_OHM, LARGEST = 1e-6, 1e6
"""No bench meter shows less ohms, or more ohms, volts or amperes."""

STRONGEST_T, FURTHEST_MM, TURNED_DEG = 10.0, 10_000.0, 36_000.0
"""Beyond these a scan is in other units: gauss, micrometres."""

SCAN_COLUMNS = ("r_mm", "theta_deg", "z_mm", "b_z_t")


@dataclass(frozen=True)
class Reading:
    """One row of the readings: `value` in V, A or ohm; `speed` in the unit of its column `speed_in`.

    `speed_in` is empty where nothing turned.
    """

    line: int
    kind: str
    value: float
    speed: float = 0.0
    speed_in: str = ""
    temperature_c: float | None = None


@dataclass(frozen=True)
class Readings:
    """All rows of a file, in its order."""

    file: str
    rows: tuple[Reading, ...]


@dataclass(frozen=True)
class ScanPoint:
    """Axial flux density at one point of the rotor's frame, theta from the middle of a north magnet of the lower face,
    z above the lower magnets [m], [rad], [m], [T].
    """

    line: int
    r_m: float
    theta_rad: float
    z_m: float
    b_z_t: float


@dataclass(frozen=True)
class FieldScan:
    """All points of a file, in its order."""

    file: str
    points: tuple[ScanPoint, ...]


def read_readings(path: Path) -> Readings:
    """Read `speed_rpm | frequency_hz, kind, value, temperature_c`; the last may be missing or empty, its comma too.

    Raises
    ------
    DesignError
        With everything that is wrong, each with its line and column.
    """
    rows, faults = read_table(path, ("kind", "value"), (*SPEEDS, "temperature_c"), may_end_before=("temperature_c",))
    if len(rows) > MOST:
        text = f"holds {len(rows)} readings, more than a bench sheet has; keep {MOST}, a few of each kind"
        raise DesignError([Fault("", text, str(path))])
    if rows and not any(column in rows[0].cells for column in SPEEDS) and any(_turns(row) for row in rows):
        faults = [*faults, Fault("", "column speed_rpm or frequency_hz is missing: how fast did it turn?", line=1)]
        rows = []
    read = [_reading(row) for row in rows]
    faults = [*faults, *(fault for _, wrong in read for fault in wrong)]
    if faults:
        raise DesignError(_of_file(faults, path))
    return Readings(str(path), tuple(reading for reading, _ in read if reading is not None))


def read_scan(path: Path) -> FieldScan:
    """Read `r_mm,theta_deg,z_mm,b_z_t`.

    Raises
    ------
    DesignError
        With everything that is wrong, each with its line and column.
    """
    rows, faults = read_table(path, SCAN_COLUMNS)
    readers = {
        "r_mm": lambda cell: _within(positive(cell), FURTHEST_MM, "mm"),
        "theta_deg": lambda cell: _within(number(cell), TURNED_DEG, "degrees"),
        "z_mm": lambda cell: _within(number(cell), FURTHEST_MM, "mm"),
        "b_z_t": lambda cell: _within(number(cell), STRONGEST_T, "tesla; 1 T is 1000 mT or 10000 gauss"),
    }
    read = [(row.line, *parse_row(row, readers)) for row in rows]
    faults = [*faults, *(fault for *_, wrong in read for fault in wrong)]
    if faults:
        raise DesignError(_of_file(faults, path))
    return FieldScan(str(path), tuple(_point(line, values) for line, values, _ in read))


def _of_file(faults: list[Fault], path: Path) -> list[Fault]:
    return sorted((Fault(f.key, f.text, str(path), f.line) for f in faults), key=lambda fault: fault.line or 0)


def _point(line: int, values: dict[str, float]) -> ScanPoint:
    return ScanPoint(
        line, metres(values["r_mm"]), values["theta_deg"] * DEGREE, metres(values["z_mm"]), values["b_z_t"]
    )


def _turns(row: Row) -> bool:
    return row.cells["kind"] != STANDING


def _reading(row: Row) -> tuple[Reading | None, list[Fault]]:
    readers = {"kind": _kind, "value": number, "temperature_c": _temperature}
    values, faults = parse_row(row, {column: read for column, read in readers.items() if column in row.cells})
    given, wrong = _speed(row)
    faults += wrong
    if "kind" in values and "value" in values:
        faults += _value_faults(row, values)
    if faults:
        return None, faults
    return Reading(row.line, values["kind"], values["value"], *given, values.get("temperature_c")), []


def _kind(cell: str) -> str:
    if cell in KINDS:
        return cell
    close = nearest(cell, KINDS)
    raise ValueError(f"did you mean {close}?" if close else f"must be {one_of(KINDS).replace(chr(34), '')}")


def _temperature(cell: str) -> float | None:
    if not cell:
        return None
    value = number(cell)
    if not COLDEST_C <= value <= HOTTEST_C:
        raise ValueError(f"must be between {COLDEST_C:g} and {HOTTEST_C:g} (degrees Celsius)")
    return value


def _within(value: float, largest: float, unit: str) -> float:
    if abs(value) > largest:
        raise ValueError(f"must be at most {largest:.12g} {unit}")
    return value


def _speed_of(cell: str) -> float:
    value = positive(cell)
    if not SLOWEST <= value <= FASTEST:
        raise ValueError(f"must be between {SLOWEST:g} and {FASTEST:.12g}")
    return value


def _speed(row: Row) -> tuple[tuple[float, str], list[Fault]]:
    """The speed and its column; nothing for what is measured at rest."""
    cells = {column: row.cells[column] for column in SPEEDS if row.cells.get(column)}
    if row.cells["kind"] == STANDING:
        return (0.0, ""), []
    if len(cells) > 1:
        both = Fault("frequency_hz", "a row has speed_rpm or frequency_hz, not both; empty one of them", line=row.line)
        return (0.0, ""), [both]
    if not cells and row.cells["kind"] in KINDS and any(column in row.cells for column in SPEEDS):
        column = next(column for column in SPEEDS if column in row.cells)
        text = f"must say how fast it turned for {row.cells['kind']}; received nothing"
        return (0.0, ""), [Fault(column, text, line=row.line)]
    values, faults = parse_row(row, dict.fromkeys(cells, _speed_of))
    column = next(iter(values), "")
    return (values.get(column, 0.0), column), faults


def _value_faults(row: Row, values: dict[str, Any]) -> list[Fault]:
    """No meter shows less than nothing; a volt reading of 0 is one, ohms of 0 are not."""
    if values["value"] < 0:
        text = f'must not be negative; received "{row.cells["value"]}"; were the meter\'s leads swapped?'
        return [Fault("value", text, line=row.line)]
    if values["value"] == 0 and values["kind"] == STANDING:
        return [Fault("value", 'must be above 0 ohm; received "0"; were the leads touching?', line=row.line)]
    least = LEAST_OHM if values["kind"] == STANDING else 0.0
    if not least <= values["value"] <= LARGEST:
        text = f"must be between {least:g} and {LARGEST:.12g} {KINDS[values['kind']]}"
        return [Fault("value", f'{text}; received "{row.cells["value"]}"', line=row.line)]
    return []
