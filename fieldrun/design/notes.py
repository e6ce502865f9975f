"""What was read but changes nothing, and what the user should know though it is no fault: plain sentences."""

from collections.abc import Iterator

from fieldrun.design.checks_rotor import is_steel
from fieldrun.design.resolve import rounds_of
from fieldrun.design.tables import Tables
from fieldrun.design.wire import BUNCHING_TAKE_UP, CABLING_TAKE_UP


def notes_of(tables: Tables) -> tuple[str, ...]:
    """Every note on a sound design."""
    return (*_magnets(tables), *_rotor(tables), *_winding(tables), *_wire(tables), *_brushes(tables))


def _magnets(tables: Tables) -> Iterator[str]:
    if tables.magnets.grade is None and "temperature_c" in tables.magnets.model_fields_set:
        yield "magnets.remanence_t is taken as it stands; magnets.temperature_c does not change it."


def _rotor(tables: Tables) -> Iterator[str]:
    table = tables.rotor
    for key in ("backing", "return_plate"):
        name, thickness = getattr(table, key), getattr(table, f"{key}_mm")
        if thickness is not None and not is_steel(name):
            yield f'rotor.{key}_mm is ignored: {key} = "{name}" has no thickness.'
    steel = is_steel(table.backing) or is_steel(table.return_plate)
    for key in ("steel_inner_radius_mm", "steel_outer_radius_mm"):
        if getattr(table, key) is not None and not steel:
            yield f"rotor.{key} is ignored: there is no steel disc of finite size."


def _winding(tables: Tables) -> Iterator[str]:
    if tables.winding.phases == 1 and tables.winding.connection is not None:
        yield f'winding.connection = "{tables.winding.connection}" is ignored: one phase has nothing to join.'
    if tables.winding.shape == "path" and tables.winding.step_deg is not None and rounds_of(tables.winding) == 1:
        yield "winding.step_deg is ignored: the path is wound once."


def _wire(tables: Tables) -> Iterator[str]:
    if tables.wire.kind == "litz" and tables.wire.lay_mm is None:
        yield (
            "wire.lay_mm is not given: the strands are counted as straight. Bundles of unknown lay have by rule "
            f"{_more(BUNCHING_TAKE_UP)} more ohms for each bunching of strands and {_more(CABLING_TAKE_UP)} more for "
            "each cabling of bundles."
        )


def _more(factor: float) -> str:
    return f"{100 * (factor - 1):.1f} %"


def _brushes(tables: Tables) -> Iterator[str]:
    if tables.wind is None or not tables.wind.brush_drop_v:
        return
    if tables.load is None or tables.load.kind == "open" or tables.load.rectifier == "none":
        yield "wind.brush_drop_v is ignored: it counts only where a rectifier's current passes the brushes."
    elif tables.rotor.spins != "coil":
        yield 'wind.brush_drop_v counts although rotor.spins = "magnets": a winding that stands still has no brushes.'
