"""The rectangle of radius and height in which rings are solved: where magnets and steel lie, and how fine the mesh is.

Only the lower half of a machine with two faces is meshed: the potential is zero on the middle of the gap. It is zero
on ideal plates too, on the axis, and far away, where next to nothing of the field is left.
"""

import math
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from fieldrun.design.arrays import Floats, Ints
from fieldrun.design.model import Magnets, Plate, Rotor, SteelCurve
from fieldrun.field.axis import Axis, axis_of, graded
from fieldrun.field.outline import mean_radius_m, radial_breaks_m

GAUSS = 5
"""Gauss points per element: sources that end like a square root want more than the three that polynomials need."""

STEEL_GAUSS = 3
"""Gauss points per element in saturating steel."""

LEFT_FAR_AWAY = 1e-6
"""Share of a harmonic's field that a side of zero potential may throw back."""

FAR_SIDE_RADII = 9.0
"""Height of the air beyond the last material, in mean radii per pole pair: exp(-9), squared by the way back."""


HAIR = 0.05
"""Share of an element at a magnet's edge that is no distance: lengths in round millimetres miss by their rounding."""

EDGE_THICKNESSES, EDGE_PITCHES, WITHIN_PITCHES = 20.0, 2.0, 1.5
"""Thin magnets and those that are long for their pitch are meshed by so many thicknesses or pitches, not by length."""

FACE_PITCHES = 1 / 3
"""Magnets thicker than this share of a pole pitch have at their face the elements of thinner ones: gaps are thin."""


@dataclass(frozen=True)
class RingDensity:
    """How fine the mesh is.

    Parameters
    ----------
    edge : element size at a magnet's edge, as a share of its length along that axis
    within : largest element over the magnets' radial length, as a share of it
    air, gap : largest element inside and outside the magnets' ring and over the gap's height, in pole pitches
    growth : how fast elements grow with the distance from an edge
    gap_growth : the same over the height of the gap
    plate : elements through a steel plate
    """

    edge: float = 0.015
    within: float = 0.08
    air: float = 0.4
    gap: float = 0.15
    growth: float = 0.6
    gap_growth: float = 0.3
    plate: int = 3

    def coarser(self, factor: float) -> "RingDensity":
        """The same mesh with elements this many times as large."""
        return RingDensity(
            self.edge * factor,
            self.within * factor,
            self.air * factor,
            self.gap * factor,
            self.growth * factor,
            self.gap_growth * factor,
            max(1, round(self.plate / factor)),
        )


@dataclass(frozen=True)
class Span:
    """Consecutive elements of an axis: the first, and one past the last."""

    first: int
    end: int

    @property
    def nodes(self) -> slice:
        """Their nodes."""
        return slice(2 * self.first, 2 * self.end + 1)


@dataclass(frozen=True)
class SteelPart:
    """A steel disc in the mesh."""

    name: str
    curve: SteelCurve
    thickness_m: float
    radial: Span
    axial: Span


@dataclass(frozen=True, eq=False)
class RingMesh:
    """Two axes and what lies where.

    Parameters
    ----------
    radial, axial : elements along r and z
    magnet_radial, magnet_axial : where the lower magnets are
    steels : plates with a curve of their own
    gap : elements of the air between the lower magnets and the plate, the middle of the gap, or the open air's end
    core_m : innermost and outermost radius, lowest and highest height of magnets and steel
    """

    radial: Axis
    axial: Axis
    magnet_radial: Span
    magnet_axial: Span
    steels: tuple[SteelPart, ...]
    gap: Span
    core_m: tuple[float, float, float, float]


def axis_of_span(axis: Axis, span: Span, gauss: int = GAUSS) -> Axis:
    """Elements of an axis as an axis of their own."""
    return axis_of(axis.vertices_m[span.first : span.end + 1], gauss)


