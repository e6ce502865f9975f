"""From an answer to a report: every text made safe once, every figure drawn, nothing decided about looks."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar, cast

from markupsafe import Markup

from fieldrun.generator.result import RunResult
from fieldrun.outputs.report.chapters import HOUSE, NOTHING_ELSE, Found, Studies, chapters
from fieldrun.outputs.report.key_numbers import job, key_numbers
from fieldrun.outputs.report.records import Report
from fieldrun.outputs.report.workshop import Board, board_of
from fieldrun.outputs.result_file import about, result_dict
from fieldrun.outputs.screen import safe

if TYPE_CHECKING:
    from matplotlib.figure import Figure

T = TypeVar("T")


def report_of(
    result: RunResult,
    figures: "Mapping[str, Figure]",
    studies: Studies = NOTHING_ELSE,
) -> Report:
    """Put a report together.

    Parameters
    ----------
    result : the answer
    figures : the house's pictures by name; any may be missing, and none is changed but for what is drawn as an image
    studies : what else was asked for and shall be told
    """
    board = board_of(result)
    found = Found(
        result, result_dict(result, studies.band, studies.advice), _drawn(result, figures, board), board, studies
    )
    report = Report(result.design.title, job(result), key_numbers(result), chapters(found), about(result))
    return cleaned(report)


def _drawn(result: RunResult, figures: "Mapping[str, Figure]", board: Board) -> dict[str, Markup]:
    """The house's pictures for the page, by name; none where none are handed over."""
    if not figures:
        return {}  # and matplotlib is spared
    from fieldrun.outputs.drawings.former_drawing import board_drawing
    from fieldrun.outputs.drawings.svg_file import drawing_svg
    from fieldrun.outputs.report.house import house_drawing, inlined

    drawings = {name: house_drawing(f"house-{name}", figures[name]) for name in HOUSE if name in figures}
    if board.former is not None:
        drawing = drawing_svg(board_drawing(board.former, result.lay, result.design, ()))
        says = (
            "The former from above, with the first rounds of every phase and a number beside every place of the wire."
        )
        drawings["former"] = inlined("house-former", drawing, says)
    return drawings


def cleaned(part: T) -> T:
    """A copy in which no text holds a character that steers: line ends, direction marks, terminal codes."""
    made: Any = part
    if isinstance(part, Markup):
        return part
    if isinstance(part, str):
        made = safe(part)
    elif isinstance(part, tuple):
        made = tuple(cleaned(inner) for inner in part)
    elif isinstance(part, Mapping):
        made = {key: cleaned(value) for key, value in part.items()}
    elif is_dataclass(part) and not isinstance(part, type):
        made = replace(part, **{f.name: cleaned(getattr(part, f.name)) for f in fields(part)})
    return cast("T", made)
