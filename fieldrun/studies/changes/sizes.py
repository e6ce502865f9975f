"""The next sizes of wire that a shop has: preferred diameters, gauge numbers, or strands of a bundle."""

import math
from collections.abc import Iterable

from fieldrun.design.model import Wire
from fieldrun.design.units import MM
from fieldrun.design.wire import AWG_LARGEST, AWG_SMALLEST, awg_diameter_m, preferred_sizes_m

Keys = dict[str, object]

SAME = 1e-6
"""Share within which two diameters are one."""

TRIED = 4
"""Sizes that are looked at on either side."""

STRANDS_STEP = 0.06
"""Share by which the number of strands changes from size to size; a bundle grows with its root."""


def smaller_wires(wire: Wire) -> list[Keys]:
    """The next thinner sizes as keys of the design file, thickest first."""
    if wire.kind == "litz":
        return _bundles(wire, (1 - STRANDS_STEP * i for i in range(1, 2 * TRIED + 1)))
    gauge = gauge_of(wire)
    if gauge is not None:
        return [_gauge(number) for number in range(gauge + 1, min(gauge + TRIED, AWG_SMALLEST) + 1)]
    bare = wire.strand_diameter_m
    return [_copper(size) for size in reversed(preferred_sizes_m()) if size < bare * (1 - SAME)][:TRIED]


def thicker_wires(wire: Wire) -> list[Keys]:
    """The next thicker size, if there is one."""
    if wire.kind == "litz":
        return _bundles(wire, [1 + 2 * STRANDS_STEP])
    gauge = gauge_of(wire)
    if gauge is not None:
        return [_gauge(gauge - 1)] if gauge > AWG_LARGEST else []
    bare = wire.strand_diameter_m
    return [_copper(size) for size in preferred_sizes_m() if size > bare * (1 + SAME)][:1]


def gauge_of(wire: Wire) -> int | None:
    """The American gauge number of a solid wire; None if its diameter is that of none."""
    number = round(36 - 39 * math.log(wire.strand_diameter_m / awg_diameter_m(36)) / math.log(92))
    inside = AWG_LARGEST <= number <= AWG_SMALLEST
    return number if inside and math.isclose(awg_diameter_m(number), wire.strand_diameter_m, rel_tol=SAME) else None


def _gauge(number: int) -> Keys:
    return {"wire.awg": number, "wire.copper_mm": None}


def _copper(bare_m: float) -> Keys:
    return {"wire.copper_mm": round(bare_m / MM, 6)}


def _bundles(wire: Wire, shares: Iterable[float]) -> list[Keys]:
    """Bundles of other numbers of the same strands, which still divide into the groups in series."""
    series = wire.strands_in_series
    counts = [max(1, round(share * wire.strands / series)) * series for share in shares]
    return [{"wire.strands": count} for count in dict.fromkeys(counts) if count != wire.strands]
