"""The solid judge's field in space: every tetrahedron with what it is made of. For files only."""

from dataclasses import dataclass

import numpy as np
from threadpoolctl import ThreadpoolController

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.magnetisation import permeabilities
from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.units import MU0
from fieldrun.reference.solid_grid import SolidGrid, solid_grid, with_midpoints
from fieldrun.reference.solid_newton import solve_balance
from fieldrun.reference.solid_outline import Coverage, coverage
from fieldrun.reference.solid_shapes import TET_NODES, TRIANGLE_BELOW, WALKS, tet_gradients
from fieldrun.reference.solid_system import SolidSystem, element_nodes, linear_system

COVERED = 0.5
"""Share of a tetrahedron's foot inside the magnet from which it counts as magnet."""


@dataclass(frozen=True, eq=False)
class SolidView:
    """Half a pole, 0 <= theta <= pi / (2 p); with two faces, up to the middle of the gap.

    Parameters
    ----------
    places : (n, 3) r [m], theta [rad], z [m] of the nodes
    potential_a : (n,) phi [A]
    tets : (e, 10) nodes of each tetrahedron: corners (right-handed), then the middles of edges 01 02 03 12 13 23
    centres : (e, 3) r [m], theta [rad], z [m] of their middles
    flux_t : (e, 3) B_r, B_theta, B_z there [T]
    region : (e,) index into `regions`, -1 in air
    permeability : (e,) relative [1]; the mean by area where a magnet's outline cuts a cell
    regions : names
    """

    places: Floats
    potential_a: Floats
    tets: Ints
    centres: Floats
    flux_t: Floats
    region: Ints
    permeability: Floats
    regions: tuple[str, ...]

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("places", "potential_a", "centres", "flux_t", "permeability"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        for name in ("tets", "region"):
            object.__setattr__(self, name, frozen_array(getattr(self, name), np.int64))


def solid_view(magnets: Magnets, rotor: Rotor, height_m: float, fineness: float = 1.0) -> SolidView:
    """Solve a machine in three dimensions and keep the whole field.

    Parameters
    ----------
    magnets, rotor : alternating discs, blocks or arcs; `Plate.steel` None is an ideal plate without limits
    height_m : a plane of the mesh in the gap, between 0 and its middle if there are two faces [m]
    fineness : cells along every edge relative to the default

    Raises
    ------
    ValueError
        If the magnets are a Halbach array or have an outline of their own.
    SolveError
        If Newton finds no balance in deeply saturated steel.
    """
    if magnets.pattern != "alternating" or magnets.section_mesh:
        raise ValueError("the solid model knows plain discs, blocks and arcs along z in turn only")
    grid = solid_grid(magnets, rotor, [height_m], fineness)
    cover = coverage(magnets.outline, magnets.count, grid.radii_m, grid.angles_rad)
    system = linear_system(grid, magnets, cover)
    with ThreadpoolController().limit(limits=1, user_api="blas"):
        potential = solve_balance(system).potential
    return _view(system, cover, potential, magnets.remanence_t)


def _view(system: SolidSystem, cover: Coverage, potential: Floats, remanence_t: float) -> SolidView:
    grid = system.grid
    nodes = element_nodes(grid)
    centres, slope = _centres(grid), _slopes(grid, potential[nodes])
    region, permeability = np.full(slope.shape[:-1], -1), np.array(system.permeability)
    low, high = grid.magnet_layers
    share = cover.shares[:, :, TRIANGLE_BELOW]
    region[:, :, low:high][np.broadcast_to(share[:, :, None] >= COVERED, region[:, :, low:high].shape)] = 0
    remanence = np.zeros(region.shape)
    remanence[:, :, low:high] = remanence_t * share[:, :, None]
    names = ["magnet_up"]
    for curve, (bottom, top), (inner, outer) in grid.steels:
        cells = np.s_[inner:outer, :, bottom:top]
        permeability[cells] = permeabilities(curve, np.linalg.norm(slope[cells], axis=-1) / MU0)[0]
        region[cells] = len(names)
        names.append("backing" if bottom < low else "return plate")
    flux = -permeability[..., None] * slope
    flux[..., 2] += remanence
    return SolidView(
        places=_places(grid),
        potential_a=potential / MU0,
        tets=_right_handed(nodes).reshape(-1, 10),
        centres=centres.reshape(-1, 3),
        flux_t=flux.reshape(-1, 3),
        region=region.ravel(),
        permeability=permeability.ravel(),
        regions=tuple(names),
    )


def _places(grid: SolidGrid) -> Floats:
    lines = (with_midpoints(one) for one in (grid.radii_m, grid.angles_rad, grid.heights_m))
    return np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)


def _centres(grid: SolidGrid) -> Floats:
    """Middles of all tetrahedra, (cells over r, theta, z, 6, 3)."""
    share = TET_NODES[:, :4].mean(axis=1) / 2
    lines = (grid.radii_m, grid.angles_rad, grid.heights_m)
    first = np.stack(np.meshgrid(*(line[:-1] for line in lines), indexing="ij"), axis=-1)
    step = np.stack(np.meshgrid(*(np.diff(line) for line in lines), indexing="ij"), axis=-1)
    return np.asarray(first[..., None, :] + step[..., None, :] * share)


def _slopes(grid: SolidGrid, at_nodes: Floats) -> Floats:
    """Gradient along r, theta and z at the middles, (cells over r, theta, z, 6, 3)."""
    middle = TET_NODES[:, :4].mean(axis=1) / 2
    unit = np.stack([tet_gradients(middle[t : t + 1], walk)[0] for t, walk in enumerate(WALKS)])
    step = np.stack(
        np.meshgrid(*(np.diff(line) for line in (grid.radii_m, grid.angles_rad, grid.heights_m)), indexing="ij"),
        axis=-1,
    )
    slope = np.einsum("ijktn,tnd->ijktd", at_nodes, unit) / step[..., None, :]
    slope[..., 1] /= _centres(grid)[..., 0]
    return np.asarray(slope)


def _right_handed(nodes: Ints) -> Ints:
    """Swap two corners of the tetrahedra whose walk is an odd permutation, with the middles that go with them."""
    out = np.array(nodes)
    for t, walk in enumerate(WALKS):
        if round(np.linalg.det(np.eye(3)[list(walk)])) < 0:
            out[..., t, :] = nodes[..., t, :][..., [0, 2, 1, 3, 5, 4, 6, 7, 9, 8]]
    return out
