"""Pages of words: nothing is lost at the end of a page, and tables say their headings again."""

import pypdfium2

from fieldrun.outputs.drawings.pdf_page import Book, Paper
from fieldrun.outputs.drawings.pdf_text import Pages, Table


def texts(book: Book) -> list[str]:
    with pypdfium2.PdfDocument(book.content()) as document:
        return [page.get_textpage().get_text_bounded() for page in document]


def pages(paper: str = "A4", title: str = "words") -> tuple[Book, Pages]:
    book = Book(Paper(paper), title, {})
    return book, Pages(book, title, "design hash: 8f3a")


def test_long_tables_go_on_with_their_headings() -> None:
    book, words = pages()
    rows = tuple((f"row{i:03d}", str(i)) for i in range(130))
    words.begin()
    words.table(Table(("name", "number"), rows, (False, True)))
    words.finish()
    found = texts(book)
    assert len(found) == 3
    assert all("name" in page and "design hash: 8f3a" in page for page in found)
    whole = "\n".join(found)
    assert all(whole.count(name) == 1 for name, _ in rows)


def test_narrow_lists_to_tick_off_stand_side_by_side_in_reading_order() -> None:
    book, words = pages("Letter")
    words.begin()
    words.table(Table(("n",), tuple((f"r{i:03d}",) for i in range(60))), tick=True)
    words.finish()
    (page,) = texts(book)
    assert all(f"r{i:03d}" in page for i in range(60))


def test_paragraphs_points_and_boxes_flow_over_pages() -> None:
    book, words = pages()
    words.begin("first")
    words.heading("Heading")
    words.points([f"point {i} " + "word " * 40 for i in range(20)])
    words.boxes([f"box {i} " + "word " * 30 for i in range(20)])
    words.finish()
    found = texts(book)
    assert len(found) > 1
    whole = " ".join(found)
    assert all(f"point {i} " in whole and f"box {i} " in whole for i in range(20))
    assert "20." in whole
    assert all(page.splitlines()[0].strip() == "first" for page in found)
