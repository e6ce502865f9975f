"""What the report hands to the workshop: the same former, wire list and meter sheet as the files of their own."""

from dataclasses import replace

import pytest

from fieldrun.outputs.meter_sheet import meter_table
from fieldrun.outputs.report.context import report_of
from fieldrun.outputs.report.workshop import board_of, former_chapter, meter_chapter, winding_chapter
from fieldrun.outputs.winding_words import how_to_wind
from fieldrun.outputs.wire_list import wire_list
from fieldrun.outputs.wire_list_told import piece_table

pytestmark = pytest.mark.slow


def test_the_former_its_walk_and_its_wire(made):
    result = made("hut-charger").result
    board = board_of(result)
    assert board.former is not None
    assert former_chapter(result, board, None).points == tuple(how_to_wind(result, board.former))
    pieces = winding_chapter(result, board, ()).tables[-1]
    assert pieces.rows == piece_table(wire_list(result, board.former))[1]
    assert 'id="house-former"' in made("hut-charger").page


def test_the_meter_sheet(made):
    result = made("one-phase").result
    headings, rows = meter_table(result)
    table = meter_chapter(result).tables[0]
    assert (table.headings, table.rows) == (headings, tuple(rows))


def test_a_winding_that_no_board_can_hold_is_reported_all_the_same(made):
    result = made("one-phase").result
    former = replace(result.design.former, hub_hole_m=1.0)
    result = replace(result, design=replace(result.design, former=former))
    board = board_of(result)
    assert board.former is None
    points = former_chapter(result, board, None).points
    assert points
    assert points[0].startswith("No former: ")
    assert len(winding_chapter(result, board, ()).tables) == 1
    assert any(chapter.anchor == "former" for chapter in report_of(result, {}).chapters)
