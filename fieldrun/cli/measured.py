"""`fieldrun measured`: hold what was measured at the bench against the prediction."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldrun.cli.designs import design_and_folder, leaves_a_folder, tell_remarks
from fieldrun.cli.errors import CHECK_FAILED, told_errors

if TYPE_CHECKING:
    from fieldrun.design.readings import FieldScan, Readings

SCAN = click.option(
    "--scan",
    type=click.Path(path_type=Path, readable=False),
    help="Field in the gap as CSV: r_mm,theta_deg,z_mm,b_z_t.",
)


@click.command()
@click.argument("design")
@click.argument("readings", type=click.Path(path_type=Path, readable=False))
@SCAN
@leaves_a_folder
@click.option("-q", "--quiet", is_flag=True, help="Only the verdict.")
@click.option(
    "-v", "--verbose", is_flag=True, help="Every explanation that was tried; a traceback if something breaks."
)
def measured(  # noqa: PLR0917 - click passes every option
    design: str,
    readings: Path,
    scan: Path | None,
    out: Path | None,
    as_json: bool,
    force: bool,
    pictures: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Hold what you measured at the bench against the prediction, and find out what may have gone wrong.

    DESIGN is a design file, or the name of a bundled example. READINGS is a CSV with columns kind, value, and speed_rpm
    or frequency_hz (temperature_c if you like). Kinds: open_phase_rms_v, open_phase_average_v, open_line_rms_v,
    open_peak_v, open_dc_v, one_round_rms_v, phase_ohm, loaded_dc_v, loaded_dc_a. To see it at work: `fieldrun measured
    hut-charger hut-charger-readings.csv`, a bundled file.

    Ends with code 3 if a reading is out by more than 10 % and nothing that was tried explains all of them.
    """
    with told_errors(verbose):
        from fieldrun.generator.machine import run
        from fieldrun.outputs.measured_file import measured_text, write_measured
        from fieldrun.outputs.measured_told import show_measured
        from fieldrun.outputs.progress import steps_told
        from fieldrun.studies.measured.study import STEPS
        from fieldrun.studies.measured.study import measured as hold_against

        _, checked, folder = design_and_folder(design, out, force=force)
        read, scanned = _tables(readings, scan)
        with steps_told(STEPS, quiet=quiet) as tell:
            found = hold_against(run(checked), read, scanned, tell)
        write_measured(found, folder, pictures=pictures)
        tell_remarks(checked.notes)
        if as_json:
            click.echo(measured_text(found).encode(), nl=False)
        else:
            show_measured(found, verbose - quiet)
        if not (as_json or quiet):
            drawn = ", measured.png, measured.svg" if pictures else ""
            more = ", scan.png, scan.svg" if pictures and scan is not None else ""
            click.echo(f"\nWritten to {folder}: measured.json{drawn}{more}")
        if found.contradicts:
            sys.exit(CHECK_FAILED)


def _tables(readings: Path, scan: Path | None) -> "tuple[Readings, FieldScan | None]":
    """Both tables, or the faults of both."""
    from fieldrun.design.errors import DesignError, Fault
    from fieldrun.design.examples import table_path
    from fieldrun.design.readings import read_readings, read_scan

    faults: list[Fault] = []
    read, scanned = None, None
    try:
        read = read_readings(table_path(readings))
    except DesignError as error:
        faults += error.faults
    try:
        scanned = None if scan is None else read_scan(table_path(scan))
    except DesignError as error:
        faults += error.faults
    if read is None or faults:
        raise DesignError(faults)
    return read, scanned