def ring_mesh(magnets: Magnets, rotor: Rotor, density: RingDensity) -> RingMesh:
    """Mesh a machine for rings."""
    radial_lines, magnet_radial, steel_radial = _radial(magnets, rotor, density)
    layers = _layers(magnets, rotor, density)
    axial_lines, spans = [layers[0].low_m], {}
    for layer in layers:
        first = len(axial_lines) - 1
        axial_lines.extend(layer.vertices_m[1:])
        spans[layer.name] = Span(first, len(axial_lines) - 1)
    steels = tuple(
        SteelPart(layer.name, layer.plate.steel, layer.plate.thickness_m, steel_radial, spans[layer.name])
        for layer in layers
        if layer.plate is not None and layer.plate.steel is not None
    )
    radial, axial = (axis_of(np.array(lines), GAUSS) for lines in (radial_lines, axial_lines))
    solid = [(magnet_radial, spans["magnets"]), *((steel.radial, steel.axial) for steel in steels)]
    core = (
        *_extent(radial, [across for across, _ in solid]),
        *_extent(axial, [along for _, along in solid]),
    )
    return RingMesh(radial, axial, magnet_radial, spans["magnets"], steels, spans["gap"], core)


def _extent(axis: Axis, spans: list[Span]) -> tuple[float, float]:
    lines = axis.vertices_m
    return float(lines[min(span.first for span in spans)]), float(lines[max(span.end for span in spans)])


def reach(mesh: RingMesh, wave: int) -> tuple[slice, slice]:
    """Nodes at which the harmonic with n p = `wave` is solved, along radius and height: beyond them it has died out."""
    inner, outer, low, high = mesh.core_m
    fade = LEFT_FAR_AWAY ** (-1 / (2 * wave))
    far = _far(mesh, wave)
    return _between(mesh.radial, inner / fade, outer * fade), _between(mesh.axial, low - far, high + far)


def elements_over_face(mesh: RingMesh, waves: Ints, lines_m: Floats) -> Ints:
    """Elements (n,) over the magnets' face in which each harmonic is solved, of those between lines (l,) [m] that start
    at the face.

    What `reach` says for these lines in the mesh, if no steel is above them.
    """
    highest = mesh.core_m[3] + np.array([_far(mesh, int(wave)) for wave in waves])
    return np.minimum(len(lines_m) - 1, np.searchsorted(lines_m, highest, side="left"))


def _far(mesh: RingMesh, wave: int) -> float:
    inner, outer = mesh.core_m[:2]
    return FAR_SIDE_RADII * (inner + outer) / 2 / wave


def _between(axis: Axis, low: float, high: float) -> slice:
    """Nodes inside the shortest run of elements that covers low to high; the run's two ends are held at zero."""
    lines = axis.vertices_m
    first = max(0, int(np.searchsorted(lines, low, side="right")) - 1)
    end = min(len(lines) - 1, int(np.searchsorted(lines, high, side="left")))
    return slice(2 * first + 1, 2 * end)


def _radial(magnets: Magnets, rotor: Rotor, density: RingDensity) -> tuple[list[float], Span, Span]:
    breaks = radial_breaks_m(magnets)
    inner, outer = breaks[0], breaks[-1]
    length, pitch = outer - inner, math.pi / magnets.pole_pairs  # the pole pitch per radius
    edge = density.edge * min(length, EDGE_THICKNESSES * magnets.thickness_m, EDGE_PITCHES * pitch * inner)
    within = density.within * min(length, WITHIN_PITCHES * pitch * (inner + outer) / 2)
    sizes = dict.fromkeys(breaks, edge)
    far = LEFT_FAR_AWAY ** (-1 / (2 * magnets.pole_pairs))
    plates = rotor.real_steel
    rims = _rims(rotor, breaks, inner / far, edge) if plates else (inner, outer)
    if plates:
        rim = 2 * min(plate.thickness_m for plate in plates) / density.plate
        for radius in rims:
            sizes.setdefault(radius, min(rim, 2 * within))
    sizes.setdefault(min(*sizes, inner / far), math.inf)
    sizes.setdefault(max(sizes) * far, math.inf)
    lines = [min(sizes)]
    for start, end in pairwise(sorted(sizes)):
        largest = partial(np.multiply, density.air * pitch) if start >= outer or start < inner else within
        lines.extend(graded(start, end, (sizes[start], sizes[end]), density.growth, largest)[1:])
    span, steel = (Span(lines.index(first), lines.index(last)) for first, last in ((inner, outer), rims))
    return lines, span, steel


