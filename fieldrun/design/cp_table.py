"""A rotor of the user's own: a CSV of power coefficient against tip-speed ratio."""

from itertools import pairwise
from pathlib import Path

from fieldrun.design.csv_table import number, parse_row, read_table
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import PowerCoefficients

COLUMNS = ("tip_speed_ratio", "cp")

BETZ = 16 / 27
"""The most that any rotor takes from the wind through its area (A. Betz, 1920; a limit of momentum, not of craft)."""

LEAST_POINTS = 3
FASTEST = 30.0
"""No rotor's tips run faster than so many winds."""

Point = tuple[int, float, float]
"""Line in the file, tip-speed ratio, power coefficient."""


def read_cp_table(path: Path) -> PowerCoefficients:
    """Read `tip_speed_ratio,cp`: at least three rows, the first column rising strictly, no cp above Betz's limit.

    The last row must lie past the peak, because what the rotor does when nothing holds it back depends on it.

    Raises
    ------
    DesignError
        With every fault of the file, each with its line.
    """
    rows, faults = read_table(path, COLUMNS)
    points: list[Point] = []
    for row in rows:
        values, wrong = parse_row(row, dict.fromkeys(COLUMNS, number))
        faults += wrong
        if not wrong:
            points.append((row.line, values["tip_speed_ratio"], values["cp"]))
    faults = faults or _size_faults(points) or _order_faults(points) or _peak_faults(points)
    if faults:
        raise DesignError([Fault(f.key, f.text, str(path), f.line) for f in faults])
    return PowerCoefficients(path.name, tuple(p[1] for p in points), tuple(p[2] for p in points))


def _size_faults(points: list[Point]) -> list[Fault]:
    faults = [_tip_fault(line, ratio) for line, ratio, _ in points if not 0 <= ratio <= FASTEST]
    faults += [_cp_fault(line, cp) for line, _, cp in points if not -1 <= cp <= BETZ]
    return faults + [
        Fault("cp", f"at standstill no power is taken: write 0, or leave the row out; received {cp:g}", line=line)
        for line, ratio, cp in points
        if ratio == 0 and cp != 0
    ]


def _tip_fault(line: int, ratio: float) -> Fault:
    hint = "" if ratio < 0 else "; it is tip speed over wind speed, not rpm"
    return Fault("tip_speed_ratio", f"must lie between 0 and {FASTEST:g}; received {ratio:g}{hint}", line=line)


def _cp_fault(line: int, cp: float) -> Fault:
    if cp < -1:
        return Fault("cp", f"no rotor brakes that hard; received {cp:g}; is this percent?", line=line)
    hint = f"is this percent? write {cp / 100:g}" if 1 < cp <= 100 * BETZ else "is it against the free wind?"
    return Fault("cp", f"must not be above Betz's limit 16/27 = {BETZ:.4f}; received {cp:g}; {hint}", line=line)


def _order_faults(points: list[Point]) -> list[Fault]:
    return [
        Fault("tip_speed_ratio", f"must rise from row to row; {ratio:g} follows {before:g}; sort the rows", line=line)
        for (_, before, _), (line, ratio, _) in pairwise(points)
        if ratio <= before
    ]


def _peak_faults(points: list[Point]) -> list[Fault]:
    if len(points) < LEAST_POINTS:
        return [Fault("", f"must hold at least {LEAST_POINTS} rows; received {len(points)}")]
    if max(cp for *_, cp in points) <= 0:
        return [Fault("cp", "never above 0: such a rotor never turns anything; columns swapped?")]
    (_, _, before), (line, ratio, last) = points[-2:]
    if last >= before > 0 or (last > 0 >= before):
        text = (
            f"still rises at its last row, tip-speed ratio {ratio:g}; go on past the peak: a row with cp 0 says where "
            "the rotor runs free"
        )
        return [Fault("cp", text, line=line)]
    return []
