"""Values of design keys as words on a command line or in a table's cell: typed as the design file would have them."""

import re
from typing import Any

from pydantic import ValidationError

from fieldrun.design.errors import Fault
from fieldrun.design.file_model import SECOND_SPELLINGS, TABLES
from fieldrun.design.key_hints import meant_key, shown, type_text
from fieldrun.design.nearest import nearest

Value = float | int | str

DIGITS = 12
"""Significant digits of values and answers: more than any maker's, fewer than the noise of arithmetic."""

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)


def key_fault(key: str) -> str | None:
    """Say what is wrong with the name of a key, and which was probably meant; None if a design file knows it."""
    table, _, name = key.partition(".")
    if table in TABLES and name in TABLES[table].model_fields:
        return None
    if table in TABLES and name:
        return type_text(table, TABLES[table], name, None)
    meant = meant_key("", name or key)
    close = nearest(table.lower(), TABLES)
    if meant is None and close:
        meant = f"{close}.{name}" if name in TABLES[close].model_fields else None
    return "unknown key" + (f"; did you mean {meant}?" if meant else "; keys are written as rotor.gap_mm")


def first_spelling(key: str) -> str:
    """The key that two spellings stand for: a circle's radius."""
    table, _, name = key.partition(".")
    return f"{table}.{SECOND_SPELLINGS.get((table, name), name)}"


def takes_numbers(key: str) -> bool:
    """Whether numbers may stand for this key."""
    return any(_fits(key, number) for number in (1.0, 1, 2))


def takes_whole_numbers(key: str) -> bool:
    """Whether its numbers must be whole."""
    return takes_numbers(key) and not _fits(key, 1.5)


def value_of(key: str, text: str) -> Value:
    """The value that a word stands for.

    Raises
    ------
    ValueError
        If the key does not take it: what it must be, and what was received.
    """
    word = text.strip().strip("\"'")
    if not NUMBER.fullmatch(word):
        return _checked(key, word)
    number, written = float(word), int(word) if word.lstrip("+-").isdigit() else float(word)
    # a word that looks like a number is a slip: no key takes such words
    return number if _fits(key, number) and not _fits(key, written) else _checked(key, written)


def _checked(key: str, value: Value) -> Value:
    if _fits(key, value):
        return value
    table, _, name = key.partition(".")
    text = type_text(table, TABLES[table], name, value)
    raise ValueError(words_text(key, told(value)) if text.startswith("must be text in quotes") else text)


def words_text(key: str, received: str) -> str:
    """Say of a key that takes words what they may be."""
    table, _, name = key.partition(".")
    return f"takes words, not numbers ({TABLES[table].model_fields[name].description}); received {received}"


def _fits(key: str, value: Value) -> bool:
    table, _, name = key.partition(".")
    try:
        TABLES[table](**{name: as_written(key, value)})
    except ValidationError:
        return False
    return True


def as_written(key: str, value: Value) -> Any:
    """The value as the design file would hold it: one speed is a list of one."""
    table, _, name = key.partition(".")
    return [value] if str(TABLES[table].model_fields[name].annotation).startswith("list") else value


def plain(value: Value) -> Value:
    """A value without the last bits of arithmetic."""
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def told(value: Value) -> str:
    """A value as it stands on the command line."""
    return f"{value:.{DIGITS}g}" if isinstance(value, float) else str(value)


def fault(key: str, text: str, received: str) -> Fault:
    """A fault of something given for a key on the command line."""
    return Fault(f"--vary {key}", f"{text}; received {shown(received)}")
