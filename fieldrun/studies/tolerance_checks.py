"""Tolerances that no machine could have: refused with their key and with what the machine has room for."""

import math
from collections.abc import Iterator
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Arc, Design, Disc, Magnets
from fieldrun.design.read import told_by_line
from fieldrun.design.units import MM
from fieldrun.field.outline import body_pitch_rad, mean_radius_m
from fieldrun.generator.machine import middle_height_m
from fieldrun.studies.deviations import smallest_side_m
from fieldrun.winding.lay import lay

RARE, SOME = 3.0, 2.0
"""Standard deviations that 1 part in 700 falls below, and 1 in 40."""

HAIR_M = 1e-9
"""Lengths that differ by less are equal."""


def check_tolerance(design: Design, path: Path) -> None:
    """Refuse tolerances under which parts could not exist or would meet.

    Raises
    ------
    DesignError
        With every such key, its line in the design file, and the most that it may be.
    """
    faults = list(tolerance_faults(design))
    if faults:
        with told_by_line(path):
            raise DesignError(faults)


def tolerance_faults(design: Design) -> Iterator[Fault]:
    """Everything that the sizes of a design leave no room for."""
    stated = design.tolerance
    if RARE * stated.remanence >= 1:
        text = f"{100 * stated.remanence:g} % is no tolerance: 1 magnet in 700 would have no strength left"
        yield Fault("tolerance.remanence_percent", f"{text}; must be below {100 / RARE:.0f}; usual is 2")
    yield from _size(design)
    yield from _place(design)
    yield from _gap(design)


def _size(design: Design) -> Iterator[Fault]:
    side, stated = smallest_side_m(design.magnets), design.tolerance.magnet_m
    if RARE * stated > side + HAIR_M:
        text = f"1 magnet in 700 would be {RARE * stated / MM:g} mm smaller than drawn, and its shortest side is"
        yield Fault("tolerance.magnet_mm", f"{text} {side / MM:.2f} mm; {_most(stated, side / RARE)}; usual is 0.1")


def _place(design: Design) -> Iterator[Fault]:
    magnets, stated = design.magnets, design.tolerance.placement_m
    middle = mean_radius_m(magnets)
    room = min(middle * math.sin(min(body_pitch_rad(magnets), math.pi) / 2), middle - _half_depth_m(magnets))
    if RARE * stated > room + HAIR_M:
        text = f"1 magnet in 700 would lie {RARE * stated / MM:g} mm off, nearer to its neighbour's place or the shaft"
        yield Fault("tolerance.placement_mm", f"{text}; {_most(stated, room / RARE)}; usual is 0.3")


def _half_depth_m(magnets: Magnets) -> float:
    outline = magnets.outline
    if isinstance(outline, Arc):
        return (outline.outer_radius_m - outline.inner_radius_m) / 2
    return (outline.diameter_m if isinstance(outline, Disc) else outline.radial_m) / 2


def _gap(design: Design) -> Iterator[Fault]:
    stated, room = design.tolerance.gap_m, gap_room_m(design)
    if SOME * stated > room + HAIR_M:
        text = f"in 1 machine of 40 the winding would touch: it has {room / MM:.2f} mm to spare"
        yield Fault("tolerance.gap_mm", f"{text}; {_most(stated, room / SOME)}, or give the winding more room")


def gap_room_m(design: Design) -> float:
    """How much smaller the gap may be before copper touches [m]; over one open face, how much lower the winding."""
    laid, gap = lay(design.winding, design.magnets.pole_pairs, design.wire), design.rotor.gap_m
    middle = middle_height_m(laid)
    below = middle - laid.thickness_m / 2
    if gap is None:
        return below
    above = gap - middle - laid.thickness_m / 2
    return 2 * min(below, above) if design.rotor.faces == 2 else above


def _most(stated_m: float, limit_m: float) -> str:
    most = math.floor(limit_m / MM * 100 + 1e-6) / 100
    return f"must be at most {most:g}; received {stated_m / MM:g}"
