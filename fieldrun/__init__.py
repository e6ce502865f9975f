"""fieldrun: volts, ohms, grams and watts of a hand-wound ironless disc generator, before a metre of wire is spent.

import fieldrun
result = fieldrun.run(fieldrun.read_design("my-charger.toml"))
result.emf.rms, result.field_at(0.066, 0.0, 0.0045)
fieldrun.write_report(result, "my-charger")

`fieldrun.interface` says what each name does that other programs may rely on; all of them are here too.
"""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldrun.interface import *  # noqa: F403 - its __all__ is the list

__version__ = "0.6.0"


def __getattr__(name: str) -> Any:
    """Import the heavy libraries when they are asked for, so that `fieldrun --help` answers at once."""
    if not name.startswith("_"):
        interface = importlib.import_module("fieldrun.interface")
        if name in interface.__all__:
            return getattr(interface, name)
    raise AttributeError(f"module 'fieldrun' has no attribute {name!r}")


def __dir__() -> list[str]:
    return ["__version__", "interface", *importlib.import_module("fieldrun.interface").__all__]
