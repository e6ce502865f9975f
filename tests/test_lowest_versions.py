"""The lowest versions that are declared are the ones the suite can be run at: one list follows the other."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def declared() -> set[tuple[str, str]]:
    """Libraries and their lowest versions: what a user installs and what the tests need."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    lines = [*project["dependencies"], *extras["cluster"], *extras["test"]]
    found = [re.match(r"([A-Za-z0-9_-]+)>=([0-9.]+)", line) for line in lines]
    assert all(found), f"a dependency without a lowest version: {lines}"
    return {(match[1], match[2]) for match in found}


def test_the_constraints_are_the_lowest_declared_versions() -> None:
    lines = (ROOT / "constraints-lowest.txt").read_text(encoding="utf-8").splitlines()
    assert {tuple(line.split("==")) for line in lines if "==" in line} == declared()
