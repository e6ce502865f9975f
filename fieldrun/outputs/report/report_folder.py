"""What `report` leaves behind: the page, the same as plain text and for programs, tables, and the animation."""

from pathlib import Path

from fieldrun.generator.result import RunResult
from fieldrun.outputs.compare_file import csv_text
from fieldrun.outputs.file_names import REPORT_FILE, REPORT_FILES, REPORT_PAGE
from fieldrun.outputs.folder import replaced_by, whole_folder, write_text
from fieldrun.outputs.report.chapters import NOTHING_ELSE, Studies
from fieldrun.outputs.report.context import report_of
from fieldrun.outputs.report.csv_tables import csv_tables
from fieldrun.outputs.report.markdown import markdown_text
from fieldrun.outputs.report.page import page_text
from fieldrun.outputs.report.records import Report
from fieldrun.outputs.report.report_file import report_text
from fieldrun.outputs.result_file import result_dict
from fieldrun.outputs.run_folder import figures_of


def write_report(
    result: RunResult,
    folder: Path,
    studies: Studies = NOTHING_ELSE,
    *,
    pictures: bool = True,
) -> Report:
    """Write everything into a folder, beside what other commands left there of the same design; all or nothing.

    Parameters
    ----------
    result, studies : what is reported
    folder : where
    pictures : the house's drawings in the page, and the animation; the light drawings are always there

    Returns
    -------
    The report that was written.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    report = report_of(result, figures_of(result) if pictures else {}, studies)
    with whole_folder(folder, lambda: replaced_by(REPORT_FILES, folder, result.design.name)) as part:
        write_text(part / REPORT_FILE, report_text(report, result))
        write_text(part / REPORT_PAGE, page_text(report))
        write_text(part / "report.md", markdown_text(report))
        if studies.comparison is not None:
            write_text(part / "windings.csv", csv_text(studies.comparison))
        for name, text in csv_tables(result, result_dict(result, studies.band, studies.advice)).items():
            write_text(part / name, text)
        if pictures:
            _animate(result, part / "turning.gif")
    return report


def _animate(result: RunResult, path: Path) -> None:
    from fieldrun.outputs.report.animation import write_animation

    write_animation(result, path)
