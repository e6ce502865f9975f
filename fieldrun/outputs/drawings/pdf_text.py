"""Pages of words and tables: headings, paragraphs, numbered points, rows to tick off."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fieldrun.outputs.colours import FAINT, INK, QUIET
from fieldrun.outputs.drawings.pdf_page import Book, fitted, text_width, wrapped

SIZE, LINE = 3.4, 4.9
"""Size of ordinary letters and distance of lines [mm]."""

EDGE, TOP, FOOT = 18.0, 16.0, 18.0

BETWEEN = 3.8
"""Air between two columns [mm]."""


@dataclass(frozen=True)
class Table:
    """Headings, rows of text, and for each column whether it is aligned right."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[bool, ...] = ()

    def widths(self) -> list[float]:
        """Width that each column needs, air included [mm]."""
        columns = zip(self.headings, *self.rows, strict=True)
        return [
            max(text_width(cell, SIZE, bold=i == 0) for i, cell in enumerate(column)) + BETWEEN for column in columns
        ]


class Pages:
    """Words laid down one after the other, on as many pages of a book as they take."""

    def __init__(self, book: Book, title: str, footer: str) -> None:
        self.book, self.title, self.footer = book, title, footer
        self.y = 0.0
        self._canvas: Any = None

    @property
    def width(self) -> float:
        """Width of the text."""
        return self.book.paper.width - 2 * EDGE

    def begin(self, title: str | None = None) -> None:
        """Start a new page, under a new title if one is given."""
        self.finish()
        self.title = title or self.title
        self._canvas = self.book.begin()
        top = self.book.paper.height - TOP
        self._canvas.setFillColor(INK)
        self._canvas.setFont("house-bold", 5.2)
        self._canvas.drawString(EDGE, top - 4.0, fitted(self.title, 5.2, self.width, bold=True))
        self._canvas.setFont("house", 2.5)
        self._canvas.setFillColor(QUIET)
        for i, line in enumerate(wrapped(self.footer, 2.5, self.width)[:2]):
            self._canvas.drawString(EDGE, FOOT - 6.0 - 3.4 * i, line)
        self.y = top - 13.0

    def finish(self) -> None:
        """Close the page that is open."""
        if self._canvas is not None:
            self.book.end()
            self._canvas = None

    def heading(self, text: str) -> None:
        """A heading, kept with the lines after it."""
        self._room(4 * LINE)
        self.y -= 1.6
        self._line(text, EDGE, bold=True, size=4.0)
        self.y -= LINE + 0.6

    def paragraph(self, text: str, indent: float = 0.0, mark: str = "") -> None:
        """Wrapped text; `mark` stands before its first line."""
        for i, line in enumerate(wrapped(text, SIZE, self.width - indent)):
            self._room(LINE)
            if mark and i == 0:
                self._line(mark, EDGE + indent - 5.5)
            self._line(line, EDGE + indent)
            self.y -= LINE
        self.y -= 1.0

    def points(self, texts: Sequence[str]) -> None:
        """Numbered points."""
        for i, text in enumerate(texts):
            self.paragraph(text, 7.0, f"{i + 1}.")

    def boxes(self, texts: Sequence[str]) -> None:
        """Points with a box to tick."""
        for text in texts:
            self._room(LINE)
            self._box(EDGE + 0.6, self.y - 0.4)
            self.paragraph(text, 7.0)

    def table(self, table: Table, *, tick: bool = False) -> None:
        """A table, its headings repeated on every page; in several columns of rows where they are narrow."""
        widths = table.widths()
        if tick:
            widths = [6.0, *widths]
        whole = sum(widths) + 6.0
        beside = max(1, int((self.width + 6.0) // whole)) if tick else 1
        rows = list(table.rows)
        while rows:
            self._room(4 * LINE)
            fit = max(1, int((self.y - FOOT) // LINE) - 1)
            here = min(fit, -(-len(rows) // beside))
            for column in range(beside):
                taken, rows = rows[:here], rows[here:]
                if taken:
                    self._block(table, taken, widths, EDGE + column * whole, tick=tick)
            self.y -= (here + 1) * LINE + 2.0

    def _block(
        self, table: Table, rows: Sequence[tuple[str, ...]], widths: list[float], x: float, *, tick: bool
    ) -> None:
        y, own = self.y, widths[1:] if tick else widths
        left = x + (widths[0] if tick else 0.0)
        self._cells(table, table.headings, own, left, y, bold=True)
        self._canvas.setStrokeColor(FAINT)
        self._canvas.setLineWidth(0.2)
        self._canvas.line(x, y - 1.4, left + sum(own) - 3.0, y - 1.4)
        for i, row in enumerate(rows):
            at = y - (i + 1) * LINE
            self._cells(table, row, own, left, at)
            if tick:
                self._box(x + 0.6, at - 0.4)

    def _cells(
        self, table: Table, row: Sequence[str], widths: list[float], x: float, y: float, *, bold: bool = False
    ) -> None:
        right = table.right or (False,) * len(row)
        self._canvas.setFillColor(INK)
        self._canvas.setFont("house-bold" if bold else "house", SIZE)
        for cell, width, aligned in zip(row, widths, right, strict=True):
            if aligned:
                self._canvas.drawRightString(x + width - BETWEEN, y, cell)
            else:
                self._canvas.drawString(x, y, fitted(cell, SIZE, self.width - (x - EDGE), bold=bold))
            x += width

    def _box(self, x: float, y: float) -> None:
        self._canvas.setStrokeColor(QUIET)
        self._canvas.setLineWidth(0.25)
        self._canvas.rect(x, y, 2.9, 2.9)

    def _line(self, text: str, x: float, *, bold: bool = False, size: float = SIZE) -> None:
        self._canvas.setFillColor(INK)
        self._canvas.setFont("house-bold" if bold else "house", size)
        self._canvas.drawString(x, self.y, text)

    def _room(self, needed: float) -> None:
        if self._canvas is None or self.y - needed < FOOT:
            self.begin()
