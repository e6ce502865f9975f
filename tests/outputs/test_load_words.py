"""A battery charges; whatever else holds a voltage gets a current; each is called as its file calls it."""

from typing import get_args

import pytest

from fieldrun.design.model import Load, LoadKind
from fieldrun.outputs.load_words import begins, taker


@pytest.mark.parametrize("kind", get_args(LoadKind))
def test_what_takes_the_power_has_its_own_name(kind):
    assert taker(Load(kind)) == kind


def test_what_the_first_current_begins():
    assert begins(Load("battery", 12.6)) == "A battery at 12.6 V starts to charge"
    assert begins(Load("resistor", 9.0)) == "A resistor at 9 V gets its first current"
