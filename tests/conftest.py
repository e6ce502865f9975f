"""What tests of several stages share: real designs and variations of them as files; whole magnets in closed form."""

import functools
import gc
import importlib.util
import json
import os
import shutil
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import threadpoolctl

from fieldrun.design.examples import example_path
from fieldrun.design.model import Magnets, Rotor
from fieldrun.field.gmsh_mesh import gmsh_state
from fieldrun.generator.machine import read_design, run
from fieldrun.generator.result import RunResult
from tests.whole_magnets import by_half_poles, ring_of_bodies

if TYPE_CHECKING:
    from selenium.webdriver import Chrome


def pytest_configure() -> None:
    """One BLAS thread here and in every command that tests start.

    Tests run side by side, one process a core: a second thread would only wait; it made some of them 25 times slower.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    threadpoolctl.threadpool_limits(limits=1, user_api="blas")


def pytest_collection_finish() -> None:
    """What was collected stays; looking through it for garbage again and again took an eighth of the time.

    It is not frozen: before 6.140 hypothesis finds nothing then that still refers to its own random numbers.
    """
    gc.collect()
    gc.set_threshold(50_000, 20, 100)


def toml_text(content: Mapping[str, object]) -> str:
    tables = {name: table for name, table in content.items() if isinstance(table, dict)}
    lines = [f"{key} = {json.dumps(value)}" for key, value in content.items() if key not in tables]
    for name, table in tables.items():
        lines += ["", f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


@pytest.fixture
def design_file(tmp_path: Path) -> Callable[..., Path]:
    """Write a bundled design with keys changed: `{"rotor.gap_mm": 9}`; None takes a key (or a table) out."""

    def write(example: str, changes: Mapping[str, object] | None = None, name: str = "varied") -> Path:
        content = tomllib.loads(example_path(example).read_text(encoding="utf-8"))
        for key, value in (changes or {}).items():
            table, _, inner = key.rpartition(".")
            place = content.setdefault(table, {}) if table else content
            place.pop(inner, None)
            if value is not None:
                place[inner] = value
        path = tmp_path / f"{name}.toml"
        path.write_text(toml_text(content), encoding="utf-8")
        return path

    return write


@pytest.fixture
def answered(design_file: Callable[..., Path]) -> Callable[..., RunResult]:
    """The answer to a variation of a bundled design."""
    return lambda example, changes=None: run(read_design(design_file(example, changes)))


@pytest.fixture(scope="session")
def bundled() -> Callable[[str], RunResult]:
    """The answer to a bundled design, computed once."""
    return functools.cache(lambda name: run(read_design(example_path(name))))


@pytest.fixture(scope="session")
def browser() -> "Iterator[Chrome]":
    """A browser without a window, to measure what it really shows: one for all tests, so leave no page behind.

    Without chromium and its driver the test is skipped; under FIELDRUN_REQUIRE_CHROMIUM=1 that is a failure.
    """
    missing = [name for name in ("chromium", "chromedriver") if shutil.which(name) is None]
    missing += [] if importlib.util.find_spec("selenium") else ["selenium"]
    if missing and os.environ.get("FIELDRUN_REQUIRE_CHROMIUM") == "1":
        pytest.fail(f"FIELDRUN_REQUIRE_CHROMIUM=1, but missing: {missing}")
    if missing:
        pytest.skip(f"missing: {missing}; apt-get install --no-install-recommends chromium chromium-driver")
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(word)
    chrome = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver")))
    yield chrome
    chrome.quit()


@pytest.fixture(scope="session")
def gmsh_or_skip() -> None:
    """Skip where gmsh cannot be loaded; under FIELDRUN_REQUIRE_GMSH=1 that is a failure."""
    loads, state = gmsh_state()
    if loads:
        return
    if os.environ.get("FIELDRUN_REQUIRE_GMSH") == "1":
        pytest.fail(f"FIELDRUN_REQUIRE_GMSH=1, but {state}")
    pytest.skip(state)


@pytest.fixture(scope="session")
def whole_magnets() -> Callable[..., np.ndarray]:
    """Field of all of a machine's magnets in magpylib's closed forms: (k, 3) points [m] to (k, 3) Cartesian B [T].

    magpylib (Ortner & Coliado Bandeira, SoftwareX 11 (2020) 100466) knows nothing of harmonics or meshes; its magnets
    have recoil permeability 1. Ideal plates are mirrors, applied to the magnets over and over: so many `reflections`.
    What the ring's symmetry says of a point is taken from its like, unless `fold` is False.
    """
    magpylib = pytest.importorskip("magpylib")

    def field(
        magnets: Magnets, rotor: Rotor, points: np.ndarray, reflections: int = 16, *, fold: bool = True
    ) -> np.ndarray:
        bodies = mirrored(magnets, rotor, reflections)
        every = [one for between in bodies for one in ring_of_bodies(magpylib, magnets, between)]

        def total(places: np.ndarray) -> np.ndarray:
            return np.asarray(magpylib.getB(every, places, sumup=True)).reshape(-1, 3)

        return by_half_poles(total, magnets.count, points) if fold else total(points)

    return field


def mirrored(magnets: Magnets, rotor: Rotor, reflections: int) -> list[tuple[float, float]]:
    """Heights of all bodies: a magnet along z keeps its sign in a plate's mirror."""
    h, gap = magnets.thickness_m, rotor.gap_m or 0.0
    bodies = [(-h, 0.0), (gap, gap + h)][: rotor.faces]
    plates = [-h] if rotor.backing else []
    plates += [gap] if rotor.return_plate else [gap + h] if rotor.backing and rotor.faces == 2 else []
    for _ in range(reflections):
        images = [(2 * plate - high, 2 * plate - low) for plate in plates for low, high in bodies]
        bodies = _joined([*bodies, *images])
    return bodies


def _joined(bodies: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Bodies that touch or cover each other are one: an image may fall on what is there already."""
    out: list[tuple[float, float]] = []
    for low, high in sorted(bodies):
        if out and low < out[-1][1] + 1e-9:
            out[-1] = out[-1][0], max(high, out[-1][1])
        else:
            out.append((low, high))
    return out
