"""The pull in the builder's words, and when it is dangerous."""

import pytest

from fieldrun.design.model import Plate, Rotor
from fieldrun.generator.forces import Forces
from fieldrun.outputs.handling import STRONG_N, handling_caution, pull_rows

TWO = Rotor(2, 0.01, None, None, 0.05, 0.08)
PLATED = Rotor(1, 0.01, None, Plate(None), 0.05, 0.08)


def test_newtons_and_what_a_balance_shows() -> None:
    """9.80665 N weigh 1 kg: standard gravity."""
    assert pull_rows(Forces(980.665), TWO) == [("pull between the discs", "981 N", "the weight of 100 kg")]
    assert pull_rows(Forces(19.6133), PLATED) == [("pull on the plate", "19.6 N", "the weight of 2 kg")]
    weak = pull_rows(Forces(19.6133, 0.02), PLATED)
    assert weak[0][2] == "the weight of 2 kg; too few harmonics to be sure, perhaps more"


def test_nothing_to_pull_nothing_to_tell() -> None:
    assert pull_rows(Forces(None), TWO) == []
    assert handling_caution(Forces(None), TWO) == ""


@pytest.mark.parametrize(("rotor", "parts"), [(TWO, "the two discs"), (PLATED, "disc and plate")])
def test_a_strong_pull_comes_with_advice(rotor: Rotor, parts: str) -> None:
    assert handling_caution(Forces(1000.0), rotor) == (
        f"Caution: {parts} pull together with the weight of 102 kg at the full gap, and harder the closer they come. "
        "Lower one onto spacers with jacking screws, never with fingers between."
    )


def test_a_weak_pull_needs_none() -> None:
    assert handling_caution(Forces(STRONG_N - 0.1), TWO) == ""
    assert handling_caution(Forces(STRONG_N), TWO)
