"""Mutants of everything that fieldrun reads: they know its structure, so that many are nearly valid."""

import contextlib
import json
import math
import random
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from mesh_mutants import section_mesh

from fieldrun.design.examples import example_names, example_path
from fieldrun.design.file_model import TABLES
from fieldrun.design.materials import steel_names
from fieldrun.design.ranges import RANGES

Dice = random.Random
Cells = list[list[str]]

HERE = Path(__file__).parent

DESIGN = "mutant.toml"
"""Name of the design file of every mutant."""


@dataclass(frozen=True)
class Mutant:
    """Files to write into an empty folder, and what to do with them.

    `files` hold bytes, or a word for something that is no file: "folder", "fifo", "endless", "loop" (a link to itself).
    """

    kind: str
    files: Mapping[str, bytes | str]
    options: tuple[str, ...] = ()


NUMBERS = (
    *(0, 1, -1, 2, 3, 7, 16, 400, 10**6, 2**31, 2**63, -(2**63), 10**400),
    *(0.0, -0.0, 0.5, 1e-9, 5e-324, 1e308, -1e308, 1e15, 0.1 + 0.2, math.nan, math.inf, -math.inf),
)
WORDS = (
    *("", " ", "none", "ideal", "mild steel", "fill", "stack", "auto", "3 mm", "3,5", "NaN", "1e5", "N42", "n52"),
    *("zig zag", "../../../etc/passwd", "/dev/zero", "/dev/null", "/dev/stdin", "/", ".", "..", "con.csv", "x" * 300),
    *(
        "a\x00b",
        "\x1b[2J\x1b]0;owned\x07",
        "zweite\nZeile",
        "\u202egnirts",
        "\ufeff",
        "Ω Übung 風力 🌀",
        "{x}",
        "%s%n",
        "$(id)",
    ),
    *("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "]]>&amp;&", "[bold]rich[/bold]", "a/b\\c:d*e?"),
)
OTHERS = (True, False, [], [1, 2], ["a"], {}, {"a": 1}, [[]], [{"a": 1}], [math.nan], ["stack"], [1.0, "x"])
PLACES = ("folder", "fifo", "endless", "loop")


class Raw(str):
    """Text that stands in the file as it is, such as a date."""

    __slots__ = ()


DATES = (
    Raw("2024-03-01"),
    Raw("07:32:00"),
    Raw("0x_1"),
    Raw("0xff"),
    Raw("1_000"),
    Raw("'''a\nb'''"),
    Raw("+5"),
    Raw("1."),
)


# --- designs -----------------------------------------------------------------


def examples() -> list[dict[str, Any]]:
    """The bundled designs."""
    return [tomllib.loads(example_path(name).read_text(encoding="utf-8")) for name in example_names()]


