"""Steel that saturates, in the solid judge: its flux, the slope of it, and what they add to Newton's equations."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.magnetisation import flux_density
from fieldrun.design.model import SteelCurve
from fieldrun.design.units import MU0
from fieldrun.reference.solid_grid import SolidGrid
from fieldrun.reference.solid_shapes import WALKS, tet_gradients, tet_rule
from fieldrun.reference.solid_system import Matrix, assembled, element_nodes


@dataclass(frozen=True, eq=False)
class SteelPart:
    """The tetrahedra of one plate.

    Parameters
    ----------
    curve : its magnetisation
    cells : (3) first and one past the last ring, step of angle and layer of its cells
    nodes : (e, 10) of each tetrahedron
    gradients : (e, q, 3, 10) of the shape functions along r, theta and z [1/m]
    volumes : (e, q) share of each point [m^3]
    """

    curve: SteelCurve
    cells: tuple[slice, slice, slice]
    nodes: Ints
    gradients: Floats
    volumes: Floats


@dataclass(frozen=True, eq=False)
class SteelState:
    """Plate under a potential: field h = grad u, flux density and its slopes at each point, relative to mu0.

    Parameters
    ----------
    h_t : (e, q, 3) mu0 H [T], with the sign of grad u
    flux_t : (e, q) flux density [T]
    chord, slope : (e, q) B / (mu0 H) and dB / (mu0 dH) [1]
    """

    h_t: Floats
    flux_t: Floats
    chord: Floats
    slope: Floats


def steel_parts(grid: SolidGrid) -> tuple[SteelPart, ...]:
    """Every plate with a curve."""
    return tuple(_part(grid, curve, layers, rings) for curve, layers, rings in grid.steels)


def steel_state(part: SteelPart, potential: Floats) -> SteelState:
    """Flux and slopes of a plate under a potential (n,) [T m]."""
    h = (part.gradients @ potential[part.nodes][:, None, :, None])[..., 0]
    size = np.linalg.norm(h, axis=2)
    flux = flux_density(part.curve, size / MU0)
    slope = _slope(part.curve, size / MU0)
    chord = np.divide(flux, size, out=slope.copy(), where=size > 0)
    return SteelState(h, flux, chord, slope)


def steel_residual(part: SteelPart, state: SteelState, size: int) -> Floats:
    """INT B . grad v over the plate, B = chord h, for the shape function v of every node, (n,) [T m^2]."""
    weighted = (part.volumes * state.chord)[..., None] * state.h_t
    local = np.einsum("eqd,eqda->ea", weighted, part.gradients, optimize=True)
    return np.asarray(np.bincount(part.nodes.ravel(), local.ravel(), minlength=size), float)


def steel_tangent(part: SteelPart, state: SteelState, grid: SolidGrid) -> Matrix:
    """Derivative of the residual, (n, n) [m]: chord across the field, slope along it."""
    e, q = state.flux_t.shape
    size = np.linalg.norm(state.h_t, axis=2, keepdims=True)
    along = np.divide(state.h_t, size, out=np.zeros_like(state.h_t), where=size > 0)
    root = np.sqrt(part.volumes * state.chord)[..., None, None]
    across = (root * part.gradients).reshape(e, 3 * q, 10)
    forward = (along[:, :, None] @ part.gradients)[:, :, 0]
    bent = (part.volumes * (state.slope - state.chord))[..., None] * forward
    local = across.transpose(0, 2, 1) @ across + bent.transpose(0, 2, 1) @ forward
    return assembled(local, part.nodes, grid)


def mean_permeability(part: SteelPart, state: SteelState) -> Floats:
    """Slopes of the flux along r, theta and z, averaged over theta: (3, rings, layers) of the plate's cells [1].

    Diagonal of the tangent, chord + (slope - chord) h_i^2 / h^2.
    """
    size = np.maximum(np.sum(state.h_t**2, axis=2, keepdims=True), 1e-300)
    own = state.chord[..., None] + (state.slope - state.chord)[..., None] * state.h_t**2 / size
    rings, steps, layers = (place.stop - place.start for place in part.cells)
    return np.asarray(own.reshape(rings, steps, layers, -1, 3).mean(axis=(1, 3)).transpose(2, 0, 1))


def _part(grid: SolidGrid, curve: SteelCurve, layers: tuple[int, int], rings: tuple[int, int]) -> SteelPart:
    cells = slice(*rings), slice(0, grid.cells[1]), slice(*layers)
    points, weights = tet_rule()
    unit = np.stack([tet_gradients(points[t], walk) for t, walk in enumerate(WALKS)]).swapaxes(2, 3)
    first, length = _corners_and_edges(grid, cells)
    places = first[:, None, None] + length[:, None, None] * points
    metric = np.broadcast_to(length[:, None, None], places.shape).copy()
    metric[..., 1] *= places[..., 0]  # an angle's length is r dtheta
    gradients, volumes = unit / metric[..., None], weights * np.prod(metric, axis=-1)
    e, q = 6 * len(first), len(weights)
    nodes = element_nodes(grid)[cells].reshape(e, 10)
    return SteelPart(curve, cells, nodes, gradients.reshape(e, q, 3, 10), volumes.reshape(e, q))


def _corners_and_edges(grid: SolidGrid, cells: tuple[slice, slice, slice]) -> tuple[Floats, Floats]:
    """Lowest corner and edges (cells, 3) of cells, heights running fastest."""
    lines = grid.radii_m, grid.angles_rad, grid.heights_m
    low = [line[:-1][cell] for line, cell in zip(lines, cells, strict=True)]
    step = [np.diff(line)[cell] for line, cell in zip(lines, cells, strict=True)]
    corner, edge = (np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3) for axes in (low, step))
    return corner, edge


def _slope(curve: SteelCurve, strength: Floats) -> Floats:
    """DB / (mu0 dH): that of the straight line the point is on, 1 beyond the curve's end."""
    b, h = np.asarray(curve.b_t), np.asarray(curve.h_a_per_m)
    slopes = np.append(np.diff(b) / np.diff(h) / MU0, 1.0)
    return np.asarray(slopes[np.clip(np.searchsorted(h, strength, side="right") - 1, 0, len(h) - 1)])
