"""The doctor looks at everything a run needs, and tells what to do about what is missing."""

import os
import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest

import fieldrun
from fieldrun.design.errors import MissingError
from fieldrun.field import gmsh_mesh
from fieldrun.outputs.doctor import NEEDED, diagnosis

PROJECT = Path(__file__).parents[2] / "pyproject.toml"


def test_it_looks_at_every_library_that_is_declared():
    declared = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["dependencies"]
    names = {re.match(r"[A-Za-z0-9_-]+", line).group() for line in declared}
    assert set(NEEDED) == names - {"gmsh"}


def test_it_tells_versions_and_cores(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    lines, complete = diagnosis()
    assert complete
    assert lines[0].startswith(f"fieldrun {fieldrun.__version__}, Python 3.")
    assert lines[0].endswith("1 cores")
    assert f"  {'numpy':13} {metadata.version('numpy')}" in lines


def test_it_tells_what_to_install(monkeypatch):
    known = metadata.version

    def without_scipy(name):
        if name == "scipy":
            raise metadata.PackageNotFoundError(name)
        return known(name)

    monkeypatch.setattr(metadata, "version", without_scipy)
    lines, complete = diagnosis()
    assert not complete
    assert "  scipy         MISSING: pip install scipy" in lines


@pytest.mark.parametrize(
    ("name", "version", "wanted"),
    [
        ("click", "8.1.7", "click>=8.2.1"),
        ("click", "8.2", "click>=8.2.1"),
        ("numpy", "1.26.4", "numpy>=2.0"),
        ("pydantic", "3.0.0rc1", "pydantic<3,>=2.10"),
        ("pydantic", "2.9.2", "pydantic<3,>=2.10"),
        ("matplotlib", "unknown", "matplotlib>=3.10"),
    ],
)
def test_a_library_outside_its_bounds_is_told(name, version, wanted, monkeypatch):
    """Libraries that another program pulled down or up."""
    known = metadata.version
    monkeypatch.setattr(metadata, "version", lambda asked: version if asked == name else known(asked))
    lines, complete = diagnosis()
    assert not complete
    (line,) = [line for line in lines if "pip install" in line]
    assert line.startswith(f"  {name:13} {version}, but fieldrun needs another: pip install '{name}")
    assert set(re.findall(r"[<>]=?[\d.]+", line)) == set(re.findall(r"[<>]=?[\d.]+", wanted))


@pytest.mark.parametrize("version", ["3.10", "3.10.0", "3.11.0rc2", "4", "3.10.0.post1"])
def test_a_library_within_its_bounds_is_only_named(version, monkeypatch):
    known = metadata.version
    monkeypatch.setattr(metadata, "version", lambda asked: version if asked == "matplotlib" else known(asked))
    lines, complete = diagnosis()
    assert complete
    assert f"  {'matplotlib':13} {version}" in lines


def test_without_a_record_of_bounds_none_is_broken(monkeypatch):
    def nothing(name):
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(metadata, "requires", nothing)
    assert diagnosis()[1]


def test_gmsh_outside_its_bounds_is_told_and_the_rest_runs(monkeypatch):
    monkeypatch.setattr(gmsh_mesh, "gmsh_state", lambda: (True, "4.9.5"))
    lines, complete = diagnosis()
    assert complete
    assert f"  {'gmsh':13} 4.9.5, but fieldrun needs another: pip install 'gmsh>=4.13'" in lines


def test_gmsh_may_be_missing_and_is_told_with_the_line_that_mends_it(monkeypatch):
    def missing():
        raise MissingError(f"gmsh lacks a system library (libGLU.so.1); on Debian and Ubuntu: {gmsh_mesh.APT_LINE}")

    monkeypatch.setattr(gmsh_mesh, "_loaded", missing)
    lines, complete = diagnosis()
    assert complete
    assert any("apt-get install" in line and "libglu1-mesa" in line for line in lines)
    assert any("only needed to mesh outlines of your own" in line for line in lines)


def test_gmsh_that_loads_needs_no_more_words():
    loads, state = gmsh_mesh.gmsh_state()
    if not loads:
        pytest.skip(state)
    lines, _ = diagnosis()
    assert any(re.fullmatch(r"  gmsh +\d+\.\d+.*", line) for line in lines)


def told_where(code: str, place: Path, words: str = "doctor") -> subprocess.CompletedProcess[str]:
    """What fieldrun says in a process of its own, in which `code` is run before anything is imported."""
    (place / "sitecustomize.py").write_text(code, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-c", f"from fieldrun.cli import main; main({words.split()})"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, [f"{place}", os.environ.get("PYTHONPATH")]))},
        cwd=place,
        capture_output=True,
        text=True,
        check=False,
    )


def without(module: str) -> str:
    """Code after which a module is not there, whatever its package's records say."""
    return f"import sys\nsys.modules[{module!r}] = None\n"


def test_a_library_that_is_there_but_broken_is_told(tmp_path):
    """In a process of its own, where numpy is found but raises: nothing that the doctor says may need numpy."""
    (tmp_path / "numpy").mkdir()
    (tmp_path / "numpy" / "__init__.py").write_text("raise ImportError('libopenblas is gone')", encoding="utf-8")
    told = told_where("", tmp_path)
    assert told.returncode == 4
    assert not told.stderr
    assert re.search(r"numpy +\S+ does not load \(ImportError: libopenblas is gone\); pip install", told.stdout)
    assert "gmsh          not tried" in told.stdout


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(set(NEEDED) - {"click"}))
def test_one_library_after_the_other_is_gone_and_only_its_own_line_says_what_to_do(name, tmp_path):
    told = told_where(without(NEEDED[name]), tmp_path)
    assert (told.returncode, told.stderr) == (4, "")
    cures = [line for line in told.stdout.splitlines() if "pip install" in line]
    assert len(cures) == 1
    assert re.match(rf"  {name} +\S+ does not load \(ModuleNotFoundError: .*\); ", cures[0])
    assert cures[0].endswith(f"pip install --force-reinstall {name}")
    waiting = [line.split()[0] for line in told.stdout.splitlines() if line.endswith(f"does not load without {name}")]
    assert ("scipy" in waiting) == (name == "numpy")


