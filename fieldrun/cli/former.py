"""`fieldrun former`: the board to wind on, full size, with winding steps, wire list and casting."""

import math
from pathlib import Path

import click

from fieldrun.cli.designs import design_and_folder, tell_remarks
from fieldrun.cli.errors import told_errors

BAR_MM, MOST_OFF = 100.0, 0.05
"""Length of the bars, and how far a print may be off before something else is wrong than a printer."""


@click.command()
@click.argument("design")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Folder for the files (default: named after DESIGN)."
)
@click.option("--bar", metavar="MM_X,MM_Y", help="What the 100 mm bars of a print without --bar measure.")
@click.option("--json", "as_json", is_flag=True, help="Print the record as one JSON object, nothing else.")
@click.option("--force", is_flag=True, help="Write into a folder of other results or files; the files stay.")
@click.option("-q", "--quiet", is_flag=True, help="Only the first sentence.")
@click.option("-v", "--verbose", is_flag=True, help="Cautions too; a traceback if something breaks.")
def former(  # noqa: PLR0917 - click passes every option
    design: str, out: Path | None, bar: str | None, as_json: bool, force: bool, quiet: bool, verbose: bool
) -> None:
    """Draw the former full size (PDF, SVG, DXF, STEP, STL), with winding steps, wire list and casting pages.

    DESIGN is a design file, or the name of a bundled example. Without gmsh the solid files are left out and the command
    ends with code 4; everything else is written.
    """
    with told_errors(verbose):
        from fieldrun.design.errors import MissingError
        from fieldrun.design.read import told_by_line
        from fieldrun.generator.machine import run as answer
        from fieldrun.outputs.drawings.pdf_page import Paper
        from fieldrun.outputs.former_file import former_text, write_former
        from fieldrun.outputs.former_told import former_cautions, former_sentences, title_of
        from fieldrun.outputs.screen import print_parts, told
        from fieldrun.winding.former import former_of
        from fieldrun.winding.lay import lay

        scale = _scale(bar)
        path, checked, folder = design_and_folder(design, out, force=force)
        with told_by_line(path):
            board = former_of(checked, lay(checked.winding, checked.magnets.pole_pairs, checked.wire))
        result = answer(checked)
        printed, missing = write_former(result, board, folder, Paper(checked.former.sheet, scale))
        tell_remarks(checked.notes)
        if as_json:
            click.echo(former_text(result, board, printed).encode(), nl=False)
        else:
            sentences = former_sentences(result, board, printed)
            shown = sentences[:1] if quiet else [*sentences, *(former_cautions(result) if verbose else [])]
            print_parts([told(title_of(result)), *map(told, shown)])
        if not (as_json or quiet):
            click.echo(f"\nWritten to {folder}: former.pdf and what belongs to it")
        if missing:
            raise MissingError(f"former.step and former.stl are left out, everything else is written: {missing}")


def _scale(bar: str | None) -> tuple[float, float]:
    """By how much to stretch a print, across and up, from what its 100 mm bars measured."""
    from fieldrun.design.errors import DesignError, Fault

    if bar is None:
        return 1.0, 1.0
    try:
        across, up = (float(part) for part in bar.split(","))
    except ValueError:
        raise DesignError([Fault("--bar", f'must be two lengths in mm such as 99.5,100.2; received "{bar}"')]) from None
    low, high = BAR_MM * (1 - MOST_OFF), BAR_MM * (1 + MOST_OFF)
    if not all(math.isfinite(length) and low <= length <= high for length in (across, up)):
        text = f"both bars must measure {low:g} to {high:g} mm; received {bar}: print at 100 %, not fitted to the page"
        raise DesignError([Fault("--bar", text)])
    return BAR_MM / across, BAR_MM / up
