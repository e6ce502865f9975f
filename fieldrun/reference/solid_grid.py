"""Where the solid judge's nodes lie: lines over radius, angle and height between the edges of magnets and steel.

Half a pole of the machine, 0 <= theta <= pi / (2 p), is cut into cells of (r, theta, z), each of six tetrahedra.
Radii and planes of steel lie on lines; the outlines of magnets need not (`solid_outline` integrates over them).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Floats, frozen_array
from fieldrun.design.model import Magnets, Plate, Rotor, SteelCurve
from fieldrun.reference.solid_outline import outline_radii

CELLS_PER_HALF_POLE, CELLS_PER_THICKNESS = 8, 4
"""Cells over the half pole's angle, and over the thickness of magnets, steel and half the gap."""

CELLS_PER_LENGTH, MOST_CELLS_PER_LENGTH = 14, 24
"""Cells over the magnets' radial length: more than the first, if magnets are long for their thickness."""

FAR_EXPONENT = 4.5
"""The open ends lie where the field, in and out again, has fallen by exp(-2 FAR_EXPONENT)."""

GROWTH, OVERHANG_GROWTH = 1.5, 1.2
"""Each cell of the outer air, and of steel beside the magnets, is this much longer than the one before it."""

SAME = 1e-3
"""Lines closer together than this part of a cell are one line."""


