"""Mutants of everything that is read are answered or told; and the hunt for them sees what it looks for."""

import importlib
import json
import random
import sys
import time
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError, Fault, SolveError

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def fuzz():
    """The script beside this file, as a module."""
    sys.path.insert(0, str(HERE))
    yield importlib.import_module("fuzz")
    sys.path.remove(str(HERE))


@pytest.mark.slow
def test_a_hundred_and_fifty_mutants_are_answered_or_told(fuzz):
    """`python tests/hard/fuzz.py` does the same by the thousand."""
    classes, odd = fuzz.hunt(150, seed=8, way=fuzz.Way(runs=0.04))
    assert not odd
    ways = {way: sum(n for key, n in classes.items() if key.endswith(way)) for way in ("told", "sound", "answered")}
    assert sum(ways.values()) == 150
    assert min(ways["told"], ways["sound"]) > 20
    assert ways["answered"] > 5
    assert {key.split()[0] for key in classes} == {*sys.modules["mutators"].KINDS, "journal"}


def tried(fuzz, monkeypatch, does):
    """What the hunt makes of a sound design for which reading does something."""
    monkeypatch.setattr(fuzz, "read_design", lambda _: does())
    made = fuzz.Mutant("design", {})
    return fuzz.outcome(made, random.Random(1), fuzz.Way(runs=0, by_command=0))  # noqa: S311 - not a secret


def raises(error):
    raise error


@pytest.mark.parametrize(
    ("error", "became"),
    [
        (TypeError("x"), "broken"),
        (RecursionError(), "broken"),
        (SolveError("no"), "unsolved"),
        (DesignError([Fault("a", "must be")]), "told"),
        (DesignError([]), "broken"),
        (DesignError([Fault("a", " ")]), "broken"),
    ],
)
def test_the_hunt_knows_what_is_broken(fuzz, monkeypatch, error, became):
    assert tried(fuzz, monkeypatch, lambda: raises(error))[0] == became


def test_the_hunt_ends_what_takes_too_long(fuzz, monkeypatch):
    monkeypatch.setattr(fuzz, "WAIT_S", 0.2)
    became, detail = tried(fuzz, monkeypatch, lambda: time.sleep(30))
    assert (became, detail.splitlines()[0]) == ("broken", "BrokenError ? no answer after 0.2 s")


@pytest.mark.parametrize("text", ["x = nan,", '"v": -inf', "NaN\n", "1,Infinity"])
def test_the_hunt_sees_numbers_that_are_none(fuzz, text):
    with pytest.raises(fuzz.BrokenError):
        fuzz.finite(text)
    fuzz.finite("a nanny's information, inflated; nan_mm")


def test_the_hunt_sees_what_steers_a_terminal(fuzz):
    with pytest.raises(fuzz.BrokenError):
        fuzz.clean("told \x1b[2J")
    fuzz.clean("told\n\\x1b[2J\n")


def test_a_mutant_is_the_same_again_and_no_two_are_alike(fuzz):
    journal = json.dumps({"i": 0}).encode() + b"\n"
    first, again = ([fuzz.mutant(5, number, journal) for number in range(40)] for _ in range(2))
    assert first == again
    assert len({str(made.files) for made in first}) > 30
