"""`fieldrun report`: a machine on a page, as one would hand it to a customer."""

from pathlib import Path

import click

from fieldrun.cli.beside import advice_on, band_of
from fieldrun.cli.designs import design_and_folder, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import told_errors


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
        from fieldrun.outputs.file_names import REPORT_PAGE
        from fieldrun.outputs.report.chapters import Studies
        from fieldrun.outputs.report.report_file import report_text
        from fieldrun.outputs.report.report_folder import write_report
        from fieldrun.studies.compare import compare_windings
        from fieldrun.studies.tolerance_checks import check_tolerance

        path, checked, folder = design_and_folder(design, out, force=force)
        if tolerance:
            check_tolerance(checked, path)
        result = answer(checked)
        studies = Studies(
            comparison=compare_windings(checked),
            band=band_of(result, quiet=quiet) if tolerance else None,
            advice=advice_on(result, partial(read_design, path), quiet=quiet),
        )
        written = write_report(result, folder, studies, pictures=pictures)
        tell_remarks(checked.notes, (warning.text for warning in result.warnings))
        if as_json:
            click.echo(report_text(written, result).encode(), nl=False)
        elif not quiet:
            click.echo(f"Open {folder / REPORT_PAGE} in a browser.")
            click.echo(f"Written to {folder}: " + ", ".join(sorted(f.name for f in folder.iterdir())))
