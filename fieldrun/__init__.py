"""fieldrun: volts, ohms and grams of a hand-wound ironless disc generator, before a metre of wire is spent.

import fieldrun
result = fieldrun.run(fieldrun.read_design("my-charger.toml"))
result.emf.rms, result.field_at(0.066, 0.0, 0.0045)
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldrun.generator.machine import read_design, run

__version__ = "0.4.0"
__all__ = ["__version__", "read_design", "run"]


def __getattr__(name: str) -> Any:
    """Import the heavy libraries when they are asked for, so that `fieldrun --help` answers at once."""
    if name in {"read_design", "run"}:
        from fieldrun.generator import machine

        return getattr(machine, name)
    raise AttributeError(f"module 'fieldrun' has no attribute {name!r}")
