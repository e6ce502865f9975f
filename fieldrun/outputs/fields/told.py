"""The field on the screen: how strong it is and where, what differs, and what to know about the files."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats
from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.fields.field_set import FieldSet
from fieldrun.outputs.fields.grid import FieldGrid
from fieldrun.outputs.sentences import plain


@dataclass(frozen=True)
class Peak:
    """Largest |B_z| of a grid with its sign [T], and where it stands [m, rad, m]."""

    b_z_t: float
    radius_m: float
    angle_rad: float
    height_m: float


def peak_of(grid: FieldGrid, b_z_t: Floats | None = None) -> Peak:
    """The largest of B_z, or of values (r, t, z) at a grid's points; the first of several."""
    values = grid.b_t[2] if b_z_t is None else b_z_t
    size = np.round(np.abs(values), 12)  # equal but for rounding: the first one counts
    r, t, z = (int(one) for one in np.unravel_index(int(np.argmax(size)), values.shape))
    return Peak(float(values[r, t, z]), float(grid.radii_m[r]), float(grid.angles_rad[t]), float(grid.heights_m[z]))


def difference_of(fields: FieldSet) -> Floats | None:
    """OTHER less DESIGN at the grid's points, (3, r, t, z) [T]; None without a second design."""
    return None if fields.other_grid is None else fields.other_grid.b_t - fields.grid.b_t


def sentences(fields: FieldSet) -> list[str]:
    """What the files show, in the builder's terms."""
    peak, points = peak_of(fields.grid), _counted(fields.grid.points)
    out = [
        f"The field along the shaft reaches {plain(abs(peak.b_z_t), 'T')} {_where(peak)}.",
        f"Its main wave there is {plain(_main_wave(fields, peak), 'T')}; the table holds {points}.",
    ]
    return [*out, *_difference(fields)]


def _counted(points: int) -> str:
    return f"{points} point{'' if points == 1 else 's'}"


def _main_wave(fields: FieldSet, peak: Peak) -> float:
    grid = fields.grid
    r, z = int(np.searchsorted(grid.radii_m, peak.radius_m)), int(np.searchsorted(grid.heights_m, peak.height_m))
    return float(np.abs(grid.harmonics_t[2, 0, r, z]))


def _difference(fields: FieldSet) -> Iterator[str]:
    difference = difference_of(fields)
    if difference is None or fields.other is None:
        return
    peak, name = peak_of(fields.grid, difference[2]), fields.other.design.name
    whole = float(np.sqrt(np.mean(fields.grid.b_t[2] ** 2)))
    rms = float(np.sqrt(np.mean(difference[2] ** 2)))
    share = "" if whole == 0 else f", {plain(100 * rms / whole)} % on the average (effective values)"
    yield (
        f"{name} differs from {fields.result.design.name} by at most {plain(abs(peak.b_z_t), 'T')} along the shaft, "
        f"{_where(peak)}{share}."
    )


def _where(peak: Peak) -> str:
    return (
        f"at radius {plain(peak.radius_m / MM, 'mm')}, {plain(peak.angle_rad / DEGREE)} degrees from a north pole's "
        f"centre, {plain(peak.height_m / MM, 'mm')} above the lower magnets"
    )


def notes(fields: FieldSet) -> list[str]:
    """What to know about the files."""
    out = list(fields.grid.notes)
    if fields.largest_t > fields.gap_top_t * (1 + 1e-9):
        ends = f"{plain(fields.gap_top_t, 'T')}, where the field reaches {plain(fields.largest_t, 'T')}"
        out.append(f"the scale ends at {ends}: darkest colours stand for all that lies beyond, and curves are cut off")
    if fields.result.field.is_corrected:
        out.append("field-rings and field-radial show plain magnets; the outline drawn is laid over them in the others")
    return out
