"""`fieldrun compare`: which shape to wind, on equal terms; or several designs side by side."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.cli.designs import design_path, folder_for, leaves_a_folder
from fieldrun.cli.errors import told_errors

if TYPE_CHECKING:
    from collections.abc import Callable

    from fieldrun.design.model import Design
    from fieldrun.studies.compare import WindingComparison

SEVERAL = Path("compare")
"""Default folder for several designs."""


@click.command()
@click.argument("designs", metavar="DESIGN...", nargs=-1, required=True)
@click.option(
    "--path",
    "files",
    multiple=True,
    type=click.Path(path_type=Path, readable=False),
    help="A path file to compare too.",
)
@click.option("--best", is_flag=True, help="Look for each shape's own best radii and angles (half a minute).")
@leaves_a_folder
@click.option("-q", "--quiet", is_flag=True, help="Only the sentence that says what gives most.")
@click.option("-v", "--verbose", is_flag=True, help="Rounds too; a traceback if something breaks.")
def compare(  # noqa: PLR0917 - click passes every option
    designs: tuple[str, ...],
    files: tuple[Path, ...],
    best: bool,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Set every shape side by side in the space of one design, or several designs as they stand.

    DESIGN is a design file, or the name of a bundled example. One of them: all shapes, belts and numbers of phases in
    the same ring, of the same wire and thickness, in the same field. Both figures are told: what the space gives, and
    what equal copper gives.
    """
    with told_errors(verbose):
        from fieldrun.generator.machine import read_design
        from fieldrun.outputs.compare_file import compare_text, write_compare
        from fieldrun.outputs.compare_table import show_compare
        from fieldrun.outputs.folder import check_replaceable
        from fieldrun.outputs.progress import steps_told
        from fieldrun.studies.compare import compare_designs, compare_windings, steps

        _check_usage(designs, files, best=best)
        read = _all_read(designs, read_design)
        checked = tuple(design for _, design in read)
        folder = out or (folder_for(read[0][0]) if len(read) == 1 else SEVERAL)
        check_replaceable(folder, ", ".join(design.name for design in checked), force=force)
        count = steps(best=best) if len(checked) == 1 else len(checked)
        with steps_told(count, quiet=quiet, after_s=2.0) as tell:
            if len(checked) == 1:
                comparison = compare_windings(checked[0], files, best=best, tell=tell)
            else:
                comparison = compare_designs(checked, tell)
        write_compare(comparison, folder, pictures=pictures)
        _tell_remarks(comparison)
        if as_json:
            click.echo(compare_text(comparison).encode(), nl=False)
            return
        show_compare(comparison, verbose - quiet)
        if not quiet:
            click.echo(f"\nWritten to {folder}: compare.json, compare.csv" + _drawn(comparison, pictures=pictures))


def _check_usage(designs: tuple[str, ...], files: tuple[Path, ...], *, best: bool) -> None:
    from fieldrun.design.errors import DesignError, Fault

    wrong = [key for key, given in (("--path", files), ("--best", best)) if given and len(designs) > 1]
    if wrong:
        text = f"goes with one design, whose space all share; received {len(designs)}"
        raise DesignError([Fault(key, text) for key in wrong])


def _all_read(designs: tuple[str, ...], read: "Callable[[Path], Design]") -> "list[tuple[Path, Design]]":
    """Every design with its path, or the faults of all of them at once."""
    from fieldrun.design.errors import DesignError, Fault

    out: list[tuple[Path, Design]] = []
    faults: list[Fault] = []
    for design in designs:
        try:
            path = design_path(design)
            out.append((path, read(path)))
        except DesignError as error:
            faults += error.faults
    if faults:
        raise DesignError(faults)
    return out


def _tell_remarks(comparison: "WindingComparison") -> None:
    for design in comparison.designs:
        for text in design.notes:
            click.echo(f"note: {design.name + ': ' if len(comparison.designs) > 1 else ''}{text}", err=True)
    for text in comparison.remarks:
        click.echo(f"warning: {text}", err=True)


def _drawn(comparison: "WindingComparison", *, pictures: bool) -> str:
    return ", compare.png, compare.svg" if pictures and comparison.wound else ""
