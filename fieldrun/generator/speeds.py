"""Speeds that the builder is told about."""

from fieldrun.design.model import Design

ASKED_RPM = (100.0, 200.0, 300.0)
"""Speeds told about when the design file asks for none."""


def asked_speeds(design: Design) -> tuple[float, ...]:
    """Speeds the design file asks about, or three usual ones, rising, each of them once [rpm]."""
    return tuple(sorted(set(design.load.speeds_rpm if design.load else ()))) or ASKED_RPM


def top_speed_rpm(design: Design) -> float:
    """The highest of them [rpm]."""
    return asked_speeds(design)[-1]
