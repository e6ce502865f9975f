"""What can go wrong, in the words the user reads. The only inheritance in the house."""

from collections.abc import Sequence
from dataclasses import dataclass

LONGEST = 1000
"""Letters of a message: what is longer holds something of the user's own that nobody reads to its end."""

KEPT_AT_END = 200
"""Letters at its end that stay: the cure stands there."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one file: where it is, what it must be, what was found, what to try."""

    key: str
    text: str
    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        """Return `file:line: key: text`, leaving out what is not known; letters of the user's own are harmless."""
        place = f"{self.file}:{self.line}" if self.file and self.line else self.file
        return ": ".join(part for part in (visible(place), harmless(self.key), harmless(self.text)) if part)


def visible(text: str) -> str:
    """Text in which nothing breaks the line, steers a terminal or hides: such letters stand as Python writes them."""
    return text if text.isprintable() else "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


def harmless(text: str) -> str:
    """The same, and no longer than one reads."""
    shown = visible(text)
    if len(shown) <= LONGEST:
        return shown
    return f"{shown[: LONGEST - KEPT_AT_END]} ... {shown[-KEPT_AT_END:]}"


class FieldrunError(Exception):
    """Anything fieldrun refuses or cannot do; the message is meant for the user."""

    exit_code = 1


class DesignError(FieldrunError):
    """The input is wrong: every fault of the file at once."""

    exit_code = 2

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type["DesignError"], tuple[tuple[Fault, ...]]]:
        """Pickle by the faults, not by the joined text (worker processes send errors back)."""
        return DesignError, (self.faults,)


class MissingError(FieldrunError):
    """Something outside fieldrun is not there: a library, a system package, a cluster."""

    exit_code = 4


class SolveError(FieldrunError):
    """A computation did not reach its own standard; no number is given rather than a doubtful one."""
