"""What a sweep is asked to find the best of: keys of the result, and whether more or less of each is better."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fieldrun.design.errors import DesignError, Fault, FieldrunError
from fieldrun.design.nearest import nearest
from fieldrun.generator.chain import Chain
from fieldrun.studies.sweep.picks import BAND, QUICK, Picked, found_in
from fieldrun.studies.sweep.record import Sweep
from fieldrun.studies.sweep.run import Request

OPTION = "--best"

FORM = "write KEY, KEY:max or KEY:min"

MORE = (
    r"^emf\..*(rms|fundamental)_v_", r"^field\.b1_", r"^torque\.(kt_|motor_constant)", r"^output\.matched_w",
    r"energy_kwh$", r"rated_w$", r"capacity_factor$", r"^winding\.factors\.", r"^winding\.fill$", r"efficiency",
    r"dc_power_w$", r"dc_current_a$", r"moving_air\.current_a$", r"still_air\.current_a$",
)  # fmt: skip
"""Keys of which every maker wants more."""

LESS = (
    r"resistance.*_ohm$", r"loss_w", r"_kg$", r"_g$", r"mass", r"cost", r"thd_percent$",
    r"error.*_percent$", r"cut_in_m_s$", r"starts_at_m_s$", r"starts_rpm$", r"hours_without_charge$",
    r"end_copper_share$", r"conductor_length_m$", r"rise_k_per_w$", r"delta_circulating_a",
)  # fmt: skip
"""Keys of which every maker wants less: ohms, losses, weights, late starts."""


@dataclass(frozen=True)
class Goal:
    """A key of the result, and whether more of it is better."""

    key: str
    largest: bool

    @property
    def told(self) -> str:
        """As it stands on the command line."""
        return f"{self.key}:{'max' if self.largest else 'min'}"


def read_goals(written: Sequence[str], picks: Sequence[str]) -> tuple[Goal, ...]:
    """Read every KEY[:min|max].

    Parameters
    ----------
    written : as on the command line
    picks : what the sweep picks of each result

    Raises
    ------
    DesignError
        With everything that is wrong with them.
    """
    goals = [_read(text, picks) for text in written]
    faults = [found for found in goals if isinstance(found, Fault)]
    good = [found for found in goals if isinstance(found, Goal)]
    keys = [goal.key for goal in good]
    faults += [Fault(OPTION, f"{key} stands twice") for key in dict.fromkeys(keys) if keys.count(key) > 1]
    if len(written) > 2:
        faults.append(Fault(OPTION, f"one key, or two that pull against each other; received {len(written)}"))
    if faults:
        raise DesignError(faults)
    return tuple(good)


def _read(text: str, picks: Sequence[str]) -> Goal | Fault:
    key, colon, way = (part.strip() for part in text.partition(":"))
    if not key or (colon and way not in {"min", "max"}):
        return Fault(OPTION, f"{FORM}; received {text}")
    if key not in picks:
        return Fault(OPTION, f"{key} is not picked{_hint(key, picks)}")
    largest = way == "max" if colon else more_is_better(key)
    if largest is None:
        return Fault(OPTION, f"is more of {key} better, or less? write {key}:max or {key}:min")
    return Goal(key, largest)


def _hint(key: str, picks: Sequence[str]) -> str:
    close = nearest(key, picks, 0.7)
    if close:
        return f"; did you mean {close}?"
    return f"; picked are {', '.join(picks)}; --pick {','.join([*picks, key])} adds it"


def more_is_better(key: str) -> bool | None:
    """Whether more of a key of the result is better, as every maker sees it; None where it depends."""
    if any(re.search(pattern, key) for pattern in LESS):
        return False
    return True if any(re.search(pattern, key) for pattern in MORE) else None


def check_goals(request: Request, goals: Sequence[Goal]) -> None:
    """Refuse goals that are words in the design's own result, before a night is spent on them.

    Raises
    ------
    DesignError
        With every such key.
    """
    others = [goal.key for goal in goals if goal.key not in QUICK]
    if not others:
        return
    try:
        content = request.answer(Chain(request.design), any(key.startswith(BAND) for key in others))
    except FieldrunError:  # the design itself cannot be worked out, its points perhaps can
        return
    if faults := [_not_numbers(key, cell) for key in others if _is_word(cell := found_in(content, key))]:
        raise DesignError(faults)


def check_numbers(sweep: Sweep, goals: Sequence[Goal]) -> None:
    """Refuse goals that turned out to be words at some point; raises as `check_goals`."""
    words = [(goal.key, next(filter(_is_word, sweep.cells(goal.key)), None)) for goal in goals]
    if faults := [_not_numbers(key, word) for key, word in words if word is not None]:
        raise DesignError(faults)


def _is_word(cell: Picked) -> bool:
    return isinstance(cell, str | bool)


def _not_numbers(key: str, cell: Picked) -> Fault:
    shown = str(cell).lower() if isinstance(cell, bool) else f'"{cell}"'
    return Fault(OPTION, f"{key} holds words, such as {shown}; the best is found among numbers")
