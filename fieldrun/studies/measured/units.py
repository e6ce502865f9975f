"""Readings a thousand times off: a unit is wrong before anything else is."""

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.readings import KINDS, Reading, Readings
from fieldrun.studies.measured.bench import Bench

THOUSAND = (300.0, 3000.0)
"""Ratios measured/predicted that betray thousandths of the unit."""

THOUSANDTH = (1 / 1500, 1 / 700)
"""Ratios that betray thousands of it, if all rows of the unit have them: one alone may be a winding that cancels."""

SMALL = {"V": "millivolts", "A": "milliamperes", "ohm": "milliohms"}
LARGE = {"V": "kilovolts", "A": "kiloamperes", "ohm": "kilohms"}
NAMES = {"V": "volts", "A": "amperes", "ohm": "ohms"}


def check_units(bench: Bench, readings: Readings) -> None:
    """Refuse values that are a thousand times what is predicted, or a thousandth throughout.

    Raises
    ------
    DesignError
        With every row, and the unit that was probably meant.
    """
    ratios = list(zip(bench.rows, bench.ratio.tolist(), bench.as_drawn.tolist(), strict=True))
    faults = [
        _fault(row, should, SMALL, readings.file)
        for row, ratio, should in ratios
        if THOUSAND[0] <= ratio <= THOUSAND[1]
    ]
    for unit in SMALL:
        of_unit = [(row, ratio, should) for row, ratio, should in ratios if KINDS[row.kind] == unit]
        if of_unit and all(THOUSANDTH[0] <= ratio <= THOUSANDTH[1] for _, ratio, _ in of_unit):
            faults += [_fault(row, should, LARGE, readings.file) for row, _, should in of_unit]
    if faults:
        raise DesignError(sorted(faults, key=lambda fault: fault.line or 0))


def _fault(row: Reading, should: float, meant: dict[str, str], file: str) -> Fault:
    unit = KINDS[row.kind]
    when = f" at {row.speed:g} {'rpm' if row.speed_in == 'speed_rpm' else 'Hz'}" if row.speed_in else ""
    text = f"{row.value:g} {unit}{when}, predicted {should:.3g}: is it in {meant[unit]}? value must be in {NAMES[unit]}"
    return Fault("value", text, file, row.line)
