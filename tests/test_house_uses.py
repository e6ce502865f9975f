"""What nothing uses is deleted: public names of fieldrun/, and what its classes hold, serve something besides tests.

Read by patterns and not by `ast`, which takes ten times as long.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from fieldrun import interface

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "fieldrun"

JUDGES = "fieldrun.reference."
"""Independent solutions: some are there for the tests alone, which then must use them."""

CALLED_BY_PYTHON = {"fieldrun.__getattr__", "fieldrun.__dir__"}

Texts = Mapping[str, str]
"""Modules without docstrings and comments, by dotted name."""


@cache
def texts_of(*folders: Path) -> Texts:
    paths = sorted(path for folder in folders for path in folder.rglob("*.py"))
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__") for path in paths]
    return {name: bare(path.read_text(encoding="utf-8")) for name, path in zip(names, paths, strict=True)}


def bare(text: str) -> str:
    return re.sub(r'""".*?"""|(?<=\s)#[^\n]*', "", text, flags=re.DOTALL)


def blocks(text: str) -> list[tuple[str, str, str]]:
    """Everything that starts at the margin, with the kind and name of what it defines; a decorator is not one."""
    found = [(re.match(r"(def|class) (\w+)", block), block) for block in re.split(r"\n(?=[^\s)\]}])", text)]
    return [(*(match.groups() if match else ("", "")), block) for match, block in found]


def imports(text: str) -> Iterator[tuple[str, str, str]]:
    """Module, name there, name here."""
    for module, plain, listed in re.findall(r"from ([\w.]+) import (?:\(([^)]*)\)|([^\n]*))", text):
        for name, _, here in (one.strip().partition(" as ") for one in (plain or listed).split(",")):
            yield module, name, here or name


def taken(name: str, text: str, modules: Texts) -> Iterator[str]:
    """Dotted names that a module imports, takes from a module it imported, or speaks of outside their own body."""
    for module, there, here in imports(text):
        yield f"{module}.{there}"
        if f"{module}.{there}" in modules:
            yield from (f"{module}.{there}.{one}" for one in re.findall(rf"\b{here}\.(\w+)", text))
    for _, own, block in blocks(text):
        yield from (f"{name}.{word}" for word in set(re.findall(r"\w+", block)) - {own})


def unused(modules: Texts, users: Texts) -> set[str]:
    """Public functions and classes of some modules that none of the users takes."""
    used = {found for name, text in users.items() for found in taken(name, text, modules)}
    defined = {f"{name}.{own}" for name, text in modules.items() for _, own, _ in blocks(text)}
    return {name for name in defined - used if re.search(r"\.(?!_[^_])\w+$", name)}


def members(text: str) -> Iterator[str]:
    """Class and name of every field, method and property."""
    for kind, own, block in blocks(text):
        if kind == "class":
            yield from (f"{own}.{name}" for name in re.findall(r"\n    (?:def )?(?!_)(\w+)(?:: |\()", block))


def words_read(modules: Texts) -> set[str]:
    """Attributes, words that may name one (`getattr`, keys of tables), and all words of templates."""
    text = "\n".join(modules.values())
    named = " ".join(re.findall(r"[\"']([\w.]+)[\"']", text))
    templates = " ".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.jinja"))
    return set(re.findall(r"\.(\w+)", text)) | set(re.findall(r"\w+", f"{named} {templates}"))


def test_every_public_function_and_class_is_used() -> None:
    """By fieldrun itself, by the interface's list, or by the recipes for meshes; a judge by the tests at least."""
    modules = texts_of(PACKAGE)
    listed = {f"fieldrun.interface.{name}" for name in interface.__all__}
    idle = unused(modules, texts_of(PACKAGE, ROOT / "meshes")) - listed - CALLED_BY_PYTHON
    judges = {name for name in idle if name.startswith(JUDGES)}
    assert sorted(idle - judges) == [], "only tests use these: delete them, or move them beside the tests"
    reference = {name: text for name, text in modules.items() if name.startswith(JUDGES)}
    assert sorted(judges & unused(reference, texts_of(ROOT / "tests"))) == [], "nothing uses these judges"


def test_everything_that_a_class_holds_is_read() -> None:
    modules = texts_of(PACKAGE)
    read = words_read(modules)
    idle = {name for text in modules.values() for name in members(text) if name.partition(".")[2] not in read}
    assert sorted(idle) == [], "fieldrun reads these nowhere"


def test_the_check_sees_what_is_idle() -> None:
    text = 'def f():\n    """Not C."""\n    return f()\n\n\ndef g():\n    pass\n\n\nclass C:\n    a: int\n\n\nx = g()\n'
    known = {"m": bare(text)}
    assert unused(known, known) == {"m.f", "m.C"}
    assert unused(known, {"n": "from m import (\n    C,\n    f,\n)\n"}) == {"m.g"}
    assert unused(known, {"n": "import m\n"}) == {"m.f", "m.g", "m.C"}
    assert list(members(text)) == ["C.a"]
    assert words_read({"m": "c.a + getattr(c, 'b')"}) >= {"a", "b"}
