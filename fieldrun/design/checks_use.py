"""Wire and load: keys that exclude each other or need each other."""

import math
from collections.abc import Iterator
from typing import assert_never

from fieldrun.design.digits import digits
from fieldrun.design.errors import Fault
from fieldrun.design.file_tables import FormerTable, LoadTable, WireTable
from fieldrun.design.nearest import one_of
from fieldrun.design.resolve_wire import bundle_m
from fieldrun.design.shapes import LOAD_OPTIONS
from fieldrun.design.tables import Tables
from fieldrun.design.units import MM
from fieldrun.design.wire import shortest_lay_m

USUAL_LAY = 12
"""Turn of a twist over the bundle's diameter: ten to fifteen hold together and still bend (common practice)."""


def wire_faults(tables: Tables) -> Iterator[Fault]:
    """Faults between keys of [wire]."""
    wire = tables.wire
    if wire.kind == "solid":
        yield from _one_of_two(tables, wire)
    if wire.kind == "litz":
        yield from _bundle(tables, wire)


def load_faults(tables: Tables) -> Iterator[Fault]:
    """Faults between keys of [load]."""
    load = tables.load
    if load is None:
        return
    yield from _needs(tables, load)
    if load.kind in LOAD_OPTIONS["voltage_v"] and load.rectifier == "none":
        yield Fault(
            "load.rectifier",
            f"a {load.kind} needs direct current; write {one_of(['bridge', 'bridge per phase', 'doubler'])}",
        )
    yield from _no_diodes(load)
    yield from _own_diodes(tables, load)


def _needs(tables: Tables, load: LoadTable) -> Iterator[Fault]:
    kind = load.kind
    if kind is None or kind == "open":
        return
    if kind == "battery":
        if load.voltage_v is None and not tables.is_faulty("load.voltage_v"):
            yield Fault("load.voltage_v", "missing: the voltage at which the battery charges, such as 12.6")
    elif kind == "resistor":
        if load.resistance_ohm is None and not tables.is_faulty("load.resistance_ohm"):
            yield Fault("load.resistance_ohm", "missing: the resistance of the resistor")
        if load.resistance_ohm == 0:
            yield Fault("load.resistance_ohm", "must be above 0 ohm: a short circuit is no load; received 0")
    else:
        assert_never(kind)


def _no_diodes(load: LoadTable) -> Iterator[Fault]:
    for key in ("diode_drop_v", "diode_slope_ohm"):
        if load.rectifier == "none" and key in load.model_fields_set:
            yield Fault(f"load.{key}", 'rectifier = "none" has no use for it: there are no diodes; remove it')


def _own_diodes(tables: Tables, load: LoadTable) -> Iterator[Fault]:
    """Diodes of a phase's own need its ends free; a doubler leads all starts to one point, which is a star's."""
    joined = tables.winding.connection
    needs = {"bridge per phase": {"star", "delta"}, "doubler": {"delta"}}.get(load.rectifier, set())
    if load.kind != "open" and tables.winding.phases != 1 and joined in needs:
        yield Fault(
            "load.rectifier",
            f'"{load.rectifier}" needs the ends of every phase free; winding.connection = "{joined}" joins them: write '
            'connection = "separate", or rectifier = "bridge"',
        )


def _one_of_two(tables: Tables, wire: WireTable) -> Iterator[Fault]:
    if wire.copper_mm is not None and wire.awg is not None:
        yield Fault("wire.awg", f"given with copper_mm = {digits(wire.copper_mm)} too; keep one of the two")
    if wire.copper_mm is None and wire.awg is None and not any(map(tables.is_faulty, ("wire.copper_mm", "wire.awg"))):
        yield Fault("wire.copper_mm", "missing: the bare diameter of the wire, or awg")


def _bundle(tables: Tables, wire: WireTable) -> Iterator[Fault]:
    for key in ("strand_mm", "strands"):
        if getattr(wire, key) is None and not tables.is_faulty(f"wire.{key}"):
            yield Fault(f"wire.{key}", f'missing for kind = "litz" ({WireTable.model_fields[key].description})')
    if wire.strands and wire.strands_in_series > 0 and wire.strands % wire.strands_in_series:
        divisors = [str(n) for n in range(1, min(wire.strands, 200) + 1) if wire.strands % n == 0]
        text = f"must divide the {wire.strands} strands into equal groups; received {wire.strands_in_series}"
        yield Fault("wire.strands_in_series", f"{text}; try {', '.join(divisors)}")
    yield from _twist(tables, wire)


def _twist(tables: Tables, wire: WireTable) -> Iterator[Fault]:
    """A lay that the strands have room for, and a bench that leaves something between its tails."""
    if wire.bench_mm is not None and wire.lay_mm is None and not tables.is_faulty("wire.lay_mm"):
        yield Fault(
            "wire.lay_mm", "missing: a bundle twisted at home (bench_mm) needs the length of one turn of its twist"
        )
    if tables.is_faulty("wire.bunching") or (bundle := bundle_m(tables)) is None:
        return
    shortest, usual = shortest_lay_m(bundle, wire.bunching) / MM, USUAL_LAY * bundle / MM
    if wire.lay_mm is not None and wire.lay_mm < shortest:
        yield Fault("wire.lay_mm", _short_lay_text(bundle / MM, wire.lay_mm, shortest, usual))
    elif wire.bench_mm is not None and not tables.is_faulty("former.tail_mm"):
        yield from _bench(wire.bench_mm, (tables.former or FormerTable()).tail_mm)


def _short_lay_text(bundle_mm: float, lay_mm: float, shortest_mm: float, usual_mm: float) -> str:
    if math.isinf(shortest_mm):
        return "with so small a bunching the strands fill the bundle before they are twisted; try bunching = 1.27"
    least = math.ceil(100 * shortest_mm) / 100
    return (
        f"must be at least {digits(least)} mm for a bundle of {bundle_mm:.2f} mm: in a tighter twist the slanted "
        f"strands find no room; received {digits(lay_mm)}; try {digits(usual_mm, 2)}, {USUAL_LAY} times the bundle"
    )


def _bench(bench_mm: float, tail_mm: float) -> Iterator[Fault]:
    if bench_mm <= 2 * tail_mm:
        text = f"must be above {digits(2 * tail_mm)} mm, the two tails of former.tail_mm = {digits(tail_mm)}"
        yield Fault("wire.bench_mm", f"{text}; received {digits(bench_mm)}; move the holding points apart")
