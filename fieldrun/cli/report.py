"""`fieldrun report`: a machine on a page, as one would hand it to a customer."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.cli.designs import design_path, folder_for, leaves_a_folder
from fieldrun.cli.errors import told_errors

if TYPE_CHECKING:
    from fieldrun.generator.result import RunResult
    from fieldrun.studies.changes.study import Changes, Variant
    from fieldrun.studies.tolerance import ToleranceBand

LONG_S = 1.0
"""Trying changes is shown on a terminal from here on."""


@click.command()
@click.argument("design")
@leaves_a_folder
@click.option("--tolerance", is_flag=True, help="Tell what machines built to the [tolerance] of the design give.")
@click.option("-q", "--quiet", is_flag=True, help="No word about where it was written.")
@click.option("-v", "--verbose", is_flag=True, help="A traceback if something breaks.")
def report(  # noqa: PLR0917 - click passes every option
    design: str,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    tolerance: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Put a machine on one page: drawings to turn and to read off, tables, what it rests on.

    DESIGN is a design file, or the name of a bundled example. The page needs no net and prints on A4; beside it lie the
    same text as Markdown, its numbers as CSV, and a short animation of the turning rotor.
    """
    with told_errors(verbose):
        from functools import partial

        from fieldrun.generator.machine import read_design
        from fieldrun.generator.machine import run as answer
        from fieldrun.outputs.folder import REPORT_PAGE, check_replaceable
        from fieldrun.outputs.report.chapters import Studies
        from fieldrun.outputs.report.report_file import report_text
        from fieldrun.outputs.report.report_folder import write_report
        from fieldrun.studies.compare import compare_windings
        from fieldrun.studies.tolerance_checks import check_tolerance

        path = design_path(design)
        checked = read_design(path)
        folder = out or folder_for(path)
        check_replaceable(folder, checked.name, force=force)
        if tolerance:
            check_tolerance(checked, path)
        result = answer(checked)
        studies = Studies(
            comparison=compare_windings(checked),
            band=_band(result, quiet=quiet) if tolerance else None,
            advice=_advice(result, partial(read_design, path), quiet=quiet),
        )
        written = write_report(result, folder, studies, pictures=pictures)
        for remark in [f"warning: {w.text}" for w in result.warnings] + [f"note: {text}" for text in checked.notes]:
            click.echo(remark, err=True)
        if as_json:
            click.echo(report_text(written, result).encode(), nl=False)
        elif not quiet:
            click.echo(f"Open {folder / REPORT_PAGE} in a browser.")
            click.echo(f"Written to {folder}: " + ", ".join(sorted(f.name for f in folder.iterdir())))


def _band(result: "RunResult", *, quiet: bool) -> "ToleranceBand":
    from fieldrun.outputs.progress import steps_told
    from fieldrun.studies.tolerance import fields_needed, tolerance_band

    with steps_told(fields_needed(result.design), quiet=quiet) as tell:
        return tolerance_band(result, tell=tell)


def _advice(result: "RunResult", variant: "Variant", *, quiet: bool) -> "Changes | None":
    from fieldrun.outputs.changes_told import NAMES
    from fieldrun.outputs.progress import steps_told
    from fieldrun.studies.changes.study import changes, steps_needed

    with steps_told(steps_needed(result), quiet=quiet, after_s=LONG_S) as tell:
        return changes(result, variant, None, lambda name: tell(NAMES.get(name, name)))
