"""The doctor looks at everything a run needs, and tells what to do about what is missing."""

import os
import re
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
    assert f"  {'numpy':12} {metadata.version('numpy')}" in lines


def test_it_tells_what_to_install(monkeypatch):
    known = metadata.version

    def without_scipy(name):
        if name == "scipy":
            raise metadata.PackageNotFoundError(name)
        return known(name)

    monkeypatch.setattr(metadata, "version", without_scipy)
    lines, complete = diagnosis()
    assert not complete
    assert "  scipy        MISSING: pip install scipy" in lines


def test_gmsh_may_be_missing_and_is_told_with_the_line_that_mends_it(monkeypatch):
    def missing():
        raise MissingError(f"gmsh lacks a system library (libGLU.so.1); on Debian and Ubuntu: {gmsh_mesh.APT_LINE}")

    monkeypatch.setattr(gmsh_mesh, "_loaded", missing)
    lines, complete = diagnosis()
    assert complete
    assert any("apt-get install" in line and "libglu1-mesa" in line for line in lines)
    assert "only needed to mesh outlines of your own" in lines[-1]


def test_gmsh_that_loads_needs_no_more_words():
    loads, state = gmsh_mesh.gmsh_state()
    if not loads:
        pytest.skip(state)
    lines, _ = diagnosis()
    assert re.fullmatch(r"  gmsh +\d+\.\d+.*", lines[-1])
