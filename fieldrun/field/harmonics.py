"""Odd harmonics from the potential on a mesh line, and the open side that follows from them.

On a line, A(x) = Re sum over odd n of a_n exp(j k_n x), k_n = n pi / tau, and B_z = dA/dx has the amplitudes j k_n a_n.
Integrals of A converge far faster than gradients probed at points.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import skfem

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.units import MU0
from fieldrun.field.assembly import Block
from fieldrun.field.section import Section

LINE_GAUSS_POINTS = 16
"""Points per facet: fewer lose the higher harmonics."""

DIGITS = 14
"""Places are told apart to so many digits of a pole pitch: lines alike but for rounding share their weights."""

KEPT = 64
"""How many lines' weights are remembered."""


@dataclass(frozen=True, eq=False)
class Line:
    """Facets along one level line of a topology, ordered along x.

    Parameters
    ----------
    points : (f, 2) points at each facet's first and second end
    dofs : (f, 3) degrees of freedom at first end, middle and second end
    side : (m,) distinct degrees of freedom
    place : (3 f,) which of them stands where in `dofs`
    """

    points: Ints
    dofs: Ints
    side: Ints
    place: Ints


def mesh_line(basis: skfem.CellBasis, facets: Ints) -> Line:
    """Order facets (f,) of a level line along x, with their degrees of freedom."""
    vertices = basis.mesh.facets[:, facets]
    x = basis.mesh.p[0, vertices]
    vertices = np.where(x[0] > x[1], vertices[::-1], vertices)
    order = np.argsort(basis.mesh.p[0, vertices[0]])
    vertices, facets = vertices[:, order], facets[order]
    nodal, middle = basis.dofs.nodal_dofs[0], basis.dofs.facet_dofs[0]
    dofs = np.stack([nodal[vertices[0]], middle[facets], nodal[vertices[1]]], axis=1)
    side, place = np.unique(dofs, return_inverse=True)
    return Line(vertices.T, dofs, side, np.asarray(place.ravel(), np.int64))


def facets_at_height(mesh: skfem.Mesh, height_m: float) -> Ints:
    """Facets (f,) whose two ends lie at one height."""
    span = np.ptp(mesh.p[1])
    level = np.abs(mesh.p[1] - height_m) < 1e-9 * span
    return np.flatnonzero(level[mesh.facets].all(axis=0))


def wave_numbers(section: Section, orders: Ints) -> Floats:
    """k_n = n pi / tau of orders (n,), tau the pole pitch, (n,) [1/m]."""
    return np.asarray(np.pi * orders / section.pole_pitch_m)


def harmonic_weights(section: Section, ends_m: Floats, orders: Ints) -> Complexes:
    """Weights c with a_n = sum of c_n A over a line's degrees of freedom.

    Half pole (A odd about x = 0, even about the pole's edge): a_n = -j (4 / tau) INT A sin(k_n x) dx; full pole:
    a_n = (2 / tau) INT A exp(-j k_n x) dx over one pole pitch.

    Parameters
    ----------
    section : whose pole pitch and width count
    ends_m : (f, 2) x of each facet's ends [m]
    orders : (n,) odd orders

    Returns
    -------
    (n, f, 3) complex weights [1], to be applied to A at the line's degrees of freedom by `weighted`
    """
    return unit_weights(section.width, in_pitches(section, ends_m), np.asarray(orders, np.int64).tobytes())


def in_pitches(section: Section, ends_m: Floats) -> bytes:
    """Ends of facets (f, 2) [m] in pole pitches, as a key: lines alike but for rounding have the same."""
    return (ends_m / section.pole_pitch_m).round(DIGITS).tobytes()


@lru_cache(maxsize=KEPT)
def unit_weights(width: Literal["half pole", "full pole"], ends: bytes, orders: bytes) -> Complexes:
    """`harmonic_weights` by facets' ends in pole pitches, (n, f, 3) [1]: what differs in other lengths shares them.

    Gauss' rule on every facet: what A(x) goes with (`harmonic_kernel`) times the second-order shape functions.

    Parameters
    ----------
    width : of the section
    ends : of the facets, as `in_pitches` has them
    orders : (n,) 64-bit integers, as bytes
    """
    unit = Section(1.0, width, 0.0, 1.0, "open", "open", (), None)
    points, weights = np.polynomial.legendre.leggauss(LINE_GAUSS_POINTS)
    s = (points + 1) / 2
    shapes = np.stack([(1 - s) * (1 - 2 * s), 4 * s * (1 - s), s * (2 * s - 1)])
    left, right = np.frombuffer(ends).reshape(-1, 2).T
    kernel = harmonic_kernel(unit, left[:, None] + (right - left)[:, None] * s, np.frombuffer(orders, np.int64))
    integral = np.matmul(kernel, (shapes * weights / 2).T)
    return frozen_array(integral * (right - left)[:, None], complex)


def harmonic_kernel(section: Section, x_m: Floats, orders: Ints) -> Complexes:
    """What A(x) is to be multiplied by and integrated with to give a_n: (n, ...) for x (...) [1/m]."""
    phase = np.multiply.outer(wave_numbers(section, orders), x_m)
    tau = section.pole_pitch_m
    return np.asarray(
        -1j * (4 / tau) * np.sin(phase) if section.width == "half pole" else 2 / tau * np.exp(-1j * phase)
    )


def weighted(weights: Complexes, values: Floats) -> Complexes:
    """Sums (n,) of weights (n, f, 3) times values (f, 3), in the values' unit."""
    return np.asarray(weights.reshape(len(weights), -1) @ values.ravel())


def open_side_block(section: Section, line: Line, points_m: Floats) -> Block:
    """Air without end beyond a level side: dA/dn = -k_n A_n for each harmonic, as one dense block.

    No more harmonics than facets are taken: the trace cannot tell higher ones apart and would turn them into noise.

    Parameters
    ----------
    section : whose pole pitch and width count
    line : the side
    points_m : (2, v) points of the mesh [m]
    """
    ends = in_pitches(section, points_m[0, line.points])
    return Block(line.side, _open_matrix(section.width, ends, line.place.tobytes()))


@lru_cache(maxsize=KEPT)
def _open_matrix(width: Literal["half pole", "full pole"], ends: bytes, place: bytes) -> Floats:
    """The matrix does not depend on the pole pitch: k_n times the width of the box is a number."""
    orders = 2 * np.arange(len(place) // 24) + 1
    columns = summed_weights(unit_weights(width, ends, orders.tobytes()), np.frombuffer(place, np.int64))
    scale = np.pi * orders * (0.5 if width == "half pole" else 1.0) / (2 * MU0)
    return frozen_array(np.einsum("n,ni,nj->ij", scale, columns.conj(), columns).real)


def summed_weights(weights: Complexes, place: Ints) -> Complexes:
    """Weights (n, f, 3) summed over facets that share a degree of freedom, (n, m); `place` (3 f,) numbers these."""
    to_side = (place.ravel()[:, None] == np.arange(place.max() + 1)).astype(float)
    return np.asarray(weights.reshape(len(weights), -1) @ to_side)