def test_without_click_nothing_starts_and_it_says_so(tmp_path):
    told = told_where(without("click"), tmp_path)
    assert (told.returncode, told.stdout) == (4, "")
    (line,) = told.stderr.splitlines()
    assert line.startswith("fieldrun: click does not load (")
    assert line.endswith("pip install --force-reinstall click")


def test_a_command_that_lacks_a_library_sends_to_the_doctor(tmp_path):
    told = told_where(
        f"{without('numpy')}import tempfile\ntempfile.tempdir = {str(tmp_path)!r}\n", tmp_path, "run plank-ring"
    )
    assert (told.returncode, told.stdout) == (4, "")
    (line,) = told.stderr.splitlines()
    assert "numpy" in line
    assert "; `fieldrun doctor` tells what to install (details in " in line


def test_the_cluster_s_library_may_be_missing(monkeypatch):
    known = metadata.version

    def without_it(name):
        if name == "distributed":
            raise metadata.PackageNotFoundError(name)
        return known(name)

    monkeypatch.setattr(metadata, "version", without_it)
    lines, complete = diagnosis()
    assert complete
    assert lines[-2:] == [
        "  distributed   MISSING: pip install distributed",
        "  (only sweep --cluster needs it; all else runs without it)",
    ]


def test_the_cluster_s_library_may_be_broken(tmp_path):
    told = told_where(without("distributed"), tmp_path)
    assert (told.returncode, told.stderr) == (0, "")
    assert re.search(r"distributed +\S+ does not load \(.*\); pip install --force-reinstall distributed\n", told.stdout)
