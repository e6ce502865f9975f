"""What other programs may rely on: one function for each thing that the commands do, three lines from a design to it.

`import fieldrun` offers every name of `__all__`; all of it is loaded when one is first asked for.
"""

import os
import tempfile
from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path

from fieldrun.design.errors import DesignError, Fault, FieldrunError
from fieldrun.design.examples import table_path
from fieldrun.design.model import Design
from fieldrun.design.readings import read_readings, read_scan
from fieldrun.generator.machine import open_design, read_design, run
from fieldrun.generator.result import RunResult
from fieldrun.outputs.answer import answer_dict
from fieldrun.outputs.drawings.pdf_page import Paper
from fieldrun.outputs.fields.asked import asked_of
from fieldrun.outputs.fields.field_file import write_fields
from fieldrun.outputs.fields.field_set import field_set
from fieldrun.outputs.fields.grid import FieldGrid, grid_of
from fieldrun.outputs.fields.grid_file import write_grid_csv, write_grid_npz
from fieldrun.outputs.former_file import write_former as write_former_files
from fieldrun.outputs.report.report_folder import write_report as write_report_files
from fieldrun.outputs.run_folder import write_run as write_run_files
from fieldrun.studies.changes.study import Changes, changes
from fieldrun.studies.compare import WindingComparison, compare_windings
from fieldrun.studies.estimates_map.study import EstimatesMap, estimates_map
from fieldrun.studies.measured.study import Measured
from fieldrun.studies.measured.study import measured as hold_against
from fieldrun.studies.sweep.axes import Axis
from fieldrun.studies.sweep.checks import check_picks
from fieldrun.studies.sweep.picks import DEFAULT
from fieldrun.studies.sweep.plan import grid
from fieldrun.studies.sweep.record import Sweep
from fieldrun.studies.sweep.run import Request, run_sweep
from fieldrun.studies.sweep.values import Value, key_fault
from fieldrun.studies.verify import Comparison, verify
from fieldrun.winding.former import former_of

__all__ = [
    "Changes",
    "Comparison",
    "Design",
    "DesignError",
    "EstimatesMap",
    "FieldGrid",
    "FieldrunError",
    "Measured",
    "RunResult",
    "Sweep",
    "WindingComparison",
    "advice",
    "compare_windings",
    "estimates_map",
    "grid_of",
    "measured",
    "read_design",
    "run",
    "sweep",
    "verify",
    "write_field",
    "write_former",
    "write_grid_csv",
    "write_grid_npz",
    "write_report",
    "write_run",
]

File = str | os.PathLike[str]


def write_run(result: RunResult, folder: File, *, pictures: bool = True) -> None:
    """Write what `fieldrun run` leaves: result.json, summary, paths, field, pictures, page.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    write_run_files(result, Path(folder), pictures=pictures)


def write_report(result: RunResult, folder: File) -> None:
    """Write the machine on one page, the same as text, tables, and an animation; without comparison and advice.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    write_report_files(result, Path(folder))


def write_former(result: RunResult, folder: File) -> str:
    """Write the former's drawings at full size, winding steps and wire list.

    Returns
    -------
    What kept the STEP and STL files from being made; empty if they are there.

    Raises
    ------
    DesignError
        If the winding has no former: its notches touch, or it crosses the hub.
    FieldrunError
        If the folder cannot be written.
    """
    board = former_of(result.design, result.lay)
    return write_former_files(result, board, Path(folder), Paper(result.design.former.sheet, (1.0, 1.0)))[1]


def write_field(result: RunResult, folder: File, *, pictures: bool = True) -> None:
    """Write the field's tables, VTU files and pictures over the winding's own radii and height.

    Raises
    ------
    FieldrunError
        If the folder cannot be written.
    """
    write_fields(field_set(result, asked_of(None, None, None)), Path(folder), pictures=pictures)


def measured(result: RunResult, readings: File, scan: File | None = None) -> Measured:
    """Hold bench readings, and a scan of the field, against a result.

    Parameters
    ----------
    result : of the machine as drawn
    readings : CSV `speed_rpm,kind,value,temperature_c`
    scan : CSV `r_mm,theta_deg,z_mm,b_z_t`

    Raises
    ------
    DesignError
        With every fault of the files.
    """
    scanned = None if scan is None else read_scan(table_path(Path(scan)))
    return hold_against(result, read_readings(table_path(Path(readings))), scanned)


def advice(path: File, cut_in_m_s: float | None = None) -> Changes | None:
    """What single changes of a design file do to its charging and its year; None without a load that takes power.

    Parameters
    ----------
    path : design file
    cut_in_m_s : wind from which it shall charge [m/s]; None for half a metre per second earlier than it does

    Raises
    ------
    DesignError
        With every fault of the file.
    """
    return changes(run(read_design(Path(path))), partial(read_design, Path(path)), cut_in_m_s)


def sweep(
    path: File,
    vary: Mapping[str, Iterable[Value]],
    picks: Iterable[str] = DEFAULT,
    *,
    folder: File | None = None,
    jobs: int = 1,
) -> Sweep:
    """Answer every combination of values of a design's keys.

    Parameters
    ----------
    path : design file
    vary : values by key, as `{"rotor.gap_mm": (8, 9, 10), "rotor.backing": ("none", "mild steel")}`
    picks : keys of the result, such as `emf.rms_v_per_krpm`
    folder : of the journal: points that it holds are not solved again; None keeps nothing
    jobs : processes at most; above 1 only from under `if __name__ == "__main__":`, as the standard library asks

    Returns
    -------
    Rows in order, the last key fastest; `column(key)` has a key's numbers, masked where a point cannot be built

    Raises
    ------
    DesignError
        With every key that is unknown or has no list of values, every fault of the file, or because the journal is
        another sweep's.
    """
    listed = {key: _listed(values) for key, values in vary.items()}
    if isinstance(picks, str):
        raise DesignError([Fault("picks", f"must be a list of keys; received the text {picks!r}: write [{picks!r}]")])
    if faults := [Fault(key, text) for key, values in listed.items() if (text := _values_fault(key, values, vary))]:
        raise DesignError(faults)
    axes = tuple(Axis(key, values or ()) for key, values in listed.items())
    file = Path(path)
    request = Request(open_design(file), read_design(file), grid(axes), tuple(picks), answer_dict, {})
    check_picks(request)
    with tempfile.TemporaryDirectory() as scratch:
        kept = Path(scratch if folder is None else folder)
        kept.mkdir(parents=True, exist_ok=True)
        return run_sweep(request, kept / "sweep.jsonl", jobs=jobs)


def _listed(values: object) -> tuple[Value, ...] | None:
    """Values to vary over; None if they are a single one, whose letters are no values."""
    return None if isinstance(values, str) or not isinstance(values, Iterable) else tuple(map(_plain, values))


def _values_fault(key: str, values: tuple[Value, ...] | None, received: Mapping[str, object]) -> str | None:
    if unknown := key_fault(key):
        return unknown
    if values is None:
        return f"needs a list of values, such as [8, 9, 10]; received {received[key]!r}"
    return None if values else "needs values to vary over; received none"


def _plain(value: Value) -> Value:
    """A number of an array as Python's own: what is written into journals."""
    own = getattr(value, "item", None)
    return own() if own else value
