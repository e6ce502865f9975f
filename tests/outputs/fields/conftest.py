"""Answers that every test of field files shares."""

import pytest

from fieldrun.design.examples import example_path
from fieldrun.generator.machine import read_design, run


@pytest.fixture(scope="session")
def hut(bundled):
    """The hut charger answered."""
    return bundled("hut-charger")


@pytest.fixture(scope="session")
def plank(bundled):
    """The plank ring answered: open above, arcs, no steel."""
    return bundled("plank-ring")


@pytest.fixture(scope="session")
def wider():
    """The hut charger with a wider gap."""
    return run(read_design(example_path("hut-charger"), {"rotor.gap_mm": 9.5}))
