"""Answers that every test of field files shares."""

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design, run


@pytest.fixture(scope="session")
def hut():
    """The hut charger answered."""
    return run(read_design(example_path("hut-charger")))


@pytest.fixture(scope="session")
def plank():
    """The plank ring answered: open above, arcs, no steel."""
    return run(read_design(example_path("plank-ring")))


@pytest.fixture(scope="session")
def wider():
    """The hut charger with a wider gap."""
    return run(read_design(example_path("hut-charger"), {"rotor.gap_mm": 9.5}))
