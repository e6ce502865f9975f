"""Wind as somebody measured it: a CSV of times and speeds, its holes counted and left out."""

import datetime as dt
import os
from collections import defaultdict
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from statistics import median

from fieldrun.design.csv_table import Row, read_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.lulls import lulls_of
from fieldrun.design.model import WindRecord

COLUMNS = ("time", "speed_m_s")

LARGEST_BYTES = 60_000_000
"""Two years of every minute fit."""

HIGHEST_M_S = 75.0
"""No anemometer near the ground has shown more for longer than a gust: it stands for "no reading" in many loggers."""

LONGER = 1.5
"""Of the usual interval: a reading that comes later than so many leaves a gap."""

MISSING = frozenset({"", "nan", "na", "n/a", "-", "null"})
"""Cells that loggers write where they have no reading (any case)."""

SHOWN = 10
"""Faults of one kind that are listed; of a hundred thousand lines all may be wrong in the same way."""

Reading = tuple[int, dt.datetime, float | None]
"""Line in the file, time, speed [m/s] or None where there was no reading."""


def read_wind_record(path: Path) -> WindRecord:
    """Read `time,speed_m_s`, times in ISO 8601 and rising; empty cells and missing times are gaps.

    Every reading stands for the usual interval, the median of all, or until the next reading if that comes sooner.
    Nothing is filled in: a gap counts as neither calm nor windy.

    Raises
    ------
    DesignError
        With what is wrong, each line by its number; of many faults of one kind the first ones.
    """
    stat = os.stat_result(path.stat()) if path.is_file() else None
    return _read(path, (stat.st_mtime_ns, stat.st_size) if stat else None)


@lru_cache(maxsize=4)
def _read(path: Path, _version: tuple[int, int] | None) -> WindRecord:
    rows, faults = read_table(path, COLUMNS, largest_bytes=LARGEST_BYTES)
    readings, wrong = _readings(rows)
    faults = _few([*faults, *wrong]) or _few(_order_faults(readings)) or _count_faults(readings)
    if faults:
        raise DesignError([Fault(f.key, f.text, str(path), f.line) for f in faults])
    return _record(path.name, readings)


def _readings(rows: list[Row]) -> tuple[list[Reading], list[Fault]]:
    readings, faults = [], []
    for row in rows:
        try:
            readings.append((row.line, _time(row.cells["time"]), _speed(row.cells["speed_m_s"])))
        except _CellError as error:
            faults.append(Fault(error.column, f'{error}; received "{row.cells[error.column]}"', line=row.line))
    return readings, faults


class _CellError(ValueError):
    def __init__(self, column: str, text: str) -> None:
        self.column = column
        super().__init__(text)


def _time(cell: str) -> dt.datetime:
    try:
        return dt.datetime.fromisoformat(cell)
    except ValueError:
        raise _CellError("time", "must be a time in ISO 8601 such as 2024-03-01T12:10") from None


def _speed(cell: str) -> float | None:
    if cell.casefold() in MISSING:
        return None
    try:
        speed = float(cell)
    except ValueError:
        raise _CellError("speed_m_s", "must be a number (m/s); leave the cell empty for a gap") from None
    if not 0 <= speed <= HIGHEST_M_S:
        text = "a speed is never negative" if speed < 0 else f"more than {HIGHEST_M_S:g} m/s blow nowhere"
        raise _CellError("speed_m_s", f"{text}; leave the cell empty where there was no reading")
    return speed


def _few(faults: list[Fault]) -> list[Fault]:
    if len(faults) <= SHOWN:
        return faults
    return [*faults[:SHOWN], Fault("", f"and {len(faults) - SHOWN} more faults like these", line=faults[SHOWN].line)]


def _order_faults(readings: list[Reading]) -> list[Fault]:
    zones = {reading[1].tzinfo is None for reading in readings}
    if len(zones) > 1:
        line = next(line for line, time, _ in readings if (time.tzinfo is None) != (readings[0][1].tzinfo is None))
        return [Fault("time", "some times have a zone (Z or +01:00) and some have none; write all alike", line=line)]
    return [
        Fault("time", f"must rise from row to row; {_iso(time)} follows {_iso(before)}{_cure(time, before)}", line=line)
        for (_, before, _), (line, time, _) in pairwise(readings)
        if time <= before
    ]


def _cure(time: dt.datetime, before: dt.datetime) -> str:
    if before - time <= dt.timedelta(hours=1):
        return "; sort the rows and leave out doubles (clocks set back? write UTC)"
    return "; sort the rows"


def _count_faults(readings: list[Reading]) -> list[Fault]:
    held = sum(speed is not None for *_, speed in readings)
    if held < 2:
        return [Fault("speed_m_s", f"must hold at least two readings; received {held}")]
    return []


def _record(name: str, readings: list[Reading]) -> WindRecord:
    """Hours at every speed that occurs, and what was not recorded."""
    seconds = [(later[1] - earlier[1]).total_seconds() for earlier, later in pairwise(readings)]
    usual = median(seconds)
    held: defaultdict[float, float] = defaultdict(float)
    gaps: list[float] = []
    spans: list[tuple[float, float] | None] = []
    hole = 0.0
    for (_, _, speed), step in zip(readings, [*seconds, usual], strict=True):
        stands = step if step <= LONGER * usual else usual
        if speed is not None:
            if hole:
                gaps.append(hole)
            held[speed] += stands
            spans += [None, (speed, stands / 3600)] if hole else [(speed, stands / 3600)]
            hole = step - stands
        else:
            hole += step
    if hole:
        gaps.append(hole)
    speeds = sorted(held)
    return WindRecord(
        name=name,
        speeds_m_s=tuple(speeds),
        hours=tuple(held[speed] / 3600 for speed in speeds),
        first=_iso(readings[0][1]),
        last=_iso(readings[-1][1]),
        interval_s=usual,
        gaps=len(gaps),
        missing_hours=sum(gaps) / 3600,
        longest_gap_hours=max(gaps, default=0.0) / 3600,
        lulls=lulls_of(spans),
    )


def _iso(time: dt.datetime) -> str:
    return time.isoformat(timespec="minutes")
