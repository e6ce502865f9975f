"""The [wire] table as a conductor in SI."""

from fieldrun.design.file_tables import WireTable
from fieldrun.design.model import Wire
from fieldrun.design.tables import Tables
from fieldrun.design.units import metres
from fieldrun.design.wire import awg_diameter_m, litz_wire, solid_wire


def copper_m(table: WireTable) -> float | None:
    """Bare diameter of a solid wire, by size or by gauge [m]."""
    if table.copper_mm is not None:
        return metres(table.copper_mm)
    return None if table.awg is None else awg_diameter_m(table.awg)


def bundle_m(tables: Tables) -> float | None:
    """Diameter of a bundle without its serving [m]; None if it is not one or cannot be told."""
    wire = wire_of(tables)
    return None if wire is None or wire.kind != "litz" else wire.overall_diameter_m - metres(tables.wire.serving_mm)


def wire_of(tables: Tables) -> Wire | None:
    """The conductor, or None if the table is not complete or has a faulty key."""
    table = tables.wire
    if tables.faulty and any(tables.is_faulty(f"wire.{key}") for key in ("", *type(table).model_fields)):
        return None
    return _litz(table) if table.kind == "litz" else _solid(table)


def _solid(table: WireTable) -> Wire | None:
    bare = copper_m(table)
    if table.kind != "solid" or bare is None:
        return None
    return solid_wire(bare, table.enamel, float(table.temperature_c))


def _litz(table: WireTable) -> Wire | None:
    if table.strand_mm is None or table.strands is None:
        return None
    return litz_wire(
        metres(table.strand_mm),
        table.strands,
        enamel=table.enamel,
        temperature_c=float(table.temperature_c),
        lay_m=None if table.lay_mm is None else metres(table.lay_mm),
        bunching=table.bunching,
        serving_m=metres(table.serving_mm),
        strands_in_series=table.strands_in_series,
        bench_m=None if table.bench_mm is None else metres(table.bench_mm),
    )
