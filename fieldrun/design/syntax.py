"""What is wrong with text that is not TOML, in the words of someone who wanted to write a number."""

import re

from fieldrun.design.errors import Fault

_PLACE = re.compile(r"\s*\((?:at line (\d+), column (\d+)|at end of document)\)$")
_ASSIGNMENT = re.compile(r"^\s*([A-Za-z0-9_\-.]+)\s*=\s*(.*?)\s*$")
_HEADER = re.compile(r"^\s*\[\[?\s*([^\]\[]+?)\s*\]{0,2}\s*(?:#.*)?$")
_REST = r"\s*(?:\#.*)?$"

_SLIPS = (
    (r"([+-]?\d+(?:\.\d+)?)\s*[A-Za-z°%µ\"'/]+[A-Za-z0-9/]*", "the unit is in the name of the key", r"\1"),
    (r"([+-]?\d+),(\d+)", "decimals take a point", r"\1.\2"),
    (r"([+-]?)\.(\d+)", "a point needs digits on both sides", r"\g<1>0.\2"),
    (r"([+-]?\d+)\.", "a point needs digits on both sides", r"\1.0"),
    (r"([+-]?)0+(\d+(?:\.\d+)?)", "a number must not start with 0", r"\1\2"),
    (r"[“”„‘’]+([^“”„‘’]*)[“”„‘’]*", "text takes straight quotes", r'"\1"'),
    (r"[\"']([^\"'#]*[^\"'# ])\s*", "the closing quote is missing", r'"\1"'),
    (r"[Tt][Rr][Uu][Ee]", "true is written small", "true"),
    (r"[Ff][Aa][Ll][Ss][Ee]", "false is written small", "false"),
    (r"([A-Za-z][\w .+\-]*?)", "text stands in quotes", r'"\1"'),
)
"""What people write for a value, why it is none, and what to write instead."""


_TWICE = ("overwrite", "declare", "twice", "mutate", "Duplicate")
"""Words that `tomllib` uses where something is defined a second time."""


def syntax_fault(text: str, message: str) -> Fault:
    """Turn `tomllib`'s message into a fault with the line, the key if there is one, and a cure for the common slips.

    Parameters
    ----------
    text : the whole file
    message : text of the `TOMLDecodeError`
    """
    lines = text.replace("\r\n", "\n").split("\n")
    place = _PLACE.search(message)
    plain = _PLACE.sub("", message)
    if place is None or place.group(1) is None:
        return Fault("", f"the file ends too early: {_small(plain)}", line=len(text.rstrip().splitlines()))
    number = int(place.group(1))
    line = lines[number - 1] if number <= len(lines) else ""
    if any(word in plain for word in _TWICE):
        return _doubled(lines, number, line, plain)
    assignment = _ASSIGNMENT.match(line)
    if assignment is None or plain.startswith("Unclosed array"):
        return Fault("", _line_text(line, plain), line=number)
    key, value = assignment.groups()
    return Fault(_path(lines, number, key), _value_text(key, value, plain), line=number)


def _doubled(lines: list[str], number: int, line: str, plain: str) -> Fault:
    header = _HEADER.match(line)
    if header:
        return Fault(
            header.group(1), f"this table stands twice; put its keys under one [{header.group(1)}]", line=number
        )
    assignment = _ASSIGNMENT.match(line)
    key = assignment.group(1) if assignment else ""
    if "inline" in plain:
        return Fault(_path(lines, number, key), "a key stands twice between these braces; keep one", line=number)
    first = _first_line(lines, number, key)
    before = f", first in line {first}" if first else ""
    return Fault(_path(lines, number, key), f"this key stands twice{before}; keep one", line=number)


def _first_line(lines: list[str], number: int, key: str) -> int | None:
    table = _table(lines, number)
    for other in range(1, number):
        found = _ASSIGNMENT.match(lines[other - 1])
        if found and found.group(1) == key and _table(lines, other) == table:
            return other
    return None


def _table(lines: list[str], number: int) -> str:
    headers = (_HEADER.match(line) for line in reversed(lines[: number - 1]))
    return next((header.group(1) for header in headers if header), "")


def _path(lines: list[str], number: int, key: str) -> str:
    table = _table(lines, number)
    return f"{table}.{key}" if table else key


def _value_text(key: str, value: str, plain: str) -> str:
    if not value or value.startswith("#"):
        return f"has no value; write {key} = ... or remove the line"
    for pattern, why, cure in _SLIPS:
        if found := re.match(pattern + _REST, value):
            return f"received {value[:60]}; {why}: write {key} = {found.expand(cure)}"
    return f"this is not TOML: {_small(plain)}; received {value[:60]}"


def _line_text(line: str, plain: str) -> str:
    shown = line.strip()[:60]
    if plain.startswith("Unclosed array"):
        return f"a list before this line has no closing bracket ]; received {shown}"
    if shown.startswith("["):
        return f"a table's name stands alone in brackets, such as [magnets]; received {shown}"
    if ":" in shown:
        return f"key and value are joined by =, such as gap_mm = 9; received {shown}"
    return f"this is not TOML: {_small(plain)}; received {shown}"


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]