def _rims(rotor: Rotor, breaks: tuple[float, ...], innermost_m: float, edge_m: float) -> tuple[float, float]:
    """Radii of the steel's rims; one that all but meets a magnet's end meets it; a hole too small to matter is none."""

    def met(radius: float) -> float:
        nearest = min(breaks, key=lambda one: abs(one - radius))
        return nearest if abs(nearest - radius) < HAIR * edge_m else radius

    return met(max(rotor.steel_inner_radius_m, innermost_m)), met(rotor.steel_outer_radius_m)


@dataclass(frozen=True, eq=False)
class _Layer:
    """One layer of the machine: its lines (l,) [m] from bottom to top; `plate` where it is steel."""

    name: str
    vertices_m: Floats
    plate: Plate | None = None

    @property
    def low_m(self) -> float:
        return float(self.vertices_m[0])


def _layers(magnets: Magnets, rotor: Rotor, density: RingDensity) -> list[_Layer]:
    h, growth = magnets.thickness_m, density.growth
    pitch = math.pi * mean_radius_m(magnets) / magnets.pole_pairs
    far = FAR_SIDE_RADII * mean_radius_m(magnets) / magnets.pole_pairs
    size = 4 * density.edge * min(h, pitch)
    lines = gap_lines(magnets, rotor, density)
    top = float(lines[-1])
    back = rotor.backing
    below = [] if back is not None and back.steel is None else _behind(back, -h, -far, size, density)
    # the gap, which one machine of a sweep changes against the next, leaves the mesh below it alone
    body = _Layer("magnets", graded(-h, 0.0, (size, min(size, 4 * density.edge * FACE_PITCHES * pitch)), growth))
    gap = _Layer("gap", lines)
    over = rotor.return_plate
    beyond = [] if over is None or over.steel is None else _behind(over, top, far, math.inf, density)
    return [*reversed([_turned(layer) for layer in below]), body, gap, *beyond]


def gap_lines(magnets: Magnets, rotor: Rotor, density: RingDensity) -> Floats:
    """Lines (l,) of the mesh over the magnets' face [m]: all that changes with the gap, where no steel is above it.

    Fine up to a pole pitch, where a winding may lie, and coarser above if the gap goes on. They end at the middle
    between two faces, at the plate, or over an open face where exp(-`FAR_SIDE_RADII`) of the fundamental is left.
    """
    pitch = math.pi * mean_radius_m(magnets) / magnets.pole_pairs
    far = FAR_SIDE_RADII * mean_radius_m(magnets) / magnets.pole_pairs
    top = {2: (rotor.gap_m or 0) / 2, 1: rotor.gap_m or far}[rotor.faces]
    above = pitch / 4 if rotor.gap_m is None else top
    size = 4 * density.edge * min(magnets.thickness_m, pitch, above)
    near = min(top, pitch)
    lines = graded(0.0, near, (size, math.inf), density.gap_growth, density.gap * pitch)
    if top <= near:
        return lines
    beyond = graded(near, top, (float(lines[-1] - lines[-2]), math.inf), density.growth)
    return np.concatenate([lines, beyond[1:]])


def _turned(layer: _Layer) -> _Layer:
    return replace(layer, vertices_m=layer.vertices_m[::-1])


def _behind(plate: Plate | None, face: float, far: float, size: float, density: RingDensity) -> list[_Layer]:
    """Steel (if any) and air beyond a face, outwards."""
    name = "backing" if far < 0 else "return plate"
    if plate is None:
        return [_Layer(f"air behind {name}", _outward(face, far, size, density.growth))]
    back = face + math.copysign(plate.thickness_m, far)
    steel = _Layer(name, np.linspace(face, back, density.plate + 1), plate)
    return [steel, _Layer(f"air behind {name}", _outward(back, far, plate.thickness_m, density.growth))]


def _outward(face: float, distance: float, size: float, growth: float) -> Floats:
    return face + math.copysign(1, distance) * graded(0, abs(distance), (size, math.inf), growth)
