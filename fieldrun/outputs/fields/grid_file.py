"""A grid of the field as a table and as arrays, with all that tells where it comes from."""

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from fieldrun.design.units import DEGREE, MM
from fieldrun.outputs.fields.grid import FieldGrid
from fieldrun.outputs.folder import comment_lines, write_text

COLUMNS = ("r_mm", "theta_deg", "z_mm", "b_r_t", "b_theta_t", "b_z_t")

FRAME = (
    "rotor at angle zero; theta counterclockwise seen from +z, 0 at a north pole's centre; z above the lower magnets' "
    "face; b_r outwards, b_theta with theta, b_z up"
)
"""What the columns mean, in every file."""

DIGITS = "%.12g"
"""Twelve figures: what is read back is `field_at` to 1e-9 T."""


def facts_of(grid: FieldGrid) -> dict[str, str]:
    """What stands in the head of a grid's files."""
    notes = {"note": "; ".join(grid.notes)} if grid.notes else {}
    return {**dict(grid.about), "frame": FRAME, **notes}


def write_grid_csv(grid: FieldGrid, path: Path | str) -> None:
    """Write a table `r_mm, theta_deg, z_mm, b_r_t, b_theta_t, b_z_t`; height runs fastest, then angle, then radius.

    Comment lines, each starting with `#`, stand on top: version, design, hash, mesh, error estimate, frame.
    """
    out = io.StringIO()
    out.writelines(comment_lines(facts_of(grid)))
    out.write(",".join(COLUMNS) + "\n")
    np.savetxt(out, _rows(grid), DIGITS, ",")
    write_text(Path(path), out.getvalue())


def _rows(grid: FieldGrid) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    axes = np.meshgrid(grid.radii_m / MM, grid.angles_rad / DEGREE, grid.heights_m / MM, indexing="ij")
    # adding zero turns -0 into 0
    return np.stack([*(axis.ravel() for axis in axes), *(one.ravel() for one in grid.b_t)], axis=1) + 0.0


def write_grid_npz(grid: FieldGrid, path: Path | str) -> None:
    """Write numpy arrays: the axes, b_r_t, b_theta_t and b_z_t over (r, theta, z), and harmonics over (n, r, z).

    `harmonic_b_z_t` and its like are complex b_n, B = Re sum b_n exp(j n p theta); `about` is JSON in one string.
    """
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, array in _arrays(grid):
            stored = io.BytesIO()
            np.lib.format.write_array(stored, np.asarray(array, order="C"), allow_pickle=False)
            # a member without a date of its own: the same grid gives the same bytes
            archive.writestr(zipfile.ZipInfo(f"{name}.npy"), stored.getvalue(), zipfile.ZIP_DEFLATED)


def _arrays(grid: FieldGrid) -> Iterator[tuple[str, np.ndarray[tuple[int, ...], np.dtype[np.generic]]]]:
    yield "r_mm", grid.radii_m / MM
    yield "theta_deg", grid.angles_rad / DEGREE
    yield "z_mm", grid.heights_m / MM
    names = ("b_r_t", "b_theta_t", "b_z_t")
    yield from zip(names, grid.b_t, strict=True)
    yield "pole_pairs", np.array(grid.pole_pairs)
    yield "orders", grid.orders
    yield from zip((f"harmonic_{name}" for name in names), grid.harmonics_t, strict=True)
    yield "about", np.array(json.dumps(facts_of(grid), sort_keys=True))
