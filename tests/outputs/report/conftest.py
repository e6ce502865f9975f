"""Reports of three unlike machines, each made once: three phases in the wind, one phase without a load, Halbach."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design, run
from fieldrun.generator.result import RunResult
from fieldrun.outputs.report.chapters import Studies
from fieldrun.outputs.report.context import report_of
from fieldrun.outputs.report.page import page_text
from fieldrun.outputs.report.records import Report
from fieldrun.outputs.run_folder import figures_of
from fieldrun.studies.changes.study import changes
from fieldrun.studies.compare import compare_windings

MACHINES = ("hut-charger", "one-phase", "quiet-halbach")

SINGLE = {"winding.phases": 1, "load": None, "title": "One phase, nothing connected"}


@dataclass(frozen=True, eq=False)
class Made:
    """An answer, its report and its page."""

    result: RunResult
    report: Report
    page: str


@pytest.fixture(scope="session")
def made(bundled) -> Callable[[str], Made]:
    """House pictures in all, comparison and advice in the hut charger's only, because they take their time."""

    @functools.cache
    def make(name: str) -> Made:
        result = run(_one_phase()) if name == "one-phase" else bundled(name)
        report = report_of(result, figures_of(result), _studies(result) if name == "hut-charger" else Studies())
        return Made(result, report, page_text(report))

    return make


def _studies(result):
    variant = functools.partial(read_design, example_path("hut-charger"))
    return Studies(comparison=compare_windings(result.design), advice=changes(result, variant))


def _one_phase():
    return read_design(example_path("plank-ring"), SINGLE)


@pytest.fixture(scope="session")
def page_file(made, tmp_path_factory) -> Callable[[str], Path]:
    """The page as a file that a browser can open."""
    folder = tmp_path_factory.mktemp("pages")

    @functools.cache
    def write(name: str) -> Path:
        path = folder / f"{name}.html"
        path.write_text(made(name).page, encoding="utf-8")
        return path

    return write
