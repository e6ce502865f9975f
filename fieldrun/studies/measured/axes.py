"""What one length or one strength does to the EMF: a few fields, and smooth curves through them.

Gap: fields at five Chebyshev points within a fifth of the drawn one, every harmonic's ratio a polynomial of degree four
through them. Remanence: a power of it through two fields a tenth either way, 1 but for steel that saturates. A machine
of one open face has no gap: there it is the height of the winding's middle above the magnets.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, frozen_array
from fieldrun.design.errors import FieldrunError
from fieldrun.field.field_map import FieldMap
from fieldrun.field.solve import field_of, rotor_fields
from fieldrun.generator.machine import middle_height_m
from fieldrun.studies.deviations import Built, with_gap, with_remanence
from fieldrun.studies.measured.guess import Parts, aligned

POINTS, REACH = 5, 0.2
"""Fields over the gap, and how far from the drawn one they reach, as a share of it."""

STRONGER = 0.1
"""Shares of the remanence, more and less, at which the field is solved."""

FREE_ABOVE_M = 0.05e-3
"""Left between magnets and copper in the narrowest gap that is solved."""

NOTHING = 1e-16
"""Harmonics with less than this part of the power are rounding."""

Tell = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Axis:
    """One thing that may be other than drawn, and what the EMF does with it.

    Parameters
    ----------
    drawn : its value in the design [m] or [T]
    nodes : (k,) ascending values [m] or [T]
    factors : (k, n) EMF of every harmonic over that as drawn [1]
    maps : the fields at the nodes; none where a power stands for them
    """

    drawn: float
    nodes: Floats
    factors: Complexes
    maps: tuple[FieldMap, ...] = ()

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "nodes", frozen_array(self.nodes))
        object.__setattr__(self, "factors", frozen_array(self.factors, np.complex128))

    def at(self, values: Floats, value: float | Floats) -> Floats:
        """The polynomial through values at the nodes, (k, ...), at values (v) of the axis: (v, ...), in their unit."""
        return np.asarray(np.tensordot(lagrange(self.nodes, value), values, axes=1))

    def factor_at(self, value: float | Floats) -> Complexes:
        """EMF of every harmonic over that as drawn, at values (v) of the axis, (v, n) [1]; (n,) at a single one."""
        return np.asarray(np.tensordot(lagrange(self.nodes, value), self.factors, axes=1))


def lagrange(nodes: Floats, value: float | Floats) -> Floats:
    """Lagrange's weights of the values at nodes (k,) in their polynomial's value at places (...), (..., k) [1]."""
    itself = np.eye(len(nodes), dtype=bool)
    top = np.where(itself, 1.0, (np.asarray(value)[..., None] - nodes)[..., None, :])
    return np.asarray(np.prod(top / np.where(itself, 1.0, nodes[:, None] - nodes), axis=-1))


def gap_axis(parts: Parts, highest_m: float = 0.0, tell: Tell = lambda _: None) -> Axis:
    """Solve the machine in five gaps, the winding as drawn.

    Parameters
    ----------
    parts : the machine, taken apart
    highest_m : no gap is narrower than that: a scan reaches so high
    tell : told once, before the fields are solved together

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    design = parts.result.design
    drawn = _length_m(parts)
    low = max((1 - REACH) * drawn, _least_m(parts), highest_m if design.rotor.gap_m is not None else 0.0)
    nodes = _chebyshev(min(low, drawn), (1 + REACH) * drawn)
    built = [with_gap(design, node - drawn) for node in nodes]
    tell(f"gaps from {1000 * nodes[0]:.3g} to {1000 * nodes[-1]:.3g} mm")
    maps = _maps(built)
    ratio = np.array([_ratio(parts, field_map, one) for field_map, one in zip(maps, built, strict=True)])
    as_it_is = np.tensordot(lagrange(nodes, drawn), ratio, axes=1)
    return Axis(drawn, nodes, ratio / _not_zero(as_it_is), tuple(maps))


def remanence_axis(parts: Parts, tell: Tell = lambda _: None) -> Axis:
    """Solve the machine with weaker and stronger magnets.

    Raises
    ------
    SolveError
        If the steel's flux does not converge.
    """
    drawn = parts.result.design.magnets.remanence_t
    ends = []
    for share in (-STRONGER, STRONGER):
        tell(f"magnets {abs(100 * share):g} % {'weaker' if share < 0 else 'stronger'}")
        built = with_remanence(parts.result.design, share)
        ends.append(_ratio(parts, field_of(built.magnets, built.rotor), built)[0].real)
    power = np.log(ends[1] / ends[0]) / np.log((1 + STRONGER) / (1 - STRONGER))
    nodes = _chebyshev((1 - REACH) * drawn, (1 + REACH) * drawn)
    factors = ((nodes / drawn) ** power)[:, None] * np.ones(len(parts.result.emf.orders))
    return Axis(drawn, nodes, factors)


def _maps(built: list[Built]) -> list[FieldMap]:
    """Their fields, solved together; over one open face all have the same one."""
    machines = dict.fromkeys((one.magnets, one.rotor) for one in built)
    found = {}
    for machine, field in zip(machines, rotor_fields(list(machines)), strict=True):
        if isinstance(field, FieldrunError):
            raise field
        found[machine] = field.field_map
    return [found[one.magnets, one.rotor] for one in built]


def _chebyshev(low: float, high: float) -> Floats:
    """Nodes with both ends among them."""
    return np.asarray((low + high) / 2 - (high - low) / 2 * np.cos(np.pi * np.arange(POINTS) / (POINTS - 1)))


def _length_m(parts: Parts) -> float:
    gap = parts.result.design.rotor.gap_m
    return middle_height_m(parts.result.lay) if gap is None else gap


def _least_m(parts: Parts) -> float:
    """The gap that touches the copper on both sides, or the height at which it touches the magnets."""
    design, wire = parts.result.design, parts.result.design.wire.overall_diameter_m
    heights = np.concatenate([parts.result.paths.start[:, 2], parts.result.paths.end[:, 2]])
    low, high = float(heights.min()) - wire / 2, float(heights.max()) + wire / 2
    if design.rotor.gap_m is None:
        return _length_m(parts) - low + FREE_ABOVE_M
    if design.rotor.faces == 1:
        return high + FREE_ABOVE_M
    return design.rotor.gap_m - 2 * min(low, design.rotor.gap_m - high) + FREE_ABOVE_M


def _ratio(parts: Parts, field_map: FieldMap, built: Built) -> Complexes:
    """EMF of every harmonic over that as drawn, (n,), round by round so that no belt cancels it; 1 without any."""
    found = aligned(field_map, parts, built.lift_m)
    size = np.sum(np.abs(parts.harmonics) ** 2, axis=0)
    there = size > (NOTHING * np.max(size))
    along = np.sum(found * np.conj(parts.harmonics), axis=0)
    return np.where(there, along / np.where(there, size, 1.0), 1.0)


def _not_zero(values: Complexes) -> Complexes:
    return np.where(values == 0, 1.0, values)
