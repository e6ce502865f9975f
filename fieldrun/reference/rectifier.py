"""Textbook averages of bridges with a smooth direct current: the hand calculation beside the computed currents."""

import math

LEAVES_OUT = (
    "takes the voltages as sines and the direct current as smooth: no pulses near the start of charging, no "
    "inductance, no ripple, no overlap of phases that conduct"
)
"""What every number here knows nothing of."""


def pulses_mean(pulses: int) -> float:
    """Mean of a rectified voltage over its effective value, with so many equal pulses in a period.

    sqrt(2) (q / pi) sin(pi / q): 2 sqrt(2) / pi = 0.900316 of a single phase (q = 2), 3 sqrt(2) / pi = 1.350474 of the
    line voltage behind six diodes (q = 6). The diodes follow the highest voltage without overlap.
    """
    return math.sqrt(2) * pulses / math.pi * math.sin(math.pi / pulses)


def smooth_current(mean_v: float, against_v: float, ohms: float) -> float:
    """Direct current that a mean voltage drives against a battery and diodes through a resistance [A]; never back.

    The resistance is all that lies in the current's way. For one that starts to flow only at peaks it is too small: at
    the speed where charging starts the mean is still below the battery.
    """
    return max(0.0, mean_v - against_v) / ohms
