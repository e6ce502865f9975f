"""The report as plain text with a little mark-up, for those who write their own."""

import re
from collections.abc import Iterator

from fieldrun.outputs.report.records import Chapter, Report, Table

STEERS = re.compile(r"([\\`*_{}\[\]<>#|~&])")
"""Letters that mean something to a reader of mark-up."""

STARTS = re.compile(r"^(|\d+)((?<!\d)[-+=]|(?<=\d)[.)](?=\s|$))")
"""What begins a list or a heading at the start of a line: a sign, or a number whose dot a blank follows."""


def markdown_text(report: Report) -> str:
    """The file. Texts are escaped: a title cannot become a link, a table or a tag."""
    return "\n".join(_lines(report)) + "\n"


def escaped(text: str) -> str:
    """Text that stays text."""
    return STARTS.sub(r"\1\\\2", STEERS.sub(r"\\\1", " ".join(text.split())))


def _lines(report: Report) -> Iterator[str]:
    yield from (f"# {escaped(report.title)}", "", escaped(report.job), "")
    for number in report.key_numbers:
        when = f" ({escaped(number.when)})" if number.when else ""
        yield f"- {escaped(number.name)}: **{escaped(number.value)} {escaped(number.unit)}**{when}"
    for chapter in report.chapters:
        yield from ("", f"## {escaped(chapter.title)}")
        yield from _chapter(chapter)
    yield ""
    yield "---"
    yield ""
    yield "; ".join(f"{escaped(key.replace('_', ' '))}: {escaped(value)}" for key, value in report.facts.items())


def _chapter(chapter: Chapter) -> Iterator[str]:
    for text in chapter.paragraphs:
        yield from ("", escaped(text))
    for text in chapter.warnings:
        yield from ("", f"**Warning:** {escaped(text)}")
    for text in chapter.cautions:
        yield from ("", f"**Caution:** {escaped(text.removeprefix('Caution: '))}")
    for picture in chapter.pictures:
        yield from ("", f"### {escaped(picture.title)}", "", escaped(picture.caption))
        yield from _table(picture.values) if picture.values else ()
    if chapter.points:
        yield ""
    yield from (f"- {escaped(text)}" for text in chapter.points)
    for table in (*chapter.tables, *chapter.folded):
        yield from _table(table)


def _table(table: Table) -> Iterator[str]:
    width = max((len(row) for row in table.rows), default=len(table.headings))
    headings = table.headings or ("",) * width
    sides = ("---" if not table.headings or column in table.words else "---:" for column in range(width))
    yield from ("", f"**{escaped(table.caption)}**", "", _row(headings), "| " + " | ".join(sides) + " |")
    yield from (_row((*row, *("",) * (width - len(row)))) for row in table.rows)
    if table.note:
        yield from ("", escaped(table.note))


def _row(cells: tuple[str, ...]) -> str:
    return "| " + " | ".join(escaped(cell) for cell in cells) + " |"
