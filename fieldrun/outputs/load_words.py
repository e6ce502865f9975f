"""What each kind of load is called, for every sentence that speaks of it."""

from fieldrun.design.model import Load


def taker(load: Load) -> str:
    """What takes the power, by its name in the design file."""
    return load.kind


def begins(load: Load) -> str:
    """What happens where the first current flows into a load that holds a voltage."""
    what = "starts to charge" if load.kind == "battery" else "gets its first current"
    return f"A {taker(load)} at {load.voltage_v:g} V {what}"
