"""`fieldrun field`: the field as tables, grids of cells and pictures."""

import math
from pathlib import Path

import click

from fieldrun.cli.designs import design_and_folder, design_path, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import told_errors


@click.command()
@click.argument("design")
@click.argument("other", required=False)
@click.option("--radii", metavar="MM", help="Radii of the table: START:STOP:COUNT or a,b,c (default: the winding's).")
@click.option("--angles", metavar="DEG", help="Its angles from a north pole's centre (default: one pole pair).")
@click.option("--heights", metavar="MM", help="Its heights above the lower magnets (default: copper mid-height).")
@click.option(
    "--range", "range_t", type=float, metavar="T", help="End of the scale of map and cuts (default: largest)."
)
@click.option(
    "--section-range", "section_t", type=float, metavar="T", help="End of the scale of section and radial cut."
)
@click.option("--swept", is_flag=True, help="Write the rings as hexahedra over one pole pair too.")
@click.option("--solid", is_flag=True, help="Solve and write tetrahedra in three dimensions too (seconds).")
@leaves_a_folder
@click.option("-q", "--quiet", is_flag=True, help="Only the sentences.")
@click.option("-v", "--verbose", is_flag=True, help="A traceback if something breaks.")
def field(  # noqa: PLR0917 - click passes every option
    design: str,
    other: str | None,
    radii: str | None,
    angles: str | None,
    heights: str | None,
    range_t: float | None,
    section_t: float | None,
    swept: bool,
    solid: bool,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Write the field for reports and other programs: CSV, NPZ, VTU, maps, cuts and harmonics as SVG, PNG and PDF.

    DESIGN is a design file, or the name of a bundled example. With OTHER, a second design of as many poles, what it
    changes is written and drawn too: OTHER less DESIGN.
    """
    with told_errors(verbose):
        from fieldrun.generator.machine import read_design
        from fieldrun.generator.machine import run as answer
        from fieldrun.outputs.fields.asked import asked_of
        from fieldrun.outputs.fields.field_file import field_text, write_fields
        from fieldrun.outputs.fields.field_set import check_pair, field_set
        from fieldrun.outputs.fields.tables import check_solid
        from fieldrun.outputs.fields.told import notes, sentences
        from fieldrun.outputs.progress import steps_told
        from fieldrun.outputs.screen import print_parts, told

        asked = asked_of(radii, angles, heights)
        _check_ranges(range_t, section_t)
        _, checked, folder = design_and_folder(design, out, force=force)
        second = None if other is None else read_design(design_path(other))
        if second is not None:
            check_pair(checked, second)
        if solid:
            check_solid(checked)
        with steps_told(2 + (second is not None), quiet=quiet, after_s=2.0) as tell:
            tell(f"answering {checked.name}")
            result = answer(checked)
            if second is not None:
                tell(f"answering {second.name}")
            fields = field_set(result, asked, None if second is None else answer(second), range_t, section_t)
            tell("writing")
            content = write_fields(fields, folder, pictures=pictures, swept=swept, solid=solid)
        tell_remarks((*checked.notes, *notes(fields)))
        if as_json:
            click.echo(field_text(content).encode(), nl=False)
            return
        print_parts([told(checked.title), *map(told, sentences(fields))])
        if not quiet:
            click.echo(f"\nWritten to {folder}: " + ", ".join(content["files"]))


def _check_ranges(range_t: float | None, section_t: float | None) -> None:
    from fieldrun.design.errors import DesignError, Fault

    given = (("--range", range_t), ("--section-range", section_t))
    wrong = [(key, value) for key, value in given if value is not None and not 0 < value < math.inf]
    if wrong:
        raise DesignError([Fault(key, f"must be above 0 T and finite; received {value:g}") for key, value in wrong])
