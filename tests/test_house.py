"""The house holds: imports run one way, every stage knows only what it may, and the sources say what they are."""

import ast
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
    "__init__": {"interface"},
}
"""What each stage may import besides itself; a dotted name allows that one module."""

MODULES = sorted(PACKAGE.rglob("*.py"))


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
