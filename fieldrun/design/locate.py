"""On which line a key stands: a small scanner over TOML that `tomllib` has already accepted.

It needs to know just enough of the language to step over values: strings of all four kinds, comments, brackets.
"""

import re
import tomllib
from collections.abc import Iterator

Keys = tuple[str, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY = re.compile(r"""(?:[A-Za-z0-9_\-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')(?:[ \t]*\.[ \t]*(?=[^ \t]))?""")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"""(?:""?(?!"))?' r"|'''.*?'''(?:''?(?!'))?" r"""|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'""", re.DOTALL
)
_BARE = re.compile(r"""[^,\]\}\[\{"'#\n]+""")


def key_lines(text: str) -> dict[Keys, int]:
    """Line (from 1) of every key and table header, by its full dotted path; the first one counts.

    Parameters
    ----------
    text : TOML that `tomllib` accepts; of anything else the answer is meaningless
    """
    lines: dict[Keys, int] = {}
    for keys, position in _entries(text):
        lines.setdefault(keys, text.count("\n", 0, position) + 1)
    return lines


def _entries(text: str) -> Iterator[tuple[Keys, int]]:
    table: Keys = ()
    at = _skip(text, 0)
    while at < len(text):
        if text[at] == "[":
            start = at
            table, at = _dotted(text, _skip(text, at + (2 if text.startswith("[[", at) else 1)))
            yield from ((table[:n], start) for n in range(1, len(table) + 1))
            at = text.index("]", at) + 1
            at += text.startswith("]", at)
        else:
            found, at = _assignment(text, at, table)
            yield from found
        at = _skip(text, at)


def _assignment(text: str, at: int, table: Keys) -> tuple[list[tuple[Keys, int]], int]:
    keys, end = _dotted(text, at)
    path = table + keys
    found = [(path[:n], at) for n in range(len(table) + 1, len(path) + 1)]
    inner, end = _value(text, _skip(text, text.index("=", end) + 1), path)
    return found + inner, end


def _value(text: str, at: int, path: Keys) -> tuple[list[tuple[Keys, int]], int]:
    if text[at] == "{":
        return _inline_table(text, at, path)
    if text[at] == "[":
        return [], _past_array(text, at)
    return [], _past_scalar(text, at)


def _inline_table(text: str, at: int, path: Keys) -> tuple[list[tuple[Keys, int]], int]:
    found: list[tuple[Keys, int]] = []
    at = _skip(text, at + 1)
    while text[at] != "}":
        inner, at = _assignment(text, at, path)
        found += inner
        at = _skip(text, at)
        at = _skip(text, at + 1) if text[at] == "," else at
    return found, at + 1


def _past_array(text: str, at: int) -> int:
    depth = 0
    while True:
        depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(text[at], 0)
        at = at + 1 if text[at] in "[]{},=" else _past_scalar(text, at)
        if depth == 0:
            return at
        at = _skip(text, at)


def _past_scalar(text: str, at: int) -> int:
    match = (_STRING if text[at] in "\"'" else _BARE).match(text, at)
    return match.end() if match else at + 1


def _dotted(text: str, at: int) -> tuple[Keys, int]:
    keys: list[str] = []
    written = "."
    while written.endswith(".") and (match := _KEY.match(text, at)):
        at = match.end()
        written = match.group().rstrip(" \t")
        keys.append(next(iter(tomllib.loads(f"{written.removesuffix('.').rstrip()} = 0"))))
    return tuple(keys), at


def _skip(text: str, at: int) -> int:
    match = _BLANK.match(text, at)
    return match.end() if match else at
