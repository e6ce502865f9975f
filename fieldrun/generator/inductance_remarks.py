"""What a result says about its inductance: what was taken for granted, and that it may be missing."""

from fieldrun.generator.inductance import Inductance
from fieldrun.generator.result import Remark

TAKEN = (
    "For the inductance steel discs are perfect mirrors: their edges count for turns round the shaft only, and "
    "saturation and eddy currents in them not at all."
)

LEFT_OUT = (
    "the inductance is left out: so many pieces of wire, none a turned copy of another, would take too long; a path "
    "that repeats with every two poles is quick"
)


def inductance_assumptions(found: Inductance | None) -> tuple[str, ...]:
    """What its number rests on, if there is one."""
    return () if found is None else (TAKEN,)


def inductance_warnings(found: Inductance | None) -> tuple[Remark, ...]:
    """Why there is none, if so."""
    return (Remark("no-inductance", LEFT_OUT),) if found is None else ()
