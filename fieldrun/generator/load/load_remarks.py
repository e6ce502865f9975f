"""What is to be said of a load: a winding that its current cooks, and what was taken for granted."""

from collections.abc import Iterator
from typing import assert_never

import numpy as np

from fieldrun.design.digits import digits
from fieldrun.design.materials import REFERENCE_TEMPERATURE_C, copper_resistivity
from fieldrun.design.model import Design, Load, LoadKind
from fieldrun.design.units import RPM
from fieldrun.generator.heating import Heat, steady_temperature_c
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.load.delivery import Delivery
from fieldrun.generator.load.network import joined_as
from fieldrun.generator.result import Remark

HOTTEST_ENAMEL_C = 240
"""Polyimide, the highest thermal class of enamelled wire (IEC 60317-46; from memory)."""


def delivery_warnings(design: Design, delivery: Delivery | None, heat: Heat) -> tuple[Remark, ...]:
    """The asked speed at which the load's current warms the winding most beyond what it stands; nothing if none does.

    Warmer copper resists more, which warms it further; that less current then flows is left out.
    """
    if delivery is None:
        return ()
    cold = copper_resistivity(REFERENCE_TEMPERATURE_C) / copper_resistivity(design.wire.temperature_c)
    worst = int(np.argmax(delivery.copper_w + delivery.idle_w))
    copper_w, idle_w = float(delivery.copper_w[worst]), float(delivery.idle_w[worst])
    reached = steady_temperature_c(copper_w * cold, heat.moving.rise_k_per_w, heat.air_c, idle_w)
    if copper_w == 0 or (reached is not None and reached <= heat.limit_c):
        return ()
    ends = _ends(reached)
    amps = digits(float(delivery.phase_rms_a[worst]), 2)
    text = (
        f"at {delivery.speed_rad_s[worst] / RPM:.0f} rpm the load draws {amps} A from each phase: for long, even in "
        f"moving air, {ends}, and resin softens from {heat.limit_c:g} C on"
    )
    return (Remark("winding-too-warm", text),)


def _ends(reached_c: float | None) -> str:
    if reached_c is None:
        return "it would grow hotter without end"
    if reached_c > HOTTEST_ENAMEL_C:
        return f"it would come to more than {HOTTEST_ENAMEL_C} C, the most that any enamel stands"
    return f"it would come to about {reached_c:.0f} C"


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
    yield from _taken(load.kind)
    if inductance is None:
        yield "The winding's inductance is not known and not counted in what the load gets."


def _taken(kind: LoadKind) -> Iterator[str]:
    """What is taken for granted of the load itself; nothing of a resistor."""
    if kind == "open" or kind == "resistor":  # noqa: PLR1714 - `in` would not narrow the type
        return
    if kind == "battery":
        yield (
            "The battery holds its voltage behind its own resistance, load.resistance_ohm, whatever it is charged "
            "with; what that resistance heats is counted as delivered."
        )
    else:
        assert_never(kind)


def _between(design: Design, load: Load) -> str:
    joined = joined_as(design.winding, load)
    return {"star": ", joined in a star that is not led back", "delta": " across it"}.get(joined, "")
