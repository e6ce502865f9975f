"""Sweeps of small machines, asked for as the command asks for them."""

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import open_design, read_design
from fieldrun.outputs.answer import answer_dict
from fieldrun.studies.sweep.axes import read_axes
from fieldrun.studies.sweep.picks import DEFAULT
from fieldrun.studies.sweep.plan import grid
from fieldrun.studies.sweep.run import Request, run_sweep


@pytest.fixture
def request_for() -> Callable[..., Request]:
    """A sweep of a bundled example over KEY=VALUES."""

    def made(*ranges, picks=DEFAULT, example="plank-ring", kept=None, plan=None):
        path = example_path(example)
        plan = plan or grid(read_axes(ranges))
        return Request(open_design(path), read_design(path), plan, tuple(picks), answer_dict, kept or {})

    return made


@pytest.fixture
def swept(request_for, tmp_path):
    """The sweep itself, its journal in `tmp_path`."""

    def run(*ranges, journal="sweep.jsonl", options=None, **given):
        return run_sweep(request_for(*ranges, **given), tmp_path / journal, **(options or {}))

    return run

    return tomllib.loads(Path(example_path("plank-ring")).read_text(encoding="utf-8"))