@dataclass(frozen=True, eq=False)
class SolidGrid:
    """Lines of cells, and which cells are magnet layer or steel.

    Parameters
    ----------
    pole_pairs : p
    radii_m, angles_rad, heights_m : (i,), (j,), (k,) ascending lines; the last angle is the plane between poles
    magnet_layers : first and one past the last layer of cells of the magnets
    steels : curve, first and one past the last layer, first and one past the last ring of cells
    closed_below, closed_above : phi = 0 on the lowest, the highest plane
    """

    pole_pairs: int
    radii_m: Floats
    angles_rad: Floats
    heights_m: Floats
    magnet_layers: tuple[int, int]
    steels: tuple[tuple[SteelCurve, tuple[int, int], tuple[int, int]], ...]
    closed_below: bool
    closed_above: bool

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        for name in ("radii_m", "angles_rad", "heights_m"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def cells(self) -> tuple[int, int, int]:
        """Number of cells over r, theta and z."""
        return len(self.radii_m) - 1, len(self.angles_rad) - 1, len(self.heights_m) - 1

    @property
    def nodes(self) -> tuple[int, int, int]:
        """Number of nodes over r, theta and z: corners and midpoints of the cells' edges."""
        nr, nt, nz = self.cells
        return 2 * nr + 1, 2 * nt + 1, 2 * nz + 1


def with_midpoints(lines: Floats) -> Floats:
    """Lines (n,) and the middles between them, (2 n - 1,), in their unit: where second-order nodes lie."""
    out = np.empty(2 * len(lines) - 1)
    out[::2] = lines
    out[1::2] = (lines[:-1] + lines[1:]) / 2
    return out


def solid_grid(magnets: Magnets, rotor: Rotor, heights_m: Sequence[float], fineness: float) -> SolidGrid:
    """Cells of the machine, with the heights asked for on mesh planes.

    Parameters
    ----------
    magnets, rotor : the machine
    heights_m : planes in the gap, below mid-gap if there are two faces [m]
    fineness : 2 halves every cell
    """
    p = magnets.pole_pairs
    across = max(math.ceil(CELLS_PER_HALF_POLE * fineness), 4)  # twice as many nodes carry 8 harmonics
    radii = _radii(magnets, rotor, fineness)
    heights = _heights(magnets, rotor, heights_m, fineness)
    layer = {name: _interval(heights, *ends) for name, ends in _layers(magnets, rotor).items()}
    ring = _interval(radii, rotor.steel_inner_radius_m, rotor.steel_outer_radius_m)
    plates = {"backing": rotor.backing, "return_plate": rotor.return_plate}
    steels = tuple((plate.steel, layer[name], ring) for name, plate in plates.items() if plate and plate.steel)
    return SolidGrid(
        pole_pairs=p,
        radii_m=radii,
        angles_rad=np.linspace(0, math.pi / (2 * p), across + 1),
        heights_m=heights,
        magnet_layers=layer["magnets"],
        steels=steels,
        closed_below=_is_ideal(rotor.backing),
        closed_above=rotor.faces == 2 or _is_ideal(rotor.return_plate),
    )


def _is_ideal(plate: Plate | None) -> bool:
    return plate is not None and plate.steel is None


def _layers(magnets: Magnets, rotor: Rotor) -> dict[str, tuple[float, float]]:
    """Lowest and highest height of everything that is not air."""
    h = magnets.thickness_m
    layers = {"magnets": (-h, 0.0)}
    if rotor.backing is not None and rotor.backing.steel is not None:
        layers["backing"] = (-h - rotor.backing.thickness_m, -h)
    if rotor.return_plate is not None and rotor.return_plate.steel is not None and rotor.gap_m is not None:
        layers["return_plate"] = (rotor.gap_m, rotor.gap_m + rotor.return_plate.thickness_m)
    return layers


def _radii(magnets: Magnets, rotor: Rotor, fineness: float) -> Floats:
    """Even cells over the magnets, longer ones over steel that overhangs them, far longer ones in the air beyond."""
    inner, outer = outline_radii(magnets.outline)
    size = _cell_length(magnets, fineness)
    reach = math.exp(FAR_EXPONENT / magnets.pole_pairs)
    steel = _steel_edges(rotor, inner / reach)
    # lines of steel hold; a magnet's edge beside one gives way
    beside = {edge for edge in (inner, outer) if any(abs(edge - s) < size / 4 for s in steel)}
    within = {s for s in steel if inner - size / 4 < s < outer + size / 4}
    lines = _filled(sorted(within | ({inner, outer} - beside)), size)
    outward, inward = (
        sorted(s for s in steel if s > lines[-1]),
        sorted((s for s in steel if s < lines[0]), reverse=True),
    )
    below = _beyond(lines[0], inward, min(inward, default=lines[0]) / reach, size)
    above = _beyond(lines[-1], outward, max(outward, default=lines[-1]) * reach, size)
    return np.concatenate([below[::-1], lines, above])


def _cell_length(magnets: Magnets, fineness: float) -> float:
    """Radial length of cells over the magnets: thick and long magnets have ends that are short beside their length."""
    inner, outer = outline_radii(magnets.outline)
    wanted = min((outer - inner) / CELLS_PER_LENGTH, magnets.thickness_m / CELLS_PER_THICKNESS)
    return max(wanted, (outer - inner) / MOST_CELLS_PER_LENGTH) / fineness


def _steel_edges(rotor: Rotor, least: float) -> set[float]:
    """Radii of steel discs; a hole so small that no field reaches it is none."""
    if not rotor.real_steel:
        return set()
    return {edge for edge in (rotor.steel_inner_radius_m, rotor.steel_outer_radius_m) if edge > least}


def _beyond(start: float, stops: list[float], end: float, size: float) -> Floats:
    """Lines from next to `start` over all stops to the far end."""
    steps: list[Floats] = []
    for stop in stops:
        steps.append(_towards(start, stop, size, OVERHANG_GROWTH))
        size = abs(stop - (steps[-1][-2] if len(steps[-1]) > 1 else start))
        start = stop
    return np.concatenate([*steps, _towards(start, end, size, GROWTH)])


def _heights(magnets: Magnets, rotor: Rotor, heights_m: Sequence[float], fineness: float) -> Floats:
    layers = _layers(magnets, rotor)
    part = CELLS_PER_THICKNESS * fineness
    widest = 1.5 * _cell_length(magnets, fineness)
    pieces = [_filled(list(ends), min((ends[1] - ends[0]) / part, widest)) for ends in layers.values()]
    top = _top(rotor, heights_m)
    size = min(top, magnets.thickness_m) / part
    pieces.append(_filled(sorted({0.0, *heights_m, top}), min(size, widest)))
    lines = np.unique(np.concatenate(pieces))
    far = FAR_EXPONENT * outline_radii(magnets.outline)[1] / magnets.pole_pairs
    if not _is_ideal(rotor.backing):
        lines = np.concatenate([_towards(lines[0], lines[0] - far, lines[1] - lines[0], GROWTH)[::-1], lines])
    if rotor.faces == 1 and not _is_ideal(rotor.return_plate):
        lines = np.concatenate([lines, _towards(lines[-1], lines[-1] + far, lines[-1] - lines[-2], GROWTH)])
    return lines


def _top(rotor: Rotor, heights_m: Sequence[float]) -> float:
    """Where the finely divided gap ends: the middle between two faces, the plate, or the highest plane asked for."""
    if rotor.gap_m is None:
        return max(heights_m)
    return rotor.gap_m / 2 if rotor.faces == 2 else rotor.gap_m


def _filled(edges: list[float], size: float) -> Floats:
    """Lines through every edge, no farther apart than `size`; edges almost on another are left out."""
    kept = [edges[0]]
    kept += [edge for before, edge in pairwise(edges) if edge - before > SAME * size]
    parts = [np.linspace(a, b, max(1, math.ceil((b - a) / size - 1e-9)), endpoint=False) for a, b in pairwise(kept)]
    return np.concatenate([*parts, kept[-1:]])


def _towards(start: float, end: float, size: float, growth: float) -> Floats:
    """Lines from next to `start` to `end`, each step longer than the one before, the first about `size`."""
    length = abs(end - start)
    steps = max(1, math.ceil(math.log1p(length * (growth - 1) / (size * growth)) / math.log(growth)))
    grown = np.cumsum(growth ** np.arange(steps))
    return np.asarray(start + (end - start) * grown / grown[-1])


def _interval(lines: Floats, low: float, high: float) -> tuple[int, int]:
    return int(np.argmin(np.abs(lines - low))), int(np.argmin(np.abs(lines - high)))
