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


def test_a_library_that_is_there_but_broken_is_told(tmp_path):
    """In a process of its own, where numpy is found but raises: nothing that the doctor says may need numpy."""
    (tmp_path / "numpy").mkdir()
    (tmp_path / "numpy" / "__init__.py").write_text("raise ImportError('libopenblas is gone')", encoding="utf-8")
    told = subprocess.run(
        [sys.executable, "-c", "from fieldrun.cli import main; main(['doctor'])"],
        env={**os.environ, "PYTHONPATH": f"{tmp_path}"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 4
    assert not told.stderr
    assert re.search(r"numpy +\S+ does not load \(ImportError: libopenblas is gone\); pip install", told.stdout)
    assert "gmsh          not tried" in told.stdout


def test_the_cluster_s_library_may_be_missing(monkeypatch):
    known = metadata.version

    def without(name):
        if name == "distributed":
            raise metadata.PackageNotFoundError(name)
        return known(name)

    monkeypatch.setattr(metadata, "version", without)
    lines, complete = diagnosis()
    assert complete
    assert "only sweep --cluster needs it" in lines[-1]
