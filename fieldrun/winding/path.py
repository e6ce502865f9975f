"""A winding of the user's own, from file to conductors: which kind of file, its copies, its phases."""

from pathlib import Path

import numpy as np

from fieldrun.design.csv_table import read_table
from fieldrun.design.errors import Fault
from fieldrun.design.model import Winding, Wire
from fieldrun.design.stack import sheet_heights_m
from fieldrun.winding.belts import PHASE_STEP
from fieldrun.winding.notch_list import COLUMNS as NOTCH_COLUMNS
from fieldrun.winding.notch_list import read_notches
from fieldrun.winding.path_file import PathFile, read_paths
from fieldrun.winding.pieces import ARC, Pieces

NOTCH_LIST_TEXT = (
    "missing; the file is a list of notches (step,end,notch) and needs inner_notches, outer_notches, inner_radius_mm "
    "and outer_radius_mm"
)

LEVEL = 1e-9
"""A piece that rises by less [m] lies in a sheet."""


def read_path(winding: Winding, pole_pairs: int, wire: Wire, folder: Path) -> tuple[Pieces | None, list[Fault]]:
    """Read the file of a path and lay its copies and phases.

    `rounds` copies stand `step_rad` apart, centred on the path as written; all of it is turned by `start_rad`. A file
    that names no phases is phase 1 and is turned for the others by 2 tau/3 (three phases) or tau/2 (two).

    Parameters
    ----------
    winding : shape "path"; a notch list if it counts notches
    pole_pairs : p
    wire : its diameter parts the two sheets of a notch list
    folder : where the file is looked for if its name is relative

    Returns
    -------
    The conductors, None if anything is wrong; and everything that is wrong, the file's faults with file and line.
    """
    faults = _key_faults(winding)
    if not winding.file:
        return None, [*faults, Fault("winding.file", 'missing; shape = "path" needs the name of a CSV file')]
    read, found = _read(winding, wire, folder / winding.file)
    if read is None or faults:
        return None, [*faults, *found]
    pieces = _repeated(read, winding, pole_pairs)
    passes = rounds_of(pieces, pole_pairs)
    if round(passes) % winding.parallel:
        text = f"{passes:.4g} rounds per phase cannot be shared equally by {winding.parallel} parallel groups"
        return None, [Fault("winding.parallel", text)]
    return pieces, []


def _key_faults(winding: Winding) -> list[Fault]:
    if winding.rounds is not None and winding.rounds > 1 and not winding.step_rad:
        return [Fault("winding.step_deg", f"missing; rounds = {winding.rounds} copies of the path must stand apart")]
    return []


def _read(winding: Winding, wire: Wire, file: Path) -> tuple[PathFile | None, list[Fault]]:
    if winding.inner_notches is None and winding.outer_notches is None:
        if read_table(file, NOTCH_COLUMNS)[0]:
            return None, [Fault("winding.inner_notches", NOTCH_LIST_TEXT)]
        return read_paths(file, winding.phases)
    low, high = sheet_heights_m(2, wire.overall_diameter_m, winding.former_in_gap_m, winding.height_m)
    pieces, faults = read_notches(file, winding, (low, high))
    return (None if pieces is None else PathFile(pieces, phased=False)), faults


def copies(winding: Winding) -> int:
    """Copies of the path side by side."""
    return winding.rounds or 1


def _repeated(read: PathFile, winding: Winding, pole_pairs: int) -> Pieces:
    count, phases = copies(winding), 1 if read.phased else winding.phases
    step = winding.step_rad or 0.0
    offsets = winding.start_rad + step * (np.arange(count) - (count - 1) / 2)
    turns = [(k, k * PHASE_STEP[winding.phases] / pole_pairs + offset) for k in range(phases) for offset in offsets]
    own, loops = read.pieces, int(read.pieces.loop.max()) + 1
    shifts = [np.array([0.0, angle, 0.0]) for _, angle in turns]
    return Pieces(
        np.tile(own.kind, len(turns)),
        np.concatenate([own.start + shift for shift in shifts]),
        np.concatenate([own.end + shift for shift in shifts]),
        np.concatenate([own.phase + k for k, _ in turns]),
        np.concatenate([own.loop + i * loops for i in range(len(turns))]),
    )


def rounds_of(pieces: Pieces, pole_pairs: int) -> float:
    """Rounds of the first phase: how often its conductors pass the middle of their ring outward, by pole pair."""
    inner, outer = ring_m(pieces)
    middle = (inner + outer) / 2
    out = (pieces.phase == 0) & (pieces.start[:, 0] < middle) & (pieces.end[:, 0] >= middle)
    return float(np.count_nonzero(out)) / pole_pairs


def ring_m(pieces: Pieces) -> tuple[float, float]:
    """Smallest and largest radius of the conductors' ends [m]."""
    radii = np.concatenate([pieces.start[:, 0], pieces.end[:, 0]])
    return float(radii.min()), float(radii.max())


def sheets_of(pieces: Pieces) -> tuple[float, ...]:
    """Heights of the level pieces that are no end arcs, lowest first; of all ends if there are none [m]."""
    level = (np.abs(pieces.end[:, 2] - pieces.start[:, 2]) < LEVEL) & (pieces.kind != ARC)
    chosen = pieces.start[level, 2] if np.any(level) else np.concatenate([pieces.start[:, 2], pieces.end[:, 2]])
    return tuple(float(z) for z in np.unique(np.round(chosen, 9)))
