"""`former.pdf`: templates full size, then how to wind, what to cut, how to cast, what the meter should read."""

from dataclasses import dataclass

from fieldrun.generator.result import RunResult
from fieldrun.generator.speeds import asked_speeds
from fieldrun.outputs.bundle_words import bundle_lines, bundle_sentences
from fieldrun.outputs.casting import casting_of
from fieldrun.outputs.casting_words import CAUTIONS, RESIN_NOTE, after_casting, before_casting, casting_rows
from fieldrun.outputs.drawings.clean import one_line
from fieldrun.outputs.drawings.former_drawing import board_drawing
from fieldrun.outputs.drawings.magnet_drawing import magnet_drawings, with_magnets
from fieldrun.outputs.drawings.pdf_drawing import add_drawing
from fieldrun.outputs.drawings.pdf_page import Book, Paper
from fieldrun.outputs.drawings.pdf_text import Pages, Table
from fieldrun.outputs.meter_sheet import meter_caption, meter_table
from fieldrun.outputs.result_file import about
from fieldrun.outputs.summary import cautions
from fieldrun.outputs.winding_words import closed, connection, how_to_wind, run_rows, runs_of, walks
from fieldrun.outputs.wire_list import WireList
from fieldrun.outputs.wire_list_told import piece_table, wire_notes
from fieldrun.winding.former import Former


@dataclass(frozen=True)
class Printed:
    """A finished PDF, and how many sheets each of its drawings takes."""

    content: bytes
    former_sheets: int
    pages: int


def former_book(result: RunResult, former: Former, wires: WireList, paper: Paper) -> Printed:
    """Print everything that leaves for the workshop.

    Parameters
    ----------
    result, former, wires : the design's answer, its board, and what to cut
    paper : sheet, and what its printer does to lengths
    """
    facts = about(result)
    book = Book(paper, f"{result.design.title}: winding former", facts)
    board = board_drawing(former, result.lay, result.design, tuple(facts.items()))
    sheets = add_drawing(book, board)
    for drawing in (*magnet_drawings(result.design), with_magnets(board, result.design)):
        add_drawing(book, drawing)
    _words(result, former, wires, book)
    return Printed(book.content(), sheets, book.pages)


def _words(result: RunResult, former: Former, wires: WireList, book: Book) -> None:
    title = one_line(result.design.title)
    footer = "; ".join(f"{key.replace('_', ' ')}: {value}" for key, value in about(result).items())
    pages = Pages(book, title, footer)
    _winding(pages, result, former, title)
    _wire(pages, result, wires, title)
    _casting(pages, result, former, title)
    _meter(pages, result, title)
    pages.finish()


def _winding(pages: Pages, result: RunResult, former: Former, title: str) -> None:
    pages.begin(f"{title}: how to wind it")
    pages.points(how_to_wind(result, former))
    pages.heading("The first turns at every pair of poles" if closed(result) else "The first round")
    for letter, walk in walks(result, former):
        pages.paragraph(walk, 7.0, letter)
    pages.heading("Joining the phases")
    for text in connection(result):
        pages.paragraph(text)
    pages.heading("To tick off")
    winding, runs = result.design.winding, runs_of(result, former)
    wires = max(run.wire for run in runs) > 1
    pages.paragraph(f"Metres: wire of the {'piece' if wires else 'phase'} used by then, tail not counted.")
    layers, belts = winding.layers > 1, winding.belts > 1
    headings, rows = run_rows(runs, turns=closed(result), layers=layers, belts=belts, wires=wires)
    right = (*(False for _ in headings[:-1]), True)
    pages.table(Table(headings, tuple(rows), right), tick=True)


def _wire(pages: Pages, result: RunResult, wires: WireList, title: str) -> None:
    pages.begin(f"{title}: wire to cut")
    headings, rows = piece_table(wires)
    pages.table(Table(headings, rows, (False, *(True for _ in headings[1:]))))
    for text in wire_notes(result, wires):
        pages.paragraph(text)
    lines = bundle_lines(result)
    if lines:
        pages.heading("The bundle")
        for text in bundle_sentences(result, asked_speeds(result.design)):
            pages.paragraph(text)
        for line in lines:
            pages.paragraph(", ".join(part.strip() for part in line.split("  ") if part.strip()))


def _meter(pages: Pages, result: RunResult, title: str) -> None:
    headings, rows = meter_table(result)
    pages.begin(f"{title}: what your meter should read")
    pages.table(Table(headings, tuple(rows), (False, *(True for _ in headings[1:]))))
    pages.paragraph(meter_caption(result))


def _casting(pages: Pages, result: RunResult, former: Former, title: str) -> None:
    casting = casting_of(result, former)
    pages.begin(f"{title}: casting")
    pages.table(Table(("what", "how much"), tuple(casting_rows(casting))))
    pages.paragraph(RESIN_NOTE)
    pages.heading("Before")
    pages.boxes(before_casting(result, casting, former))
    pages.heading("After")
    pages.boxes(after_casting(result, casting))
    pages.heading("Cautions")
    for text in (*cautions(result), *CAUTIONS):
        pages.paragraph(text)
