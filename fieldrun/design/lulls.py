"""How long a measured wind stays below a speed without a break, for every speed at once."""

import math
from collections.abc import Iterable

Lulls = tuple[tuple[float, float], ...]
"""Speed [m/s] and the longest time [h] without more than that, both rising."""


def lulls_of(spans: Iterable[tuple[float, float] | None]) -> Lulls:
    """The longest unbroken times below any speed.

    A reading is the highest of the longest stretch round it that holds nothing higher; of all stretches whose highest
    is below a speed, the longest is the lull of that speed. One pass over the readings with a stack of falling speeds.

    Parameters
    ----------
    spans : speed [m/s] and the hours it stood, in order of time; None for a gap, which ends every lull, for nobody
        knows what blew
    """
    longest: dict[float, float] = {}
    waiting: list[tuple[float, float]] = []  # speeds from high to low, hours of the stretch that ends here
    for speed, hours in (span or (math.inf, 0.0) for span in (*spans, None)):
        stretch = 0.0
        while waiting and waiting[-1][0] <= speed:
            highest, so_far = waiting.pop()
            stretch += so_far
            longest[highest] = max(stretch, longest.get(highest, 0.0))
        if speed < math.inf:
            waiting.append((speed, stretch + hours))
    return _rising(longest)


def longest_below_h(lulls: Lulls, speed_m_s: float) -> float:
    """The longest unbroken time with less wind than a speed [h]; 0 if it never blew less."""
    return max((hours for highest, hours in lulls if highest < speed_m_s), default=0.0)


def _rising(longest: dict[float, float]) -> Lulls:
    """Only speeds that make the lull longer."""
    kept: list[tuple[float, float]] = []
    for speed, hours in sorted(longest.items()):
        if not kept or hours > kept[-1][1]:
            kept.append((speed, hours))
    return tuple(kept)
