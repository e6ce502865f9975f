"""`fieldrun estimates`: which quick estimate holds where, against finite elements."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.cli.designs import design_and_folder, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import told_errors

if TYPE_CHECKING:
    from fieldrun.studies.estimates_map.grid import Steel


@click.command()
@click.argument("design")
@leaves_a_folder
@click.option(
    "--steel",
    type=click.Choice(["ideal", "own"]),
    default="ideal",
    show_default=True,
    help="Steel made perfect, so that ratios tell all, or plates as yours, saturating (slower).",
)
@click.option("-q", "--quiet", is_flag=True, help="Only the verdict.")
@click.option(
    "-v", "--verbose", is_flag=True, help="What each estimate leaves out too; a traceback if something breaks."
)
def estimates(  # noqa: PLR0917 - click passes every option
    design: str,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    steel: "Steel",
    quiet: bool,
    verbose: bool,
) -> None:
    """Test quick estimates against finite elements.

    DESIGN is a design file, or the name of a bundled example. It gives poles, magnet shape, faces and steel; gap,
    thickness and width of the magnets vary over the pole pitch. An estimate of your own joins from Python:
    `estimates_map(design, own={"mine": function})`; no code is run from files.
    """
    with told_errors(verbose):
        from fieldrun.outputs.estimates_file import estimates_text, write_estimates
        from fieldrun.outputs.estimates_told import show_estimates
        from fieldrun.outputs.file_names import ESTIMATES_FILES
        from fieldrun.outputs.progress import points_told
        from fieldrun.studies.estimates_map.study import estimates_map

        _, checked, folder = design_and_folder(design, out, force=force)
        with points_told(quiet=quiet, after_s=0.0) as tell:
            found = estimates_map(checked, steel=steel, tell=tell)
        write_estimates(found, folder, pictures=pictures)
        tell_remarks(checked.notes)
        if as_json:
            click.echo(estimates_text(found).encode(), nl=False)
        else:
            show_estimates(found, detail=verbose - quiet)
        if not (as_json or quiet):
            written = sorted(name for name in ESTIMATES_FILES if pictures or not name.endswith((".svg", ".png")))
            click.echo(f"\nWritten to {folder}: {', '.join(written)}")
