"""The house holds: imports run one way, every stage knows only what it may, and the sources say what they are."""

import ast
import re
import sys
from pathlib import Path

import pytest

from fieldrun.outputs.doctor import NEEDED

PACKAGE = Path(__file__).parents[1] / "fieldrun"

MAY_IMPORT = {
    "design": set(),
    "field": {"design"},
    "winding": {"design"},
    "reference": {"design", "field.field_map"},
    "generator": {"design", "field", "winding", "reference"},
    "outputs": {"design", "field", "winding", "reference", "generator", "studies"},  # it shows what they found
    "studies": {"design", "field", "winding", "reference", "generator"},
    "cli": {"design", "field", "winding", "reference", "generator", "outputs", "studies"},
    "interface": {"design", "field", "winding", "reference", "generator", "outputs", "studies"},
    "__main__": {"cli"},
    "__init__": {"interface"},
}
"""What each stage may import besides itself; a dotted name allows that one module."""

MODULES = sorted(PACKAGE.rglob("*.py"))

LONGEST_BODY = 35
"""Lines of a function without its head and its docstring."""

ARRAYS = {"Floats", "Ints", "Complexes", "Bools", "Flags", "Mask", "NDArray"}

SHAPE = re.compile(r"\((\.\.\.|[\w .+*-]+,|[\w .+*-]+(, ?[\w .+*-]+)+)\)")
"""(n,), (n, r, z), (..., n) or (...): the axes of an array."""

Documented = ast.FunctionDef | ast.ClassDef


def stage_of(module: Path) -> str:
    inside = module.relative_to(PACKAGE)
    return inside.parts[0] if len(inside.parts) > 1 else inside.stem


def imported(module: Path) -> set[str]:
    """Names below `fieldrun` that a module imports, anywhere in it: functions too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative imports hide where a name comes from"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.removeprefix("fieldrun.") for name in names if name.startswith("fieldrun.")}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_never_run_backwards(module: Path) -> None:
    stage = stage_of(module)
    own = {name for name in imported(module) if not name.startswith("__version__")}
    for name in own:
        allowed = {stage} | MAY_IMPORT[stage]
        assert any(name == entry or name.startswith(entry + ".") for entry in allowed), f"{stage} imports {name}"


def test_the_check_sees_a_backward_import(tmp_path: Path) -> None:
    module = tmp_path / "bad.py"
    module.write_text("def f():\n    from fieldrun.generator.emf import Emf\n    return Emf\n", encoding="utf-8")
    assert imported(module) == {"generator.emf.Emf"}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_say_what_they_are_for_and_stay_short(module: Path) -> None:
    text = module.read_text(encoding="utf-8")
    assert ast.get_docstring(ast.parse(text)), f"{module} has no docstring"
    assert text.count("\n") <= 300, f"{module} does more than one job"


def documented() -> list[tuple[str, Documented]]:
    """Every function and class that says something of itself, with where it stands."""
    trees = {module: ast.walk(ast.parse(module.read_text(encoding="utf-8"))) for module in MODULES}
    return [
        (f"{module.relative_to(PACKAGE)}: {node.name}", node)
        for module, nodes in trees.items()
        for node in nodes
        if isinstance(node, Documented) and ast.get_docstring(node)
    ]


def entries(docstring: str) -> dict[str, str]:
    """What the list of parameters says, by name."""
    section = re.search(r"Parameters\n-+\n(.*?)(?=\n\n\w+\n-+|\Z)", docstring, re.DOTALL)
    said: dict[str, str] = {}
    for names, text in re.findall(r"^(\S[^:\n]*) : (.*(?:\n    .*)*)", section[1] if section else "", re.MULTILINE):
        said |= dict.fromkeys(names.split(", "), text)
    return said


def names_of(node: Documented) -> list[str]:
    """Parameters of a function, fields of a record."""
    if isinstance(node, ast.ClassDef):
        return [one.target.id for one in fields_of(node) if isinstance(one.target, ast.Name)]
    more = [one for one in (node.args.vararg, node.args.kwarg) if one is not None]
    arguments = node.args.posonlyargs + node.args.args + node.args.kwonlyargs + more
    return [one.arg for one in arguments if one.arg != "self" and not one.arg.startswith("_")]


def fields_of(node: Documented) -> list[ast.AnnAssign]:
    """None of a function."""
    return [one for one in node.body if isinstance(one, ast.AnnAssign)] if isinstance(node, ast.ClassDef) else []


def holds_an_array(annotation: ast.expr) -> bool:
    return bool(ARRAYS & {one.id for one in ast.walk(annotation) if isinstance(one, ast.Name)})


def test_lists_of_parameters_name_those_that_there_are() -> None:
    """Renamed and forgotten ones leave a docstring behind that nobody runs."""
    wrong = []
    for where, node in documented():
        docstring = ast.get_docstring(node) or ""
        said, there = entries(docstring), names_of(node)
        wrong += [f"{where} has no {name}" for name in said if name not in there]
        unsaid = [name for name in there if said and not re.search(rf"\b{name}\b", docstring)]
        wrong += [f"{where} does not say what {name} is" for name in unsaid]
    assert not wrong


def test_records_give_the_shape_of_every_array() -> None:
    """In the list of fields, or once for all of them above it."""
    wrong = []
    for where, node in documented():
        docstring = ast.get_docstring(node) or ""
        said, head = entries(docstring), docstring.partition("Parameters\n")[0]
        arrays = [one.target for one in fields_of(node) if holds_an_array(one.annotation)]
        names = [one.id for one in arrays if isinstance(one, ast.Name)]
        wrong += [f"{where}.{name}" for name in names if not SHAPE.search(f"{said.get(name, '')} {head}")]
    assert not wrong


def test_the_checks_see_what_a_docstring_leaves_out() -> None:
    said = entries(
        "A record.\n\nParameters\n----------\na, b : (n,) both\nc : none\n    but (k, 3)\n\nRaises\n------\n"
    )
    assert list(said) == ["a", "b", "c"]
    assert all(SHAPE.search(text) for text in said.values())
    assert not any(SHAPE.search(text) for text in ("of B(r)", "a matrix (square)", "on (r and z)"))


def test_functions_stay_short() -> None:
    """Counted without docstrings, which may be as long as the law needs."""
    for where, node in documented():
        if isinstance(node, ast.FunctionDef):
            first = node.body[1:] or node.body
            assert (node.end_lineno or 0) - first[0].lineno < LONGEST_BODY, f"{where} does more than one job"


def test_every_library_that_is_imported_is_declared() -> None:
    """What comes with another library today may not tomorrow; pydantic pins its core to the very number."""
    known = {"fieldrun", "gmsh", "distributed", "pydantic_core"} | set(NEEDED.values()) | sys.stdlib_module_names
    trees = [ast.walk(ast.parse(module.read_text(encoding="utf-8"))) for module in MODULES]
    nodes = [node for tree in trees for node in tree]
    found = {node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)}
    found |= {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    assert {name.partition(".")[0] for name in found} <= known


def test_no_two_tests_share_a_name_in_one_file() -> None:
    for module in sorted(Path(__file__).parent.rglob("test_*.py")):
        tree = ast.parse(module.read_text(encoding="utf-8"))
        names = [node.name for node in tree.body if isinstance(node, ast.FunctionDef)]
        assert len(names) == len(set(names)), f"{module}: a later test hides an earlier one"
