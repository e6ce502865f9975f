"""`fieldrun verify`: hold the answer against every other way to it."""

import sys
from pathlib import Path

import click

from fieldrun.cli.designs import design_and_folder, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import CHECK_FAILED, told_errors


@click.command()
@click.argument("design")
@leaves_a_folder
@click.option("-q", "--quiet", is_flag=True, help="Only the verdict.")
@click.option("-v", "--verbose", is_flag=True, help="EMF in V s/rad too; a traceback if something breaks.")
def verify(  # noqa: PLR0917 - click passes every option
    design: str, out: Path | None, as_json: bool, force: bool, pictures: bool, quiet: bool, verbose: bool
) -> None:
    """Hold the answer against every other way to it, from the hand calculation to three dimensions.

    DESIGN is a design file, or the name of a bundled example. Ends with code 3 if the default answer's EMF differs from
    the three-dimensional one by more than 2 %; the result is written all the same.
    """
    with told_errors(verbose):
        from fieldrun.outputs.progress import steps_told
        from fieldrun.outputs.verify_file import verify_text, write_verify
        from fieldrun.outputs.verify_table import show_verify
        from fieldrun.studies.verify import verify as hold_against
        from fieldrun.studies.ways import WAYS

        _, checked, folder = design_and_folder(design, out, force=force)
        with steps_told(len(WAYS), quiet=quiet) as tell:
            comparison = hold_against(checked, tell)
        write_verify(comparison, folder, pictures=pictures)
        tell_remarks(checked.notes)
        if as_json:
            click.echo(verify_text(comparison).encode(), nl=False)
        else:
            show_verify(comparison, detail=verbose - quiet)
        if not (as_json or quiet):
            click.echo(f"\nWritten to {folder}: verify.json" + (", verify.png, verify.svg" if pictures else ""))
        if not comparison.holds:
            sys.exit(CHECK_FAILED)
