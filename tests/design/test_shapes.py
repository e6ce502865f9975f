"""Every shape is said once: what a file allows, what the checks know and what is drawn are the same lists."""

from collections.abc import Callable
from dataclasses import fields
from typing import get_args

import pytest

from fieldrun.design.file_tables import WindingTable
from fieldrun.design.model import LoadKind, MagnetShape, Winding, WindingShape
from fieldrun.design.shapes import LOAD_OPTIONS, MAGNET_NEEDS, SHAPE_DEFAULTS, SHAPE_NUMBERS, WINDING_NEEDS
from fieldrun.design.stack import CROSSED_SHAPES, FLAT_SHAPES, NAMED_SHAPES


def test_what_a_file_may_name_is_what_the_checks_know() -> None:
    assert set(MAGNET_NEEDS) == set(get_args(MagnetShape))
    assert set(WINDING_NEEDS) == set(get_args(WindingShape)) == {*NAMED_SHAPES, "path"}


def test_every_load_that_takes_power_is_told_by_a_key() -> None:
    assert {kind for kinds in LOAD_OPTIONS.values() for kind in kinds} == set(get_args(LoadKind)) - {"open"}


def test_sides_of_a_shape_cross_or_do_not() -> None:
    assert set(FLAT_SHAPES).isdisjoint(CROSSED_SHAPES)


def test_every_number_that_a_shape_may_be_drawn_by_is_told_whose_it_is() -> None:
    """A key without a default of its own in the file whose namesake in the record has one."""
    keys = {name for name, key in WindingTable.model_fields.items() if key.default is None}
    assert {field.name for field in fields(Winding) if field.name in keys and isinstance(field.default, float)} == set(
        SHAPE_NUMBERS
    )


@pytest.mark.parametrize(("key", "shape"), [(key, shape) for key, shapes in SHAPE_NUMBERS.items() for shape in shapes])
def test_a_number_arrives_in_the_winding_and_its_default_if_it_is_absent(
    key: str, shape: str, design: Callable
) -> None:
    assert getattr(design({"zigzag": shape}).winding, key) == SHAPE_DEFAULTS[key]
    assert getattr(design({"zigzag": shape, "layers = 4": f"layers = 4\n{key} = 0.875"}).winding, key) == 0.875
