"""Which winds of a year are worth a bar, on paper and on the page; apart, as a page may do without matplotlib."""

from fieldrun.generator.wind.energy import Energy, WindClass
from fieldrun.outputs.sentences import plain

RARE_HOURS = 5.0
"""Winds that blow fewer hours a year than this are not drawn, unless they bring energy."""

LITTLE = 0.002
"""Share of a year's energy that is little."""

MOST_BARS = 16
"""More classes than this are drawn in pairs."""


def shown_classes(energy: Energy) -> list[WindClass]:
    """All classes from calm up to the last that blows for some hours or brings something; many are joined in pairs."""
    enough = LITTLE * energy.annual_kwh
    last = [i for i, c in enumerate(energy.classes) if c.hours >= RARE_HOURS or c.energy_kwh > enough]
    shown = list(energy.classes[: last[-1] + 1]) if last else []
    return shown if len(shown) <= MOST_BARS else [_joined(shown[i : i + 2]) for i in range(0, len(shown), 2)]


def _joined(classes: list[WindClass]) -> WindClass:
    low, high = classes[0].from_m_s, classes[-1].to_m_s
    return WindClass(low, high, sum(c.hours for c in classes), sum(c.energy_kwh for c in classes))


def bar_text(value: float) -> str:
    """What stands at a bar's end: whole numbers, below ten one figure."""
    return f"{value:.0f}" if value >= 10 else plain(float(f"{value:.1g}"))
