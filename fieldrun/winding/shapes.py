"""The named shapes: one turn of each, drawn as corners. A new shape is one small function and one row of `SHAPES`."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from fieldrun.design.model import Winding

Edge = Literal["leg", "radial", "arc"]
Side = Literal["out", "in", "end"]


@dataclass(frozen=True)
class Ring:
    """What a turn is drawn on: the winding's two radii [m] and the pole pitch tau = pi/p [rad]."""

    inner_m: float
    outer_m: float
    tau: float

    @property
    def mean_m(self) -> float:
        """Radius half way between the two."""
        return (self.inner_m + self.outer_m) / 2


@dataclass(frozen=True)
class Corner:
    """A point of a turn, and the edge that leads from it to the next corner.

    `side` says which side of the turn that edge belongs to: "out" and "in" sides go to the upper and the lower sheet of
    a crossed lay, "end" joins two sides at a tip. An edge of no length is left out.
    """

    radius_m: float
    theta: float
    edge: Edge
    side: Side


@dataclass(frozen=True)
class Shape:
    """How a shape is drawn.

    `closed`: the last edge returns to the first corner, one loop per pole pair; otherwise it leads on to the first
    corner of the next pole pair, and the loop closes after the whole ring.
    """

    draw: Callable[[Ring, Winding], tuple[Corner, ...]]
    closed: bool


def ring_of(winding: Winding, pole_pairs: int) -> Ring:
    """The ring that a named shape is drawn on.

    Raises
    ------
    ValueError
        If the winding has no radii (a path).
    """
    if winding.inner_radius_m is None or winding.outer_radius_m is None:
        raise ValueError(f'winding shape "{winding.shape}" has no radii')
    return Ring(winding.inner_radius_m, winding.outer_radius_m, math.pi / pole_pairs)


def serpentine(ring: Ring, winding: Winding) -> tuple[Corner, ...]:  # noqa: ARG001 - every shape has the same signature
    """Radial legs one pole pitch apart, joined by arcs."""
    r1, r2, tau = ring.inner_m, ring.outer_m, ring.tau
    return (
        Corner(r1, 0.0, "leg", "out"),
        Corner(r2, 0.0, "arc", "end"),
        Corner(r2, tau, "leg", "in"),
        Corner(r1, tau, "arc", "end"),
    )


def zigzag(ring: Ring, winding: Winding) -> tuple[Corner, ...]:
    """Slanted legs centred on the serpentine's; at span 1 they meet in tips, towards span 0 it is the serpentine."""
    r1, r2, tau = ring.inner_m, ring.outer_m, ring.tau
    h = winding.span * tau / 2
    return (
        Corner(r1, -h, "leg", "out"),
        Corner(r2, h, "arc", "end"),
        Corner(r2, tau - h, "leg", "in"),
        Corner(r1, tau + h, "arc", "end"),
    )


def rhomboid(ring: Ring, winding: Winding) -> tuple[Corner, ...]:
    """Closed turns whose two legs slant the same way, so that all of them lie in one sheet.

    They stand span tau apart, and each turns by skew tau on its way out.
    """
    r1, r2, middle = ring.inner_m, ring.outer_m, ring.tau / 2
    w, h = winding.span * ring.tau / 2, winding.skew * ring.tau / 2
    return (
        Corner(r1, middle - w - h, "leg", "out"),
        Corner(r2, middle - w + h, "arc", "end"),
        Corner(r2, middle + w + h, "leg", "in"),
        Corner(r1, middle + w - h, "arc", "end"),
    )


def diamond(ring: Ring, winding: Winding) -> tuple[Corner, ...]:
    """Closed turns with tips at both radii, widest half way: span tau."""
    r1, r2, rm, middle = ring.inner_m, ring.outer_m, ring.mean_m, ring.tau / 2
    w = winding.span * ring.tau / 2
    return (
        Corner(r1, middle, "leg", "out"),
        Corner(rm, middle - w, "leg", "out"),
        Corner(r2, middle, "leg", "in"),
        Corner(rm, middle + w, "leg", "in"),
    )


def hexagon(ring: Ring, winding: Winding) -> tuple[Corner, ...]:
    """A diamond with a radial stretch in the middle of each side, `straight_share` of the way from r1 to r2."""
    r1, r2, rm, middle = ring.inner_m, ring.outer_m, ring.mean_m, ring.tau / 2
    w, half = winding.span * ring.tau / 2, winding.straight_share * (ring.outer_m - ring.inner_m) / 2
    return (
        Corner(r1, middle, "leg", "out"),
        Corner(rm - half, middle - w, "radial", "out"),
        Corner(rm + half, middle - w, "leg", "out"),
        Corner(r2, middle, "leg", "in"),
        Corner(rm + half, middle + w, "radial", "in"),
        Corner(rm - half, middle + w, "leg", "in"),
    )


SHAPES = {
    "serpentine": Shape(serpentine, closed=False),
    "zigzag": Shape(zigzag, closed=False),
    "rhomboid": Shape(rhomboid, closed=True),
    "diamond": Shape(diamond, closed=True),
    "hexagon": Shape(hexagon, closed=True),
}
"""Every named shape. Whether its sides cross, so that a layer takes two sheets, is said in `design.stack`."""
