"""Numbers in sentences: digits as one reads them, no powers of ten."""

from decimal import Decimal

READABLE = (-9, 15)
"""Powers of ten from here to there are written out; what lies beyond is no size of anything and keeps its power."""


def digits(value: float, figures: int = 6) -> str:
    """Write a finite number to so many significant figures: `560` and `1000000`, not `5.6e+02` and `1e+06`."""
    text = f"{value:.{figures}g}"
    power = int(text.partition("e")[2] or 0)
    return format(Decimal(text), "f") if READABLE[0] <= power <= READABLE[1] else text
