"""`fieldrun run`: answer a design."""

import math
from pathlib import Path

import click

from fieldrun.cli.beside import advice_on, band_of
from fieldrun.cli.designs import design_and_folder, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import told_errors


def _finite(wind_m_s: float | None) -> float | None:
    """Neither NaN nor infinite, which a range of floats lets pass."""
    if wind_m_s is not None and not math.isfinite(wind_m_s):
        raise click.BadParameter(f"must be a wind in m/s; received {wind_m_s}")
    return wind_m_s


@click.command()
@click.argument("design")
@leaves_a_folder
@click.option("--tolerance", is_flag=True, help="Tell what machines built to the [tolerance] of the design give.")
@click.option(
    "--advice/--no-advice",
    default=None,
    help="Tell what single changes do: rounds, wire, gap, steel, magnets, connection. Default: of designs with [wind].",
)
@click.option(
    "--cut-in",
    type=click.FloatRange(min=0, min_open=True),
    callback=lambda _context, _option, wind: _finite(wind),
    metavar="M_S",
    help="Wind from which a battery shall charge: tell the rounds that it takes.",
)
@click.option("-q", "--quiet", is_flag=True, help="Only the sentences.")
@click.option("-v", "--verbose", is_flag=True, help="Harmonics and other details too; a traceback if something breaks.")
def run(  # noqa: PLR0917 - click passes every option
    design: str,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    tolerance: bool,
    advice: bool | None,
    cut_in: float | None,
    quiet: bool,
    verbose: bool,
) -> None:
    """Answer a design: volts at your rpm, ohms, metres, grams, with pictures and a result file.

    DESIGN is a design file, or the name of a bundled example.
    """
    with told_errors(verbose):
        from functools import partial

        from fieldrun.field.banded import one_thread
        from fieldrun.generator.machine import read_design
        from fieldrun.generator.machine import run as answer
        from fieldrun.outputs.folder import earlier_result
        from fieldrun.outputs.result_file import result_dict, result_text
        from fieldrun.outputs.run_folder import write_run
        from fieldrun.outputs.screen import show_run
        from fieldrun.studies.tolerance_checks import check_tolerance

        path, checked, folder = design_and_folder(design, out, force=force)
        earlier = earlier_result(folder, checked.name)
        if tolerance:
            check_tolerance(checked, path)
        with one_thread():  # its many small sums would only wait for a second thread
            result = answer(checked)
        band = band_of(result, quiet=quiet) if tolerance else None
        wanted = advice if advice is not None else cut_in is not None or checked.turbine is not None
        tried = advice_on(result, partial(read_design, path), cut_in, quiet=quiet) if wanted else None
        write_run(result, folder, pictures=pictures, band=band, advice=tried)
        tell_remarks(checked.notes, (warning.text for warning in result.warnings))
        if as_json:
            # JSON is UTF-8, whatever the terminal speaks
            click.echo(result_text(result, band, tried).encode(), nl=False)
            return
        show_run(result, result_dict(result, band, tried), earlier, verbose - quiet, band, advice=tried)
        if not quiet:
            click.echo(f"\nWritten to {folder}: " + ", ".join(sorted(f.name for f in folder.iterdir())))
