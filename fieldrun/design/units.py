"""Units live at the edge: the file and the screen speak millimetres, degrees, rpm; everything inside is SI."""

import math

MM = 1e-3
"""Metres in a millimetre."""

DEGREE = math.pi / 180
"""Radians in a degree."""

RPM = math.pi / 30
"""Radians per second in one revolution per minute."""

KRPM = 1000 * RPM
"""Radians per second in a thousand revolutions per minute: V s/rad times this is V per 1000 rpm."""

MU0 = 4e-7 * math.pi
"""Magnetic constant [H/m]; the pre-2019 value, 5e-10 from CODATA 2022, so that closed forms stay exact."""

ABSOLUTE_ZERO_C = -273.15
"""0 K on the Celsius scale."""


def metres(length_mm: float) -> float:
    """Millimetres to metres by one rounding, so that 9 mm is the number 0.009."""
    return length_mm / 1000
