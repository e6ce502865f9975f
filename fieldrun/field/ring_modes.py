"""Rings of air by modes: what an even layer of the machine does to each mode is a number.

Matrices over radius and height are products of the two axes, K x mass + M x stiffness. Modes of the radius, K v = l M v
with v' M v = 1, take the two apart: what is left for each harmonic and mode is one chain of elements over the height.
Arrays over modes are padded to one length; the padding is zero in every sum. Potentials [A], loads [A m].
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import scipy.linalg

from fieldrun.design.arrays import Floats, Ints, frozen_array
from fieldrun.design.errors import SolveError
from fieldrun.field.axis import axis_of, mass, stiffness
from fieldrun.field.banded import TOO_THIN
from fieldrun.field.ring_mesh import GAUSS
from fieldrun.field.ring_system import RingSystem, in_air

KEPT = 128
"""Harmonics whose modes are remembered: machines that differ in gap and thickness have the same."""

_Solved = tuple[Floats, Floats]
"""Eigenvalues and vectors."""


@dataclass(frozen=True, eq=False)
class Modes:
    """Modes of one axis for each harmonic, among the nodes at which the harmonic is free.

    Parameters
    ----------
    shapes : (n, nodes, k) in columns, normed by the axis's mass: over the radius [1/m], over the height [m^-1/2]; zero
        where a harmonic is not free
    values : (n, k) ratio of K to M over the radius, of stiffness to mass over the height [1/m^2]; 1 in the padding
    """

    shapes: Floats
    values: Floats

    def __post_init__(self) -> None:
        """Lock the arrays."""
        for name in ("shapes", "values"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))


def radial_modes(system: RingSystem) -> Modes:
    """Modes over the radius of a machine filled with air.

    Raises
    ------
    SolveError
        If elements are so thin that rounding eats them.
    """
    lines = system.mesh.radial.vertices_m.tobytes()
    parts = [radial for radial, _ in system.free]
    solved = [
        _radial_modes(lines, int(wave), part.start, part.stop) for wave, part in zip(system.waves, parts, strict=True)
    ]
    return _padded(solved, parts, system.mesh.radial.count)


@lru_cache(maxsize=KEPT)
def _radial_modes(lines: bytes, wave: int, start: int, stop: int) -> _Solved:
    air = in_air(axis_of(np.frombuffer(lines), GAUSS), np.array([wave]))
    side = air.slopes + air.turns[0]
    return _solved(side[start:stop, start:stop], air.values[start:stop, start:stop])


def lower_modes(system: RingSystem) -> Modes:
    """Modes over the height of all that lies under the magnets' face, where the face is left free.

    Raises
    ------
    SolveError
        As `radial_modes`.
    """
    lower = axis_of(system.mesh.axial.vertices_m[: system.mesh.gap.first + 1], GAUSS)
    stiff, massy = stiffness(lower), mass(lower)
    parts = [slice(axial.start, lower.count) for _, axial in system.free]
    different = {part.start: _solved(stiff[part, part], massy[part, part]) for part in parts}
    return _padded([different[part.start] for part in parts], parts, lower.count)


def _solved(side: Floats, massy: Floats) -> _Solved:
    try:
        values, shapes = scipy.linalg.eigh(side, massy, check_finite=False)
    except np.linalg.LinAlgError as error:
        raise SolveError(TOO_THIN) from error
    return frozen_array(values), frozen_array(shapes)


def _padded(solved: Sequence[_Solved], parts: Sequence[slice], nodes: int) -> Modes:
    count = max((len(own) for own, _ in solved), default=0)
    shapes, values = np.zeros((len(parts), nodes, count)), np.ones((len(parts), count))
    for n, ((own, vectors), part) in enumerate(zip(solved, parts, strict=True)):
        values[n, : len(own)], shapes[n, part, : len(own)] = own, vectors
    return Modes(shapes, values)


@dataclass(frozen=True, eq=False)
class AirInverse:
    """The inverse of rings filled with air, for some harmonics.

    Parameters
    ----------
    which : (m,) the harmonics, counted from the system's first
    radial, axial : modes over all nodes of both axes
    replies : (m, k, l) what a mode of both answers a load of one: one over the sum of their eigenvalues [m^2]
    """

    which: Ints
    radial: Modes
    axial: Modes
    replies: Floats


def air_inverse(system: RingSystem, which: Ints) -> AirInverse:
    """Modes of harmonics (m,), counted from the system's first, that see no steel, each among its free nodes.

    Raises
    ------
    SolveError
        As `radial_modes`.
    """
    some = replace(system, waves=system.waves[which], free=tuple(system.free[n] for n in which))
    stiff, massy = system.air_axial
    parts = [axial for _, axial in some.free]
    ranges = {(part.start, part.stop): part for part in parts}
    solved = {ends: _solved(stiff[part, part], massy[part, part]) for ends, part in ranges.items()}
    axial = _padded([solved[part.start, part.stop] for part in parts], parts, system.mesh.axial.count)
    radial = radial_modes(some)
    return AirInverse(which, radial, axial, 1 / (radial.values[:, :, None] + axial.values[:, None, :]))


def in_air_alone(inverse: AirInverse, load: Floats) -> Floats:
    """Potentials (m, r, z) [A] of loads (m, r, z) [A m] on its harmonics if there were nothing but air, zero where they
    are not free.
    """
    radial, axial = inverse.radial.shapes, inverse.axial.shapes
    amplitudes = radial.swapaxes(1, 2) @ load @ axial
    return np.asarray(radial @ (amplitudes * inverse.replies) @ axial.swapaxes(1, 2))


@dataclass(frozen=True, eq=False)
class Column:
    """The air over the magnets' face, for every harmonic and mode over the radius.

    Parameters
    ----------
    pull : (n, k) what the column adds at the face to the mode's equation [1/m]
    profile : (n, k, z) potential at the column's nodes for one at the face [1]
    """

    pull: Floats
    profile: Floats


def column(lengths_m: Floats, ends: Ints, modes: Modes) -> Column:
    """Solve the air over the face mode by mode, from the top down.

    A mode with eigenvalue l obeys f'' = l f over the height: second-order elements in a chain, whose matrices are
    stiffness + l mass, are eliminated one after the other (Gauss).

    Parameters
    ----------
    lengths_m : (e,) elements from the face up [m]
    ends : (n,) the element at whose foot each harmonic is held at zero, counted from the face
    modes : over the radius
    """
    # elements in front: each one's numbers lie side by side
    massy, stiff = modes.values * lengths_m[:, None, None] / 30, 1 / (3 * lengths_m[:, None, None])
    # the middle node of an element follows from its ends
    middle, beside = 16 * (massy + stiff), 2 * massy - 8 * stiff
    follows = beside / middle
    own, across = 4 * massy + 7 * stiff - beside * follows, stiff - massy - beside * follows
    count = len(lengths_m)
    pull, profile = np.zeros(modes.values.shape), np.empty((2 * count + 1, *modes.values.shape))
    shares = np.empty_like(own)
    for e in range(count - 1, -1, -1):
        np.divide(-across[e], own[e] + pull, out=shares[e])
        shares[e, ends <= e + 1] = 0.0
        pull = own[e] + across[e] * shares[e]
    profile[0] = 1.0
    np.cumprod(shares, axis=0, out=profile[2::2])
    np.multiply(-follows, profile[:-1:2] + profile[2::2], out=profile[1::2])
    profile[1::2] *= (ends > np.arange(count)[:, None])[:, :, None]
    return Column(pull, np.moveaxis(profile, 0, 2))
