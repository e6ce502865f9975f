"""What was taken for granted of diodes, load and cable."""

from collections.abc import Iterator

from fieldrun.design.model import Design, Load
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.network import joined_as


def load_assumptions(design: Design, inductance: Inductance | None) -> tuple[str, ...]:
    """How the load was counted; nothing without one that takes power."""
    load = design.load
    if load is None or load.kind == "open":
        return ()
    return tuple(_counted(design, load, inductance))


def _counted(design: Design, load: Load, inductance: Inductance | None) -> Iterator[str]:
    if load.rectifier == "none":
        yield f"Every phase has a resistor of its own{_between(design, load)}, with the cable's resistance before it."
    else:
        yield (
            f"A diode that conducts drops {load.diode_drop_v:g} V and adds {load.diode_slope_ohm:g} ohm; one that "
            "blocks lets nothing through, and it switches at once. The diodes sit at the generator, the cable behind."
        )
    if load.rectifier == "doubler":
        yield (
            "The doubler's two capacitors are large: half of the direct voltage lies on each without ripple, and the "
            "load's current is smooth."
        )
    if load.kind == "battery":
        yield (
            "The battery holds its voltage behind its own resistance, load.resistance_ohm, whatever it is charged "
            "with; what that resistance heats is counted as delivered."
        )
    if inductance is None:
        yield "The winding's inductance is not known and not counted in what the load gets."


def _between(design: Design, load: Load) -> str:
    joined = joined_as(design.winding, load)
    return {"star": ", joined in a star that is not led back", "delta": " across it"}.get(joined, "")
