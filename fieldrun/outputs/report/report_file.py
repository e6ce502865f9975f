"""`report.json`: the report's texts and tables for programs, and for those who set their own pages."""

from typing import Any

from fieldrun.generator.result import RunResult
from fieldrun.outputs.folder import record_text
from fieldrun.outputs.report.records import Chapter, Picture, Report, Table

SCHEMA = 1
"""Number of the file's layout; it grows when a key changes its meaning."""


def report_dict(report: Report, result: RunResult) -> dict[str, Any]:
    """The file's content as plain dicts, lists and text; what is empty is absent."""
    return {
        "schema": SCHEMA,
        "fieldrun": report.facts["fieldrun"],
        "name": result.design.name,
        "design_hash": result.design_hash,
        "mesh": report.facts["mesh"],
        "error_estimate": report.facts["error_estimate"],
        "title": report.title,
        "job": report.job,
        "key_numbers": [
            {"name": number.name, "value": number.value, "unit": number.unit, "when": number.when}
            for number in report.key_numbers
        ],
        "chapters": [_chapter(chapter) for chapter in report.chapters],
    }


def report_text(report: Report, result: RunResult) -> str:
    """The file itself."""
    return record_text(report_dict(report, result))


def _chapter(chapter: Chapter) -> dict[str, Any]:
    told: dict[str, Any] = {
        "paragraphs": list(chapter.paragraphs),
        "warnings": list(chapter.warnings),
        "cautions": list(chapter.cautions),
        "points": list(chapter.points),
        "figures": [_figure(picture) for picture in chapter.pictures],
        "tables": [_table(table) for table in (*chapter.tables, *chapter.folded)],
    }
    return {"name": chapter.anchor, "title": chapter.title} | {key: value for key, value in told.items() if value}


def _figure(picture: Picture) -> dict[str, Any]:
    values = {} if picture.values is None else {"table": _table(picture.values)}
    return {"title": picture.title, "caption": picture.caption} | values


def _table(table: Table) -> dict[str, Any]:
    told = {"caption": table.caption, "headings": list(table.headings), "note": table.note}
    return {key: value for key, value in told.items() if value} | {"rows": [list(row) for row in table.rows]}
