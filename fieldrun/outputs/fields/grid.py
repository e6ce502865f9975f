"""The field on a regular grid of radius, angle and height, and where it can be known."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.model import Rotor
from fieldrun.design.units import MM
from fieldrun.field.field_map import FieldMap, amplitudes_at
from fieldrun.field.outline import mean_radius_m
from fieldrun.generator.result import RunResult
from fieldrun.outputs.fields.asked import Places
from fieldrun.outputs.result_file import about
from fieldrun.outputs.sentences import plain

MOST_POINTS = 1_000_000
"""Points of a grid: about 100 MB of CSV."""

NEAR_SHARE = 1 / 8
"""Share of the gap (of the magnets' thickness or the pole pitch over an open face, whichever is less) next to a
magnet's face in which the sum of harmonics misses the sharp rise at the magnets' edges."""

HAIR_M = 1e-9
"""Heights this close to a face stand on it."""


@dataclass(frozen=True, eq=False)
class FieldGrid:
    """Flux density of a rotor at angle zero on a regular grid, and the harmonics it is the sum of.

    Parameters
    ----------
    radii_m, angles_rad, heights_m : (r,), (t,), (z,) ascending
    b_t : (3, r, t, z) B_r, B_theta, B_z [T]
    pole_pairs : p
    orders : (n,) odd
    harmonics_t : (3, n, r, z) complex b_n: B = Re sum of b_n exp(j n p theta) [T]
    about : version, design and its hash, mesh, error estimate
    notes : what a reader of the numbers must know
    """

    radii_m: Floats
    angles_rad: Floats
    heights_m: Floats
    b_t: Floats
    pole_pairs: int
    orders: Ints
    harmonics_t: Complexes
    about: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "angles_rad", "heights_m", "b_t"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))
        object.__setattr__(self, "orders", frozen_array(self.orders, np.int64))
        object.__setattr__(self, "harmonics_t", frozen_array(self.harmonics_t, np.complex128))

    @property
    def points(self) -> int:
        """How many there are."""
        return int(self.b_t[0].size)


def grid_of(result: RunResult, radii_m: ArrayLike, angles_rad: ArrayLike, heights_m: ArrayLike) -> FieldGrid:
    """The field of an answered design on a grid: what `result.field_at` says, point for point.

    Parameters
    ----------
    result : the answer
    radii_m, angles_rad, heights_m : (r,), (t,), (z,) ascending, or one number each; heights above the lower magnets'
        face, angles from a north pole's centre, counterclockwise seen from +z [m, rad, m]

    Raises
    ------
    DesignError
        If a place lies where the map has no answer, or the grid is too large: every such fault.
    """
    places = Places(np.asarray(radii_m, float), np.asarray(angles_rad, float), np.asarray(heights_m, float))
    if faults := grid_faults(result.field_map, result.design.rotor, places):
        raise DesignError(faults)
    field_map = result.field_map
    harmonics = _harmonics(field_map, places)
    wave = np.exp(1j * field_map.pole_pairs * np.outer(field_map.orders, places.angles_rad))
    return FieldGrid(
        radii_m=places.radii_m,
        angles_rad=places.angles_rad,
        heights_m=places.heights_m,
        b_t=np.einsum("cnrz,nt->crtz", harmonics, wave).real,
        pole_pairs=field_map.pole_pairs,
        orders=field_map.orders,
        harmonics_t=harmonics,
        about=tuple(about(result).items()),
        notes=tuple(_notes(result, places)),
    )


def _harmonics(field_map: FieldMap, places: Places) -> Complexes:
    """b_n over radii, one height after the other: (3, n, r, z)."""
    radii = places.radii_m
    rows = [amplitudes_at(field_map, radii, np.full(len(radii), height)) for height in places.heights_m]
    return np.stack(rows, axis=-1)


def grid_faults(field_map: FieldMap, rotor: Rotor, places: Places) -> list[Fault]:
    """What is wrong with a grid: where the map has no answer, and too many points."""
    radii, heights = places.radii_m, places.heights_m
    low, high = float(field_map.radii_m[0]), float(field_map.radii_m[-1])
    beyond = [r for r in radii if not low <= r <= high]
    faults = []
    if beyond:
        faults.append(
            Fault(
                "--radii",
                f"the map reaches from {plain(low / MM)} to {plain(high / MM, 'mm')}, beyond which next to nothing of "
                f"the field is left; received {_told(beyond)}",
            )
        )
    faults += _height_faults(rotor, heights)
    points = len(radii) * len(places.angles_rad) * len(heights)
    if points > MOST_POINTS:
        size = f"{len(radii)} radii x {len(places.angles_rad)} angles x {len(heights)} heights"
        text = f"{size} are {points} points; at most {MOST_POINTS} go into one grid; try fewer, or several grids"
        faults.append(Fault("--radii, --angles, --heights", text))
    return faults


def _height_faults(rotor: Rotor, heights: Floats) -> Iterator[Fault]:
    below = [z for z in heights if z < -HAIR_M]
    if below:
        yield Fault("--heights", f"below 0 lie the magnets, which the map leaves out; received {_told(below)}")
    if rotor.gap_m is None:
        return
    above = [z for z in heights if z > rotor.gap_m + HAIR_M]
    if above:
        what = "lie the upper magnets" if rotor.faces == 2 else "lies the return plate"
        text = f"above the gap of {plain(rotor.gap_m / MM, 'mm')} {what}, which the map leaves out"
        yield Fault("--heights", f"{text}; received {_told(above)}")


def _told(places_m: list[float]) -> str:
    shown = ", ".join(plain(place / MM) for place in places_m[:3])
    return f"{shown}{', ...' if len(places_m) > 3 else ''} mm"


def near_face_m(result: RunResult) -> float:
    """Distance from a magnet's face within which the sharp rise at the magnets' edges is missed [m]."""
    magnets, rotor = result.design.magnets, result.design.rotor
    pitch = math.pi * mean_radius_m(magnets) / magnets.pole_pairs
    return NEAR_SHARE * (min(magnets.thickness_m, pitch) if rotor.gap_m is None else rotor.gap_m)


def _notes(result: RunResult, places: Places) -> Iterator[str]:
    near, rotor = near_face_m(result), result.design.rotor
    distance = places.heights_m
    if rotor.faces == 2 and rotor.gap_m is not None:
        distance = np.minimum(distance, rotor.gap_m - distance)
    close = [float(z) for z in places.heights_m[distance < near * (1 - 1e-9)]]
    if close:
        yield (
            f"{_told(close)} above the lower magnets is nearer than {plain(near / MM, 'mm')} to a magnet's face: there "
            "the sum of harmonics misses the sharp rise at the magnets' edges"
        )
    top = float(result.field_map.heights_m[-1])
    if rotor.gap_m is None and places.heights_m[-1] > top:
        yield f"above {plain(top / MM, 'mm')} each harmonic is carried on as it falls off over a plane"
