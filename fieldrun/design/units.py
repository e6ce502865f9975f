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

KM_H, KNOT = 1 / 3.6, 1852 / 3600
"""Metres per second in a kilometre per hour and in a knot: a nautical mile, 1852 m, an hour (ISO 80000-3)."""

MU0 = 4e-7 * math.pi
"""Magnetic constant [H/m]; the pre-2019 value, 5e-10 from CODATA 2022, so that closed forms stay exact."""

ABSOLUTE_ZERO_C = -273.15
"""0 K on the Celsius scale."""


def metres(length_mm: float) -> float:
    """Millimetres to metres by one rounding, so that 9 mm is the number 0.009."""
    return length_mm / 1000
