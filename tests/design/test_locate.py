"""The line of a key, in every way TOML lets one write it."""

import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from fieldrun.design.locate import Keys, key_lines

EVERYTHING = """\
# [no] = "table"
title = "a # not a comment"  # x = 1
 [ magnets . "x.y" ] # c
a.b . c = 3
"q k" = {x = 1, "y z" = [1, {t=2}], w = \"\"\"
multi = 1\"\"\" } # d
list = [ # e ]
 "a]", 'b"',
 [1,2],
]
text = '''
[rotor]
gap = 3'''
escaped = "a\\"]\\\\"
day = 1979-05-27 07:32:00
[[twice]]
k=1
[[twice]]
k=2
[rotor]
gap_mm=3"""


def test_every_spelling() -> None:
    tomllib.loads(EVERYTHING)
    x = ("magnets", "x.y")
    assert key_lines(EVERYTHING) == {
        ("title",): 2,
        ("magnets",): 3,
        x: 3,
        (*x, "a"): 4,
        (*x, "a", "b"): 4,
        (*x, "a", "b", "c"): 4,
        (*x, "q k"): 5,
        (*x, "q k", "x"): 5,
        (*x, "q k", "y z"): 5,
        (*x, "q k", "w"): 5,
        (*x, "list"): 7,
        (*x, "text"): 11,
        (*x, "escaped"): 14,
        (*x, "day"): 15,
        ("twice",): 16,
        ("twice", "k"): 17,
        ("rotor",): 20,
        ("rotor", "gap_mm"): 21,
    }


VALUES = [
    "1",
    "-2.5e3",
    "true",
    '"a # b = [c] {d}"',
    "'it''s'".replace("''", "\\"),
    '"""\nx = 1\n[y]\n"" """',
    "'''\n]]'\n'''",
    '[1, "]", [2]]',
    "[ # c ]\n {a = 1, b = '}'},\n]",
    '{p = 1, "q" = "}"}',
    "1979-05-27T07:32:00Z",
    '""',
]
KEYS = st.sampled_from(["a", "b-1", '"c d"', "'e.f'", "7", '"g\\"h"'])
FILLERS = st.sampled_from(["", "# [x] y = 1\n", "\n\n", "  \t\n"])


@st.composite
def files(draw: st.DrawFn) -> tuple[str, dict[Keys, int]]:
    """A file of tables and keys with the lines they were written on."""
    text, lines = "", {}
    for table in draw(st.lists(st.sampled_from(["t", "u", '"v.w"', "t2"]), unique=True, max_size=4)):
        text += draw(FILLERS)
        name = (table.strip('"'),)
        lines[name] = text.count("\n") + 1
        text += draw(st.sampled_from([f"[{table}]", f" [ {table} ] # [z]", f"[[{table}]]"])) + "\n"
        for key in draw(st.lists(KEYS, unique=True, max_size=5)):
            text += draw(FILLERS)
            lines[(*name, next(iter(tomllib.loads(f"{key}=0"))))] = text.count("\n") + 1
            text += f"{key}{draw(st.sampled_from(['=', ' = ', ' =  ']))}{draw(st.sampled_from(VALUES))} # c\n"
    return text, lines


@settings(derandomize=True, max_examples=200, deadline=None)
@given(files())
def test_lines_are_those_the_keys_were_written_on(case: tuple[str, dict[Keys, int]]) -> None:
    text, lines = case
    found = key_lines(text)
    assert {keys: found[keys] for keys in lines} == lines
    assert set(found) == set(_paths(tomllib.loads(text), ()))


def _paths(value: Any, above: Keys) -> list[Keys]:
    """Every path that exists in what `tomllib` reads; of a list of tables, the keys of all."""
    out: list[Keys] = []
    for key, inner in value.items():
        path = (*above, key)
        tables = [inner] if isinstance(inner, dict) else inner if _is_list_of_tables(above, inner) else []
        out += [path, *(deeper for table in tables for deeper in _paths(table, path))]
    return out


def _is_list_of_tables(above: Keys, value: Any) -> bool:
    return not above and isinstance(value, list)
