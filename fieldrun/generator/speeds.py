"""Speeds that the builder is told about."""

from fieldrun.design.model import Design

ASKED_RPM = (100.0, 200.0, 300.0)
"""Speeds told about when the design file asks for none."""


def asked_speeds(design: Design) -> tuple[float, ...]:
    """Speeds the design file asks about, or three usual ones [rpm]."""
    return design.load.speeds_rpm if design.load and design.load.speeds_rpm else ASKED_RPM


def top_speed_rpm(design: Design) -> float:
    """The highest of them [rpm]."""
    return max(asked_speeds(design))
