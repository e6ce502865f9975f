"""Rings of current near steel discs with hole, rim and thickness: poles hardly feel them, turns round the shaft do.

On a body of infinite permeability magnetic charge gathers until its potential is even all over, and no body gains any
as a whole. The charges are rings too, so that a disc is the outline of its section, cut into panels.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe, ellipk

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.field.banded import one_thread
from fieldrun.generator.mirrors import Disc
from fieldrun.generator.shaft_rings import Rings

FACE_PANELS, EDGE_PANELS = 32, 8
"""Panels along a disc's face and along its rim, finer towards the corners."""

LEAST_HOLE = 1e-3
"""A disc without a hole gets one, this share of its rim: rings of charge have no place on the axis."""

BETWEEN = 3
"""Gauss points from panel to panel, for the rings' potential."""


@dataclass(frozen=True, eq=False)
class Panels:
    """Outline of a disc's section, cut into panels, once round from the inner edge of its face.

    Parameters
    ----------
    radius, height : (q,) middles [m]
    width : (q,) [m]
    """

    radius: Floats
    height: Floats
    width: Floats

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radius", "height", "width"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def disc_rings_sums(rings: list[Rings], discs: tuple[Disc, ...]) -> Floats:
    """What discs of infinite permeability add to Neumann's integral of rings with rings, (k, k) [m].

    With phi the rings' own potential at the panels and K the mean of 1/R from ring of charge to ring of charge, they
    add (4 pi)^2 phi' K^-1 phi, phi less its mean over each disc in the sense of K^-1.

    Parameters
    ----------
    rings : of k phases, outside the discs
    discs : one or more
    """
    if not any(len(phase.radius) for phase in rings):
        return np.zeros((len(rings), len(rings)))
    panels = [_panels(disc) for disc in discs]
    even = np.kron(np.eye(len(panels)), np.ones((len(panels[0].radius), 1)))
    potential = np.array([np.concatenate([_potential(phase, outline) for outline in panels]) for phase in rings]).T
    with one_thread():
        solved = np.linalg.solve(_ring_to_ring(panels), np.hstack([potential, even]))
        charge, pull = np.hsplit(solved, [len(rings)])
        charge = charge - pull @ np.linalg.solve(even.T @ pull, even.T @ charge)
    return np.asarray((4 * np.pi) ** 2 * potential.T @ charge)


def _panels(disc: Disc) -> Panels:
    outer, face, back = disc.radii_m[1], disc.face_m, disc.back_m
    inner = max(disc.radii_m[0], LEAST_HOLE * outer)
    corners = np.array([(inner, face), (outer, face), (outer, back), (inner, back)])
    counts = (FACE_PANELS, EDGE_PANELS, FACE_PANELS, EDGE_PANELS)
    ends = zip(corners, np.roll(corners, -1, axis=0), counts, strict=True)
    sides = [_side(start, end, count) for start, end, count in ends]
    return Panels(*np.concatenate(sides, axis=1))


def _side(start: Floats, end: Floats, count: int) -> Floats:
    """Middles and widths of the panels of one straight side, (3, count)."""
    share = (1 - np.cos(np.linspace(0, np.pi, count + 1))) / 2
    radius, height = start[:, None] + np.outer(end - start, (share[1:] + share[:-1]) / 2)
    return np.array([radius, height, np.hypot(*(end - start)) * np.diff(share)])


def _ring_to_ring(panels: list[Panels]) -> Floats:
    """Mean of 1/R between rings, (2 / pi) K(k) / sqrt((r + r')^2 + z^2), over its own width for a ring with itself."""
    radius, height, width = (
        np.concatenate([getattr(p, name) for p in panels]) for name in ("radius", "height", "width")
    )
    span = (radius[:, None] + radius) ** 2 + (height[:, None] - height) ** 2
    square = 4 * radius[:, None] * radius / span
    np.fill_diagonal(square, 0.0)
    mean = 2 / np.pi * ellipk(square) / np.sqrt(span)
    np.fill_diagonal(mean, (np.log(16 * radius / width) + 1) / (np.pi * radius))
    return np.asarray(mean)


def _potential(rings: Rings, panels: Panels) -> Floats:
    """Potential of rings of current at panels, up to a constant: minus the integral of H along the outline."""
    node, weight = np.polynomial.legendre.leggauss(BETWEEN)
    place = np.array([panels.radius, panels.height])
    step = np.diff(place, axis=1)
    radius, height = place[:, :-1, None] + step[:, :, None] * (node + 1) / 2
    field = ring_field(rings.radius[:, None, None], radius, height - rings.height[:, None, None])
    along = np.tensordot(rings.turns, field[0] * step[0, :, None] + field[1] * step[1, :, None], 1)
    return np.concatenate([[0.0], -np.cumsum(along @ weight / 2)])


def ring_field(ring: Floats, radius: Floats, above: Floats) -> tuple[Floats, Floats]:
    """H_r and H_z of a circle of unit current (W. R. Smythe, Static and Dynamic Electricity, ch. 7; from memory) [1/m].

    Parameters
    ----------
    ring, radius, above : radius of the circle, radius (above 0) and height over its plane of the point [m]
    """
    span = (ring + radius) ** 2 + above**2
    near = (ring - radius) ** 2 + above**2
    square = 4 * ring * radius / span
    first, second, scale = ellipk(square), ellipe(square), 2 * np.pi * np.sqrt(span)
    outward = above / (scale * radius) * ((ring**2 + radius**2 + above**2) / near * second - first)
    upward = ((ring**2 - radius**2 - above**2) / near * second + first) / scale
    return np.asarray(outward), np.asarray(upward)
