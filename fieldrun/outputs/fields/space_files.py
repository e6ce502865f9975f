"""The field in space as files: rings in their half-plane or swept over a pole pair, and the judge's tetrahedra."""

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.field.ring_view import RingView, cells_at, potential_at
from fieldrun.outputs.fields.vtu import points_of, upright, write_grid
from fieldrun.reference.solid_view import SolidView

SWEPT_STEPS = 64
"""Cells over one pole pair."""


VTK_ORDER = (0, 1, 2, 3, 4, 7, 5, 6, 8, 9)
"""VTK wants the middles of a tetrahedron's edges in the order 01 12 02 03 13 23."""


def write_rings(path: Path, view: RingView, about: Mapping[str, object]) -> None:
    """Write the half-plane through a north pole's centre: every element as four quads, r along x and z along z.

    At points `phi` and each harmonic's `phi_1`, `phi_3`... [A]; in cells `B` [T] (x, y, z), `B_magnitude`, `region`
    (index into `regions` of `about`, -1 in air) and `relative_permeability`.
    """
    r, z = view.radii_m, view.heights_m
    node = np.arange(len(r) * len(z)).reshape(len(r), len(z))
    quads = np.stack([node[:-1, :-1], node[1:, :-1], node[1:, 1:], node[:-1, 1:]], axis=-1).reshape(-1, 4)
    radius, height = (one.ravel() for one in np.meshgrid(r, z, indexing="ij"))
    points = np.column_stack([radius, np.zeros_like(radius), height])
    cells = cells_at(view, [0.0])
    flux = cells.flux_t[:, 0].reshape(3, -1).T
    pole_pairs = int(view.waves[0])
    phi = {f"phi_{wave // pole_pairs}": one.ravel() for wave, one in zip(view.waves, view.potential_a, strict=True)}
    at_points = {"phi": potential_at(view, [0.0])[0].ravel(), **phi}
    facts = {**about, "shows": "rings, half-plane through a north pole's centre", "regions": list(view.regions)}
    write_grid(path, points, ("quad", quads), (at_points, _in_cells(flux, cells.region, cells.permeability)), facts)


def write_swept_rings(path: Path, view: RingView, about: Mapping[str, object]) -> None:
    """Write one pole pair as hexahedra, an element and a step of angle each; arrays as in `write_rings`."""
    r, z = view.radii_m[::2], view.heights_m[::2]
    angles = np.linspace(0, 2 * math.pi / int(view.waves[0]), SWEPT_STEPS + 1)
    node = np.arange(len(angles) * len(r) * len(z)).reshape(len(angles), len(r), len(z))
    places = np.stack([one.ravel() for one in np.meshgrid(angles, r, z, indexing="ij")], axis=1)[:, [1, 0, 2]]
    middles = (angles[:-1] + angles[1:]) / 2
    cells = cells_at(view, middles, parts=1)
    flux = np.moveaxis(cells.flux_t, 0, -1).reshape(-1, 3)
    turned = np.zeros_like(flux)
    turned[:, 1] = np.repeat(middles, cells.region[0].size)
    at_points = {"phi": potential_at(view, angles)[:, ::2, ::2].ravel()}
    facts = {**about, "shows": "rings, swept over one pole pair", "regions": list(view.regions)}
    in_cells = _in_cells(upright(turned, flux), cells.region, cells.permeability)
    write_grid(path, points_of(places), ("hexahedron", _bricks(node)), (at_points, in_cells), facts)


def _bricks(node: Ints) -> Ints:
    """Corners of cells of (t, r, z) nodes: the floor counterclockwise seen from above, then the lid."""
    floor = [node[:-1, :-1], node[:-1, 1:], node[1:, 1:], node[1:, :-1]]
    corners = [one[..., :-1] for one in floor] + [one[..., 1:] for one in floor]
    return np.stack(corners, axis=-1).reshape(-1, 8)


def write_solid(path: Path, view: SolidView, about: Mapping[str, object]) -> None:
    """Write the judge's tetrahedra of second order: `phi` [A] at points, in cells the same arrays as in `write_rings`.

    Half a pole, and with two faces the lower half of the gap; the rest follows by symmetry.
    """
    at_points = {"phi": view.potential_a.copy()}
    in_cells = _in_cells(upright(view.centres, view.flux_t), view.region, view.permeability)
    shows = "tetrahedra of second order, half a pole (with two faces up to the middle of the gap)"
    facts = {**about, "shows": shows, "mesh": f"{len(view.tets)} tetrahedra, {len(view.places)} nodes"}
    facts["regions"] = list(view.regions)
    write_grid(path, points_of(view.places), ("tetra10", view.tets[:, VTK_ORDER]), (at_points, in_cells), facts)


def _in_cells(flux: Floats, region: Ints, permeability: Floats) -> dict[str, Floats | Ints]:
    return {
        "B": np.ascontiguousarray(flux),
        "B_magnitude": np.linalg.norm(flux, axis=1),
        "region": np.array(region.ravel()),
        "relative_permeability": np.array(permeability.ravel()),
    }