def toml_text(content: Mapping[str, Any]) -> str:
    """A design file; unlike a plain dump it writes whatever it is given."""
    tables = {name: table for name, table in content.items() if isinstance(table, dict)}
    lines = [f"{_name(key)} = {_value(value)}" for key, value in content.items() if key not in tables]
    for name, table in tables.items():
        lines += ["", f"[{_name(name)}]", *(f"{_name(key)} = {_value(value)}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


def _name(key: str) -> str:
    return key if key.replace("_", "").isalnum() and key.isascii() else json.dumps(key)


def _value(value: object) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_name(key)} = {_value(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return json.dumps(value).replace("\x7f", "\\u007f").encode("utf-16", "surrogatepass").decode("utf-16")


def plausible(dice: Dice, key: str) -> Any:
    """A value that a key may well take: a choice of its words, or a number within its range or at its very end."""
    table, _, name = key.partition(".")
    words = _choices(table, name)
    if words and (key not in RANGES or dice.random() < 0.3):
        return dice.choice(words)
    if key not in RANGES:
        return dice.choice([1, 2, "none", 0.5])
    low, high = RANGES[key].low, RANGES[key].high
    kind = str(TABLES[table].model_fields[name].annotation)
    drawn = dice.choice([low, high]) if dice.random() < 0.25 else _between(dice, low, high)
    value: Any = round(drawn) if "int" in kind and "float" not in kind else float(f"{drawn:.4g}")
    return [value] if kind.startswith("list") else value


def _choices(table: str, name: str) -> list[Any]:
    """Words of a key, from its schema."""
    if name in {"backing", "return_plate"}:
        return ["none", "ideal", *steel_names()]
    schema = TABLES[table].model_json_schema()["properties"].get(name, {})
    parts = [schema, *schema.get("anyOf", [])]
    return [word for part in parts for word in [*part.get("enum", []), *([part["const"]] if "const" in part else [])]]


def _between(dice: Dice, low: float, high: float) -> float:
    if low > 0 and high / low > 50:
        return math.exp(dice.uniform(math.log(low), math.log(high)))
    return dice.uniform(low, high)


def _keys(content: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [(name, key) for name, table in content.items() if isinstance(table, dict) for key in table]


def _nudge(dice: Dice, content: dict[str, Any]) -> None:
    """A number a little or a lot larger or smaller: often still a machine."""
    numbers = [(t, k) for t, k in _keys(content) if isinstance(content[t][k], int | float)]
    table, key = dice.choice(numbers)
    gentle = dice.random() < 0.7
    factor = dice.uniform(0.7, 1.4) if gentle else dice.choice([0.1, 10, 1000, 0.001, 0, -1, 2, 3])
    value = content[table][key] * factor
    content[table][key] = round(value) if isinstance(content[table][key], int) and dice.random() < 0.9 else value


def _plausible(dice: Dice, content: dict[str, Any]) -> None:
    """Some key of the schema, given or not, set to what it may take."""
    table = dice.choice(list(TABLES))
    key = dice.choice(list(TABLES[table].model_fields))
    content.setdefault(table, {})[key] = plausible(dice, f"{table}.{key}")


def _hostile(dice: Dice, content: dict[str, Any]) -> None:
    table, key = dice.choice(_keys(content))
    content[table][key] = dice.choice(
        [dice.choice(NUMBERS), dice.choice(WORDS), dice.choice(OTHERS), dice.choice(DATES)]
    )


def _hostile_key(dice: Dice, content: dict[str, Any]) -> None:
    table = dice.choice(list(TABLES))
    key = dice.choice(list(TABLES[table].model_fields))
    content.setdefault(table, {})[key] = dice.choice([*NUMBERS, *WORDS, *OTHERS, *DATES])


def _deleted(dice: Dice, content: dict[str, Any]) -> None:
    table, key = dice.choice(_keys(content))
    del content[table][key]


def _without_table(dice: Dice, content: dict[str, Any]) -> None:
    del content[dice.choice([name for name in content if isinstance(content[name], dict)])]


def _misspelt(dice: Dice, content: dict[str, Any]) -> None:
    table, key = dice.choice(_keys(content))
    at = dice.randrange(len(key))
    other = dice.choice(
        [key[:at] + key[at + 1 :], key[:at] + dice.choice("aemx_ü \n") + key[at:], key.upper(), key + "_mm"]
    )
    content[table][other or "x"] = content[table].pop(key)


def _moved(dice: Dice, content: dict[str, Any]) -> None:
    """A key in another table, or outside of all."""
    table, key = dice.choice(_keys(content))
    place = dice.choice([content, *(value for value in content.values() if isinstance(value, dict))])
    place[key] = content[table][key]


def _odd_table(dice: Dice, content: dict[str, Any]) -> None:
    name = dice.choice([*TABLES, "title", "magnet", "coils", "\x00", ""])
    content[name] = dice.choice([*NUMBERS, *WORDS, *OTHERS, *DATES, {"a": {"b": {"c": {}}}}])


def _title(dice: Dice, content: dict[str, Any]) -> None:
    content["title"] = dice.choice([*WORDS, "long " * 5000, "\x0b\x0c\x01\x7f\x85\u2028", "-" * 90])


def _file_key(dice: Dice, content: dict[str, Any]) -> None:
    table, key = dice.choice(
        [
            ("rotor", "backing"),
            ("winding", "file"),
            ("wind", "record"),
            ("wind", "cp_curve"),
            ("magnets", "section_mesh"),
            ("rotor", "return_plate"),
        ]
    )
    ending = ".msh" if key == "section_mesh" else ".csv"
    content.setdefault(table, {})[key] = dice.choice(
        [
            *(f"{place}{ending}" for place in PLACES),
            DESIGN,
            f"missing{ending}",
            f"/proc/self/mem{ending}",
            f"{'x' * 300}{ending}",
            f"\x00{ending}",
            f"./folder{ending}/x{ending}",
            ending,
        ]
    )
    if key == "file":
        content["winding"]["shape"] = "path"


DESIGN_OPS: tuple[tuple[int, Callable[[Dice, dict[str, Any]], None]], ...] = (
    (14, _nudge),
    (14, _plausible),
    (3, _hostile),
    (2, _hostile_key),
    (2, _deleted),
    (1, _without_table),
    (1, _misspelt),
    (1, _moved),
    (1, _odd_table),
    (1, _title),
    (1, _file_key),
)


def design(dice: Dice) -> Mutant:
    """One to three keys changed of a bundled design."""
    content = dice.choice(examples())
    for _ in range(dice.choice([1, 1, 1, 2, 2, 3])):
        weights, ops = zip(*DESIGN_OPS, strict=True)
        with contextlib.suppress(
            IndexError, TypeError, ValueError
        ):  # the change before may have left no table to change
            dice.choices(ops, weights)[0](dice, content)
    return Mutant("design", {DESIGN: toml_text(content).encode("utf-8", "surrogatepass"), **_places(dice)})


def _places(dice: Dice) -> dict[str, bytes | str]:
    return {f"{place}{ending}": place for place in PLACES for ending in (".csv", ".msh")} if dice.random() < 0.2 else {}


# --- text --------------------------------------------------------------------


def syntax(dice: Dice) -> Mutant:
    """A bundled design, its text damaged."""
    text = example_path(dice.choice(example_names())).read_text(encoding="utf-8")
    data = damaged(dice, text.encode())
    if dice.random() < 0.3:
        data = damaged(dice, data)
    return Mutant("syntax", {DESIGN: data})


def damaged(dice: Dice, data: bytes) -> bytes:
    """Bytes lost, doubled, swapped or added: quotes, brackets, marks of other editors, far too much of something."""
    return dice.choice(BYTE_OPS)(dice, data)


def _insert(dice: Dice, data: bytes) -> bytes:
    at = dice.randrange(len(data) + 1)
    junk = dice.choice(
        [
            b"\x00",
            b'"',
            b"'",
            b"[",
            b"]",
            b"{",
            b"=",
            b"#",
            b"\\",
            b"\r",
            b"\n\n",
            b",",
            b";",
            b"\xff",
            b"\xc3",
            b"\xe2\x80\xa8",
            "é".encode(),
            b"\x1b[31m",
            b'"""',
            b"\xef\xbb\xbf",
            b"nan",
            b"-",
            b"1e999",
        ]
    )
    return data[:at] + junk + data[at:]


def _cut_out(dice: Dice, data: bytes) -> bytes:
    at = dice.randrange(len(data) + 1)
    return data[:at] + data[at + dice.choice([1, 1, 2, 10, 100, 10**6]) :]


def _flip(dice: Dice, data: bytes) -> bytes:
    at = dice.randrange(max(len(data), 1))
    return data[:at] + bytes([dice.randrange(256)]) + data[at + 1 :]


def _line_twice(dice: Dice, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True) or [b""]
    at = dice.randrange(len(lines))
    lines.insert(dice.randrange(len(lines)), lines[at])
    return b"".join(lines)


def _swap_lines(dice: Dice, data: bytes) -> bytes:
    lines = data.splitlines(keepends=True) or [b""]
    i, j = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return b"".join(lines)


def _line_ends(dice: Dice, data: bytes) -> bytes:
    return data.replace(b"\n", dice.choice([b"\r\n", b"\r", b"\n\n", b"\x0b", b"\x0c", b"\xc2\x85"]))


def _encoded(dice: Dice, data: bytes) -> bytes:
    text = data.decode("utf-8", "replace")
    return dice.choice(
        [
            text.encode("utf-16"),
            text.encode("utf-16-le"),
            text.encode("utf-8-sig"),
            text.encode("latin-1", "replace"),
            b"",
        ]
    )


def _flood(dice: Dice, data: bytes) -> bytes:
    """A megabyte of something, or nesting without end."""
    flood = dice.choice(
        [
            b"#" * 10**6,
            b" " * 10**6,
            b"\n" * 10**6,
            b"[" * 10**5,
            b"a = " + b"[" * 10**4,
            b"a." * 2000 + b"a = 1\n",
            b"x = " + b"1" * 5000 + b"\n",
            b'y = "' + b"z" * 10**6 + b'"\n',
            b"a = " + b"{b = " * 5000,
            b"\x00" * 10**6,
            b"[[a]]\n" * 20000,
        ]
    )
    return dice.choice([flood + data, data + flood, data.replace(b"\n", b"\n" + flood + b"\n", 1)])


BYTE_OPS = (
    _insert,
    _insert,
    _insert,
    _cut_out,
    _cut_out,
    _flip,
    _line_twice,
    _swap_lines,
    _line_ends,
    _encoded,
    _flood,
)


# --- tables ------------------------------------------------------------------

CELLS = (
    *(
        "",
        "0",
        "-1",
        "1",
        "nan",
        "inf",
        "-inf",
        "1e308",
        "-1e308",
        "1e-320",
        "1e999",
        "1_0",
        "0x10",
        "٣",
        "1,5",
        "abc",
        "true",
    ),
    *(
        "1e5",
        "0.001",
        "360",
        "-720",
        "1e17",
        "99999999999999999999",
        "1" * 5000,
        "a\x00b",
        '"',
        '"a\nb"',
        "line",
        "arc",
        "in",
        "\x1b[2J",
        "x" * 200000,
    ),
)


def table(dice: Dice, text: str) -> bytes:
    """A CSV file with cells, rows or columns changed, or its text damaged."""
    cells = [line.split(",") for line in text.splitlines()]
    for _ in range(dice.choice([1, 1, 1, 2, 3])):
        dice.choice(TABLE_OPS)(dice, cells)
    data = "\n".join(",".join(row) for row in cells).encode("utf-8", "surrogatepass") + b"\n"
    return damaged(dice, data) if dice.random() < 0.25 else data


def _cell(dice: Dice, cells: Cells) -> None:
    row = dice.choice(cells or [[]]) if dice.random() < 0.1 else dice.choice(cells[1:] or [[]])
    if row:
        row[dice.randrange(len(row))] = dice.choice(CELLS)


def _scaled_cell(dice: Dice, cells: Cells) -> None:
    row = dice.choice(cells[1:] or [[""]])
    with contextlib.suppress(ValueError, IndexError):  # no number there, or no cell
        at = dice.randrange(len(row))
        row[at] = f"{float(row[at]) * dice.choice([0, -1, 0.5, 0.9, 1.1, 2, 10, 100, 1e6, 1e-6]):.9g}"


def _scaled_column(dice: Dice, cells: Cells) -> None:
    at, factor = (
        dice.randrange(max(len(cells[0]) if cells else 1, 1)),
        dice.choice([0, -1, 0.5, 1.1, 2, 10, 1000, 1e-3, 1e200]),
    )
    for row in cells[1:]:
        try:
            row[at] = f"{float(row[at]) * factor:.9g}"
        except (ValueError, IndexError):
            continue


def _row_away(dice: Dice, cells: Cells) -> None:
    if cells:
        del cells[dice.randrange(len(cells))]


def _row_twice(dice: Dice, cells: Cells) -> None:
    if cells:
        cells.insert(dice.randrange(len(cells) + 1), list(dice.choice(cells)))


def _rows_swapped(dice: Dice, cells: Cells) -> None:
    if len(cells) > 1:
        i, j = dice.randrange(len(cells)), dice.randrange(len(cells))
        cells[i], cells[j] = cells[j], cells[i]


def _column_away(dice: Dice, cells: Cells) -> None:
    at = dice.randrange(max(len(cells[0]) if cells else 1, 1))
    for row in cells:
        del row[at : at + 1]


def _columns_turned(dice: Dice, cells: Cells) -> None:
    for row in cells:
        row.reverse()


def _only_header(dice: Dice, cells: Cells) -> None:
    del cells[dice.choice([1, 2, 0]) :]


def _many(dice: Dice, cells: Cells) -> None:
    """Thousands of rows."""
    body = [list(row) for row in cells[1:]]
    cells += body * min(2000 // max(len(body), 1), 2000)


def _header(dice: Dice, cells: Cells) -> None:
    if cells and cells[0]:
        at = dice.randrange(len(cells[0]))
        cells[0][at] = dice.choice(
            [
                "",
                cells[0][at].upper(),
                cells[0][at] + " ",
                "x",
                cells[0][0],
                f'"{cells[0][at]}"',
                "value_v",
                cells[0][at][:-1],
            ]
        )


TABLE_OPS = (
    *(_cell, _cell, _cell, _scaled_cell, _scaled_cell, _scaled_cell, _scaled_column, _row_away, _row_twice),
    *(_rows_swapped, _column_away, _columns_turned, _only_header, _many, _header),
)


def _with_file(  # noqa: PLR0917 - all that a table needs to stand in a design
    dice: Dice, kind: str, changes: Mapping[str, Any], name: str, text: str, without: tuple[str, ...] = ()
) -> Mutant:
    """The hut charger with a table of its own, that one mutated."""
    content = examples()[example_names().index("hut-charger")]
    for key in without:
        section, _, inner = key.partition(".")
        content[section].pop(inner, None)
    for key, value in changes.items():
        section, _, inner = key.partition(".")
        content.setdefault(section, {})[inner] = value
    data = dice.choice(PLACES) if dice.random() < 0.03 else table(dice, text)
    return Mutant(kind, {DESIGN: toml_text(content).encode(), name: data})


SHAPED = ("winding.inner_radius_mm", "winding.outer_radius_mm", "winding.layers", "winding.rounds")


def path(dice: Dice) -> Mutant:
    """A winding corner by corner."""
    rows = ["loop,phase,r_mm,theta_deg,z_mm,edge"]
    for phase in range(3):
        for pair in range(8):
            t = 45 * pair + 15 * phase
            rows += [
                f"{phase + 1},{phase + 1},{r},{t + a:g},4,{edge}"
                for r, a, edge in ((55, 0, "line"), (77, 0, "arc"), (77, 22.5, "spiral"), (55, 22.5, "arc"))
            ]
        rows.append(f"{phase + 1},{phase + 1},55,{360 + 15 * phase},4,")
    changes = {"winding.shape": "path", "winding.file": "path.csv"}
    return _with_file(dice, "path", changes, "path.csv", "\n".join(rows), SHAPED)


def notches(dice: Dice) -> Mutant:
    """A winding as a walk from notch to notch."""
    rows = ["step,end,notch"]
    for step in range(8):
        rows += [f"{2 * step + 1},in,{2 * step + 1}", f"{2 * step + 2},out,{2 * step + 2}"]
    numbers = {"inner_notches": 16, "outer_notches": 16, "inner_radius_mm": 53, "outer_radius_mm": 79}
    changes = {"winding.shape": "path", "winding.file": "walk.csv"} | {f"winding.{k}": v for k, v in numbers.items()}
    if dice.random() < 0.3:
        key = dice.choice([*changes, "winding.rounds", "winding.step_deg", "winding.leg"])
        changes |= {key: plausible(dice, key)}
    return _with_file(dice, "notches", changes, "walk.csv", "\n".join(rows), SHAPED)


def steel(dice: Dice) -> Mutant:
    """A steel of one's own."""
    text = "b_t,h_a_per_m\n0,0\n0.5,120\n1.0,250\n1.4,900\n1.6,2800\n1.8,9000\n2.0,24000\n"
    return _with_file(dice, "steel", {dice.choice(["rotor.backing"]): "own.csv"}, "own.csv", text)


def blades(dice: Dice) -> Mutant:
    """A power coefficient of one's own."""
    text = "tip_speed_ratio,cp\n0,0\n2,0.1\n4,0.3\n6,0.4\n8,0.3\n10,0.05\n11,-0.02\n"
    return _with_file(
        dice, "blades", {"wind.cp_curve": "cp.csv"}, "cp.csv", text, ("wind.tip_speed_ratio", "wind.peak_cp")
    )


def wind(dice: Dice) -> Mutant:
    """A measured wind."""
    hours = range(48)
    rows = [f"2024-03-{1 + hour // 24:02d}T{hour % 24:02d}:00,{3 + 2.5 * math.sin(hour / 5):.1f}" for hour in hours]
    text = "\n".join(["time,speed_m_s", *rows])
    if dice.random() < 0.2:
        text = text.replace(":00,", dice.choice([":00Z,", ":00+23:59,", ":00:00.000001,", ",", ":00-00:00,"]))
    if dice.random() < 0.1:
        text = text.replace("2024", dice.choice(["0001", "9999", "1", "20240"]))
    return _with_file(dice, "wind", {"wind.record": "mast.csv"}, "mast.csv", text, ("wind.mean_m_s",))


def mesh(dice: Dice) -> Mutant:
    """An outline of one's own; now and then in a machine that it may not fit."""
    name, data = section_mesh(dice, damaged)
    content = examples()[example_names().index(name)]
    content["magnets"]["section_mesh"] = "own.msh"
    if dice.random() < 0.3:
        content["magnets"]["outline_ends"] = dice.choice(["cut", "plain"])
    if dice.random() < 0.15:
        dice.choice([_nudge, _plausible])(dice, content)
    place = dice.choice(PLACES) if dice.random() < 0.03 else data
    return Mutant("mesh", {DESIGN: toml_text(content).encode(), "own.msh": place})


# --- what commands read beside designs ----------------------------------------


def readings(dice: Dice) -> Mutant:
    """Bench readings, and now and then a scan."""
    text = example_path("hut-charger").with_name("hut-charger-readings.csv").read_text(encoding="utf-8")
    body = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    plain = (HERE / DESIGN).name
    files: dict[str, bytes | str] = {plain: example_path("hut-charger").read_bytes(), "readings.csv": table(dice, body)}
    if dice.random() < 0.4:
        scan = example_path("hut-charger").with_name("hut-charger-scan.csv").read_text(encoding="utf-8")
        lines = "\n".join(line for line in scan.splitlines() if not line.startswith("#"))
        files["scan.csv"] = table(dice, lines)
        if dice.random() < 0.6:
            files["readings.csv"] = body.encode()
    if dice.random() < 0.03:
        files["readings.csv"] = dice.choice(PLACES)
    return Mutant("readings", files)


SWEPT = ("load.voltage_v", "wire.temperature_c", "title")
"""Keys that the journal's sweep varies: cheap ones."""


def points(dice: Dice) -> Mutant:
    """A table of a sweep's points."""
    keys = dice.sample([key for key in RANGES if not key.startswith("load.speeds")], 2)
    kind = dice.random()
    if kind < 0.4:
        keys = ["wire.copper_mm", "winding.layers"]
    rows = [[str(plausible(dice, key)) for key in keys] for _ in range(3)]
    text = "\n".join([",".join(keys), *(",".join(row) for row in rows)])
    return Mutant(
        "points", {DESIGN: example_path(dice.choice(example_names())).read_bytes(), "points.csv": table(dice, text)}
    )


def journal(dice: Dice, whole: bytes) -> Mutant:
    """A sweep's journal that somebody else has been at; `whole` is one that is finished."""
    lines = whole.splitlines(keepends=True)
    if dice.random() < 0.4:
        data = damaged(dice, whole)
    else:
        at = dice.randrange(len(lines))
        lines[at] = _entry(dice, lines[at])
        data = b"".join(lines)
    return Mutant("journal", {DESIGN: example_path("plank-ring").read_bytes(), "journal": data})


def _entry(dice: Dice, line: bytes) -> bytes:
    """A line whose JSON is sound and says something else."""
    content = json.loads(line)
    odd: list[Any] = [
        None,
        -1,
        10**30,
        1.5,
        "x",
        [],
        {},
        [1],
        True,
        math.nan,
        math.inf,
        "\x1b[2J",
        "</script>",
        [[1]],
        "ok",
        "failed",
        "infeasible",
    ]
    key = dice.choice(list(content))
    if dice.random() < 0.2:
        return dice.choice([b"null", b"1", b"[]", b'"x"', b"[" * 10**5, b"{}", b'{"i":0}', b'{"a":' * 10**4]) + b"\n"
    if dice.random() < 0.2:
        del content[key]
    elif isinstance(content[key], list) and dice.random() < 0.5:
        content[key] = [*content[key][:-1], dice.choice(odd)] if dice.random() < 0.5 else content[key][:-1]
    else:
        content[key] = dice.choice(odd)
    return json.dumps(content, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "surrogatepass") + b"\n"


def misplaced(dice: Dice) -> Mutant:
    """In place of a design, something that is no file."""
    return Mutant("misplaced", {DESIGN: dice.choice(PLACES)})


KINDS: dict[str, tuple[int, Callable[[Dice], Mutant]]] = {
    "design": (40, design),
    "syntax": (14, syntax),
    "path": (8, path),
    "notches": (4, notches),
    "steel": (5, steel),
    "blades": (5, blades),
    "wind": (6, wind),
    "readings": (8, readings),
    "points": (5, points),
    "mesh": (12, mesh),
    "misplaced": (1, misplaced),
}


def mutant(seed: int, number: int, whole_journal: bytes) -> Mutant:
    """One mutant, always the same for the same numbers."""
    dice = random.Random(f"{seed}/{number}")  # noqa: S311 - not a secret
    kinds = {**KINDS, "journal": (5, lambda dice: journal(dice, whole_journal))}
    made = dice.choices(list(kinds.values()), [weight for weight, _ in kinds.values()])[0][1](dice)
    return replace(made, options=_options(dice))


def _options(dice: Dice) -> tuple[str, ...]:
    return tuple(option for option in ("--force", "-q", "-v") if dice.random() < 0.1)
