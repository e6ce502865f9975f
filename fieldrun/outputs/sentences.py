"""Numbers as a builder reads them: three figures, a unit, no powers of ten for sizes one meets in a workshop."""

import math

FIGURES = 3
"""Significant figures shown: an answer good to about one per cent deserves no more."""

ORDINARY = (-4, 7)
"""Powers of ten from here to there are written out; what is smaller or larger keeps its power."""


HEAVY_KG = 10.0
"""From here on nobody weighs in grams."""


def plain(value: float, unit: str = "") -> str:
    """Write a number to three figures with its unit after a space: `4.12 V`, `310 rpm`, `12000 N`.

    Trailing zeros are dropped, because they would claim a precision of their own; zero is `0`.

    Raises
    ------
    ValueError
        If the value is not finite: no such number may reach a reader.
    """
    if not math.isfinite(value):
        raise ValueError(f"only finite numbers can be shown; received {value!r}")
    return f"{_digits(float(value))} {unit}".rstrip()


def weight(mass_kg: float) -> str:
    """A mass in grams, from ten kilograms on in kilograms."""
    return plain(mass_kg, "kg") if mass_kg >= HEAVY_KG else plain(1000 * mass_kg, "g")


def listed(parts: list[str]) -> str:
    """Words in a row: "a", "a and b", "a, b and c"."""
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1]


def _digits(value: float) -> str:
    if value == 0:
        return "0"
    mantissa, power = f"{value:.{FIGURES - 1}e}".split("e")
    exponent = int(power)
    if not ORDINARY[0] <= exponent < ORDINARY[1]:
        return f"{_trimmed(mantissa)}e{exponent}"
    return _trimmed(f"{float(f'{mantissa}e{exponent}'):.{max(0, FIGURES - 1 - exponent)}f}")


def _trimmed(digits: str) -> str:
    return digits.rstrip("0").rstrip(".") if "." in digits else digits
