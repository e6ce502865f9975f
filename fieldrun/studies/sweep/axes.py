"""One key that varies: a range or a list of values, as written on the command line."""

from dataclasses import dataclass

from fieldrun.design.errors import DesignError, Fault
from fieldrun.studies.sweep.values import (
    NUMBER,
    Value,
    fault,
    first_spelling,
    key_fault,
    plain,
    takes_numbers,
    takes_whole_numbers,
    value_of,
    words_text,
)

FORMS = "write KEY=START:STOP:COUNT, or KEY=a,b,c"


@dataclass(frozen=True)
class Axis:
    """A key and the values it takes: those listed in `words`, or `count` from `start` to `stop`.

    A range without a count is for samples alone.
    """

    key: str
    words: tuple[Value, ...] = ()
    start: float = 0.0
    stop: float = 0.0
    steps: int | None = None

    @property
    def count(self) -> int:
        """How many values it has in a grid; 0 for a range without a count."""
        return len(self.words) or self.steps or 0

    @property
    def whole(self) -> bool:
        """Whether its numbers must be whole."""
        return takes_whole_numbers(self.key)

    def at(self, index: int) -> Value:
        """Its value number `index`, from 0."""
        if self.words:
            return self.words[index]
        share = index / (self.count - 1)
        return self._number(self.start + (self.stop - self.start) * share)

    def at_share(self, share: float) -> Value:
        """Its value at this share of it, 0 <= share < 1: words and whole numbers have equal shares each."""
        if self.words:
            return self.words[int(share * len(self.words))]
        if self.whole:
            return int(self.start + int(share * (self.stop - self.start + 1)))
        return self._number(self.start + share * (self.stop - self.start))

    def _number(self, value: float) -> Value:
        return round(value) if self.whole else plain(value)


def read_axes(written: tuple[str, ...], *, sampled: bool = False) -> tuple[Axis, ...]:
    """Read every KEY=VALUES.

    Parameters
    ----------
    written : as on the command line
    sampled : a range needs no count

    Raises
    ------
    DesignError
        With everything that is wrong with them.
    """
    axes: list[Axis] = []
    faults: list[Fault] = []
    for text in written:
        try:
            axes.append(read_axis(text, sampled=sampled))
        except DesignError as error:
            faults += error.faults
    faults += _doubled([axis.key for axis in axes])
    if faults:
        raise DesignError(faults)
    return tuple(axes)


def _doubled(keys: list[str]) -> list[Fault]:
    firsts = [first_spelling(key) for key in keys]
    twice = [key for number, key in enumerate(keys) if firsts[number] in firsts[:number]]
    return [Fault(f"--vary {key}", "varies already; give all its values in one list") for key in twice]


def read_axis(text: str, *, sampled: bool = False) -> Axis:
    """Read one KEY=VALUES; raises as `read_axes`."""
    key, equals, values = (part.strip() for part in text.partition("="))
    if not (key and equals and values):
        raise DesignError([fault(key, FORMS, text)])
    if unknown := key_fault(key):
        raise DesignError([Fault(f"--vary {key}", unknown)])
    if ":" in values and takes_numbers(key):
        return _range(key, values, sampled=sampled)
    if ":" in values and all(NUMBER.fullmatch(part.strip()) for part in values.split(":")[:2]):
        raise DesignError([Fault(f"--vary {key}", words_text(key, values))])
    return Axis(key, words=_words(key, values))


def _words(key: str, values: str) -> tuple[Value, ...]:
    words, faults = [], []
    for text in values.split(","):
        try:
            words.append(value_of(key, text))
        except ValueError as error:
            faults.append(Fault(f"--vary {key}", str(error)))
    faults += [Fault(f"--vary {key}", f"{word} stands twice") for word in dict.fromkeys(words) if words.count(word) > 1]
    if faults:
        raise DesignError(list(dict.fromkeys(faults)))
    return tuple(words)


def _range(key: str, values: str, *, sampled: bool) -> Axis:
    parts = [part.strip() for part in values.split(":")]
    if len(parts) == 2 and not sampled:
        raise DesignError([fault(key, f"how many values? {FORMS}", values)])
    try:
        start, stop = (float(part) for part in parts[:2])
        count = int(parts[2]) if len(parts) == 3 else None
    except ValueError:
        raise DesignError([fault(key, f"a range has numbers in it, and a whole COUNT; {FORMS}", values)]) from None
    if len(parts) > 3:
        raise DesignError([fault(key, FORMS, values)])
    if text := _range_text(key, start, stop, count):
        raise DesignError([fault(key, text, values)])
    return Axis(key, start=start, stop=stop, steps=count)


def _range_text(key: str, start: float, stop: float, count: int | None) -> str | None:
    """What is wrong with a range of numbers; None if nothing is."""
    if not (abs(start) < float("inf") and abs(stop) < float("inf")):
        return "START and STOP must be finite numbers"
    if start == stop:
        return f"START and STOP are the same; for one value write {key}={start:g}"
    if start > stop:
        return f"the range runs backwards; write {key}={stop:g}:{start:g}" + (f":{count}" if count else "")
    if count is not None and count < 2:
        return f"COUNT must be 2 or more, START and STOP among them; for one value write {key}={start:g}"
    return _whole_text(key, start, stop, count) if takes_whole_numbers(key) else None


def _whole_text(key: str, start: float, stop: float, count: int | None) -> str | None:
    if not (start.is_integer() and stop.is_integer()):
        return "takes whole numbers only"
    steps = count - 1 if count else 1
    if (stop - start) % steps == 0:
        return None
    better = next(steps for steps in range(min(steps, int(stop - start)), 0, -1) if (stop - start) % steps == 0)
    return f"takes whole numbers only; try {key}={start:g}:{stop:g}:{better + 1}, or list them"
