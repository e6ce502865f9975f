"""Boards of real designs, without solving anything."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from fieldrun.design.model import Design
from fieldrun.generator.machine import read_design
from fieldrun.outputs.drawings.former_drawing import board_drawing
from fieldrun.outputs.drawings.record import Drawing
from fieldrun.winding.former import Former, former_of
from fieldrun.winding.lay import Lay, lay


@dataclass(frozen=True, eq=False)
class Board:
    """A design, its winding, its former and the drawing of it."""

    design: Design
    laid: Lay
    former: Former
    drawing: Drawing


@pytest.fixture
def board(design_file: Callable) -> Callable[..., Board]:
    def made(changes: dict | None = None, example: str = "hut-charger") -> Board:
        design = read_design(design_file(example, changes))
        laid = lay(design.winding, design.magnets.pole_pairs, design.wire)
        former = former_of(design, laid)
        return Board(design, laid, former, board_drawing(former, laid, design, (("design_hash", "8f3a"),)))

    return made
