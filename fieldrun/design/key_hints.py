"""What a key takes and what a wrong or unknown one was probably meant to be, in words."""

import math
import re
from typing import Annotated, Any, get_args, get_origin

from fieldrun.design.file_model import TABLES, unit_of
from fieldrun.design.file_tables import Table
from fieldrun.design.nearest import nearest, one_of


def shown(value: object) -> str:
    """A value as it would stand in the file, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, dict):
        text = "a table"
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def type_text(name: str, kind: type[Table], key: str, value: object) -> str:
    """Say what a key of table `name` must be, what was received, and what was probably meant."""
    if key not in kind.model_fields:
        return _unknown_key(name, key)
    kinds = _kinds(kind.model_fields[key].annotation)
    text = f"must be {' or '.join(kinds)}; received {shown(value)}"
    return text + _type_hint(key, value, kinds)


def _type_hint(key: str, value: object, kinds: list[str]) -> str:
    if isinstance(value, str):
        return _number_hint(key, value, kinds) or _word_hint(value, kinds)
    if isinstance(value, float) and math.isfinite(value):
        return _whole_hint(key, value, kinds)
    return ""


def _number_hint(key: str, value: str, kinds: list[str]) -> str:
    number = _number_in(value)
    if number is None or not ("a number" in kinds or ("a whole number" in kinds and number.is_integer())):
        return ""
    why = "the unit is in the name of the key" if unit_of(key) else "numbers stand without quotes"
    return f"; {why}: write {key} = {number:g}"


def _whole_hint(key: str, value: float, kinds: list[str]) -> str:
    if value.is_integer() and ("a whole number" in kinds or f"{value:.0f}" in " ".join(kinds)):
        return f"; write {key} = {value:.0f}"
    step = 2 if key == "count" else 1  # poles come in pairs
    return (
        f"; try {math.floor(value / step) * step} or {math.ceil(value / step) * step}"
        if "a whole number" in kinds
        else ""
    )


def _word_hint(value: str, kinds: list[str]) -> str:
    words = [word for word in " ".join(kinds).split('"')[1::2] if word]
    close = nearest(value.casefold(), words)
    return f'; did you mean "{close}"?' if close else ""


def _number_in(value: str) -> float | None:
    """The number a text starts with: "3 mm" or "3,5"."""
    found = re.match(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*[a-zA-Z°%µ]*\s*$", value)
    return float(found[1].replace(",", ".")) if found else None


def _kinds(annotation: Any) -> list[str]:
    """What a key takes, in words."""
    simple = {float: "a number", int: "a whole number", str: "text in quotes"}
    if annotation in simple:
        return [simple[annotation]]
    if annotation is type(None):
        return []
    if str(annotation).startswith("list"):
        return ["a list of numbers such as [200, 300]"]
    args = get_args(annotation)
    if get_origin(annotation) is Annotated:
        return _kinds(args[0])
    if args and not any(isinstance(arg, type) or get_args(arg) for arg in args):
        return [one_of(args)]
    return [text for arg in args for text in _kinds(arg)]


def _unknown_key(name: str, key: str) -> str:
    hint = meant_key(name, key)
    return "unknown key" + (f"; did you mean {hint.removeprefix(name + '.')}?" if hint else _known_keys(name))


def _known_keys(name: str) -> str:
    return f"; [{name}] knows {', '.join(TABLES[name].model_fields)}" if name in TABLES else ""


def meant_key(name: str, key: str) -> str | None:
    """Full path of the key that was meant: one of this table that looks alike, the same in another, or alike there."""
    own = list(TABLES[name].model_fields) if name in TABLES else []
    if close := nearest(key.lower(), own, 0.8):
        return f"{name}.{close}"
    elsewhere = {f: f"{table}.{f}" for table, kind in reversed(TABLES.items()) for f in kind.model_fields}
    if key in elsewhere:
        return elsewhere[key]
    if close := nearest(key.lower(), own):
        return f"{name}.{close}"
    close = nearest(key.lower(), elsewhere, 0.8)
    return elsewhere[close] if close else None
